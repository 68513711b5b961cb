package export

// Schema is a Frictionless Table Schema of one table.
type Schema struct {
	Name          string       `json:"name"`
	Description   string       `json:"description"`
	Fields        []Field      `json:"fields"`
	MissingValues []string     `json:"missingValues"`
	PrimaryKey    []string     `json:"primaryKey,omitempty"`
	ForeignKeys   []ForeignKey `json:"foreignKeys,omitempty"`
}

// Field is one column of a Schema.
type Field struct {
	Name        string       `json:"name"`
	Type        string       `json:"type"`
	Description string       `json:"description"`
	Unit        string       `json:"unit,omitempty"`
	Constraints *Constraints `json:"constraints,omitempty"`
}

// Constraints are what a cell of a Field must keep to.
type Constraints struct {
	Required bool     `json:"required,omitempty"`
	Minimum  *float64 `json:"minimum,omitempty"`
	Maximum  *float64 `json:"maximum,omitempty"`
	Enum     []string `json:"enum,omitempty"`
	Pattern  string   `json:"pattern,omitempty"`
}

// ForeignKey says which table a column's keys are of.
type ForeignKey struct {
	Fields    []string  `json:"fields"`
	Reference Reference `json:"reference"`
}

// Reference is the far end of a ForeignKey.
type Reference struct {
	Resource string   `json:"resource"`
	Fields   []string `json:"fields"`
}

// Schemas returns the Table Schema of every export table. A table whose key may
// be empty states no primary key, since the standard allows none there.
func Schemas() []Schema {
	var out []Schema
	for _, t := range Tables() {
		s := Schema{Name: t.Name, Description: t.About, MissingValues: []string{""}}
		if len(t.FallbackKey) == 0 && t.keyIsRequired() {
			s.PrimaryKey = t.Key
		}
		for _, c := range t.Columns {
			s.Fields = append(s.Fields, c.field())
		}
		s.Fields = append(s.Fields, Field{
			Name: RowState, Type: "string", Description: "Whether the row stands or is withdrawn; empty means current.",
			Constraints: &Constraints{Enum: []string{Current, Withdrawn}},
		})
		for _, p := range t.Parents {
			s.ForeignKeys = append(s.ForeignKeys, ForeignKey{
				Fields: []string{p.Column}, Reference: Reference{Resource: p.Table, Fields: []string{p.Column}},
			})
		}
		out = append(out, s)
	}
	return out
}

func (t Table) keyIsRequired() bool {
	for _, name := range t.Key {
		if c, ok := t.Column(name); !ok || !c.Required {
			return false
		}
	}
	return true
}

func (c Column) field() Field {
	f := Field{Name: c.Name, Description: c.About, Unit: c.Unit, Type: "string"}
	constraints := Constraints{Required: c.Required, Enum: c.Codes}
	switch c.Type {
	case Integer:
		f.Type = "integer"
	case Decimal:
		f.Type = "number"
	case Date:
		f.Type = "date"
	case Boolean:
		f.Type = "boolean"
	case Text, Key, Code, CodeSet:
	case Reps:
		constraints.Pattern = `[0-9]+(/[0-9]+)*`
	}
	if c.Reject != nil {
		constraints.Minimum, constraints.Maximum = &c.Reject.Low, &c.Reject.High
	}
	if constraints.Required || constraints.Enum != nil || constraints.Minimum != nil || constraints.Pattern != "" {
		f.Constraints = &constraints
	}
	return f
}
