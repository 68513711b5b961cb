// Package export defines the eight tables that a site may send, once: columns,
// types, keys, codes and ranges. The row checks, the landing tables, the
// documentation and the published schema are all made from it.
package export

import "strings"

// Type says how the text of a cell is read.
type Type int

// The types of cells. Dates are ISO 8601; decimals use a point.
const (
	Text    Type = iota // any text up to MaxText bytes
	Key                 // a pseudonym: no blanks around it, at most MaxKey bytes
	Code                // one of Column.Codes, or a row of the code table Column.From
	CodeSet             // several codes, separated by semicolons
	Integer             // whole number
	Decimal             // number with at most Scale decimals
	Date                // calendar date
	Boolean             // true or false
	Reps                // repetitions by set, such as 30/15/15/15
)

// Limits of text cells, in bytes, and the decimals kept of a number.
const (
	MaxKey  = 64
	MaxText = 200
	Scale   = 4
)

// SQL returns the DuckDB type in which a landing table keeps cells of type t.
// Decimals are kept exactly, so that sums do not depend on the order of rows.
func (t Type) SQL() string {
	switch t {
	case Integer:
		return "integer"
	case Decimal:
		return "decimal(14,4)"
	case Date:
		return "date"
	case Boolean:
		return "boolean"
	default:
		return "varchar"
	}
}

// String names the type as the documentation prints it.
func (t Type) String() string {
	return [...]string{"text", "key", "code", "codes", "integer", "decimal", "date", "boolean", "repetitions by set"}[t]
}

// Column is one column of an export table.
type Column struct {
	Name     string
	Type     Type
	Required bool
	Codes    []string // the codes allowed, where the list is fixed
	From     string   // the code table of seeds/reference, where the list is kept there
	Unit     string   // UCUM, where the column has a fixed unit
	Warn     *Range   // outside: the row is kept, with a finding
	Reject   *Range   // outside: only a typing, unit or column error can explain it
	Ahead    bool     // a date that may lie after the day on which it is received
	Default  string   // what an empty cell means, where that is not "not recorded"
	About    string
}

// Range is a closed interval of plausible values.
type Range struct{ Low, High float64 }

// Table is one export table.
type Table struct {
	Name  string
	About string
	// Key names the columns that identify a row at its sender. FallbackKey,
	// where set, is used for rows whose Key is empty.
	Key         []string
	FallbackKey []string
	// Parents are the tables a row waits for, by the column that names the parent.
	Parents []Parent
	Columns []Column
}

// Parent links a column to the table whose key it holds.
type Parent struct {
	Column string
	Table  string
}

// RowState is the column that every table may carry: current or withdrawn.
const RowState = "row_state"

// The two values of RowState. Empty means current.
const (
	Current   = "current"
	Withdrawn = "withdrawn"
)

// Column returns the column of that name.
func (t Table) Column(name string) (Column, bool) {
	for _, c := range t.Columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column{}, false
}

// Required returns the names of the columns that a file of this table must have.
func (t Table) Required() []string {
	var names []string
	for _, c := range t.Columns {
		if c.Required {
			names = append(names, c.Name)
		}
	}
	return names
}

// Tables returns the eight tables, parents before children.
func Tables() []Table {
	return []Table{episodes(), plans(), sessions(), bouts(), measurements(), milestones(), followups(), adverseEvents()}
}

// Find returns the table of that name.
func Find(name string) (Table, bool) {
	for _, t := range Tables() {
		if t.Name == name {
			return t, true
		}
	}
	return Table{}, false
}

// Recognise returns the table whose columns the headings name: every heading
// is a column of it (or RowState) and every required column is there. At most
// one table can match, because the required columns tell them apart.
func Recognise(headings []string) (Table, bool) {
	for _, t := range Tables() {
		if t.fits(headings) {
			return t, true
		}
	}
	return Table{}, false
}

func (t Table) fits(headings []string) bool {
	seen := map[string]bool{}
	for _, h := range headings {
		if _, ok := t.Column(h); !ok && h != RowState {
			return false
		}
		if seen[h] {
			return false
		}
		seen[h] = true
	}
	for _, name := range t.Required() {
		if !seen[name] {
			return false
		}
	}
	return true
}

// Nearest returns the table that shares most columns with the headings, and
// what keeps them from fitting: headings unknown to it, required columns
// missing, headings that stand twice. It is for the error message of a file
// that no table fits.
func Nearest(headings []string) (t Table, unknown, missing, twice []string) {
	best := -1
	for _, candidate := range Tables() {
		shared := 0
		for _, h := range headings {
			if _, ok := candidate.Column(h); ok {
				shared++
			}
		}
		if shared > best {
			best, t = shared, candidate
		}
	}
	seen := map[string]bool{}
	for _, h := range headings {
		if _, ok := t.Column(h); !ok && h != RowState {
			unknown = append(unknown, h)
		}
		if seen[h] {
			twice = append(twice, h)
		}
		seen[h] = true
	}
	for _, name := range t.Required() {
		if !seen[name] {
			missing = append(missing, name)
		}
	}
	return t, unknown, missing, twice
}

func between(low, high float64) *Range { return &Range{Low: low, High: high} }

func codes(list string) []string { return strings.Fields(list) }
