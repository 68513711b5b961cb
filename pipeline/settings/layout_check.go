package settings

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// check notes what no single key can be wrong about.
func (l *layoutReader) check(root *table, into *Layout) {
	if into.Sender == "" && root.find("sender") == nil {
		l.found.add(root.at, "sender is missing: the folder under inbox/ whose files the layout is for")
	}
	if into.Version == "" && root.find("version") == nil {
		l.found.add(root.at, "version is missing: a name for this state of the layout, such as \"1\"")
	}
	if root.find("table") == nil {
		l.found.add(root.at, "[[table]] is missing: at least one must stand")
	}
	if into.Cells.Signs.Thousands == into.Cells.Signs.Decimal {
		l.found.add(root.find("cells").at, "decimal and thousands are the same sign")
	}
	if l.practice != nil {
		l.checkSender(into)
	}
	for i, t := range into.Tables {
		l.checkTable(into, t, l.tables[i])
	}
}

// checkSender holds the sender and the site against the practice.
func (l *layoutReader) checkSender(into *Layout) {
	senders := l.practice.Senders()
	switch {
	case into.Sender == "":
	case !slices.Contains(senders, into.Sender):
		l.found.add(l.sender, "no site of %s names the sender %q%s", PracticeFile, into.Sender, hint(into.Sender, senders))
	case into.Delivery.Site != "" && !slices.Contains(l.practice.SitesOf(into.Sender), into.Delivery.Site):
		l.found.add(l.site, "the sender %s may not send for the site %q%s", into.Sender, into.Delivery.Site, hint(into.Delivery.Site, l.practice.SitesOf(into.Sender)))
	}
}

func (l *layoutReader) checkTable(into *Layout, t LayoutTable, places tablePlaces) {
	if t.Name == "" {
		if !l.noted(places.name) {
			l.found.add(places.at, "name is missing in [[table]]: the export table that is made")
		}
		return
	}
	def, ok := export.Find(t.Name)
	if !ok {
		var names []string
		for _, one := range export.Tables() {
			names = append(names, one.Name)
		}
		l.found.add(places.name, "there is no export table %q%s", t.Name, hint(t.Name, names))
		return
	}
	c := tableCheck{l, into, def, t}
	filled := map[string]bool{}
	for i, column := range t.Columns {
		at := places.columns[i]
		if !c.known(column.Name, at.at) {
			continue
		}
		filled[column.Name] = true
		c.column(column, at)
	}
	for i, part := range t.Parts {
		if _, ok := def.Column(part.Name); ok {
			l.found.add(places.parts[i].at, "the part %s has the name of a column of %s; give it another", part.Name, t.Name)
		}
		c.sources(part, places.parts[i])
	}
	for i, w := range t.Wide {
		c.wide(w, places.wide[i], filled)
	}
	for _, name := range def.Required() {
		if !filled[name] && (len(t.Wide) == 0 || !c.wideFills(name)) {
			l.found.add(places.at, "[table.columns.%s] is missing: the table %s needs it", name, t.Name)
		}
	}
}

func (l *layoutReader) noted(at position) bool {
	return slices.ContainsFunc(l.found.List, func(p Problem) bool { return p.Line == at.line && p.Column == at.column })
}

// tableCheck checks one table of a layout against its definition.
type tableCheck struct {
	*layoutReader
	layout *Layout
	def    export.Table
	table  LayoutTable
}

func (c tableCheck) known(column string, at position) bool {
	if _, ok := c.def.Column(column); ok || column == export.RowState {
		return true
	}
	c.found.add(at, "the table %s has no column %q%s", c.def.Name, column, hint(column, columnNames(c.def)))
	return false
}

func columnNames(t export.Table) []string {
	var names []string
	for _, c := range t.Columns {
		names = append(names, c.Name)
	}
	return append(names, export.RowState)
}

// wideFills says whether every wide heading sets or takes a column.
func (c tableCheck) wideFills(name string) bool {
	for _, w := range c.table.Wide {
		sets := w.Into == name || slices.ContainsFunc(w.Set, func(s LayoutConstant) bool { return s.Column == name })
		if !sets {
			return false
		}
	}
	return true
}

func (c tableCheck) column(column LayoutColumn, at *table) {
	def, ok := c.def.Column(column.Name)
	if !ok {
		def = export.Column{Name: export.RowState, Type: export.Code, Codes: []string{export.Current, export.Withdrawn}}
	}
	c.sources(column, at)
	c.constant(def, column.Constant, at.placeOf("constant"))
	c.cell(def, column.Cell, at)
	if len(column.NumberWithin) > 0 && c.table.Distinct {
		c.found.add(at.placeOf("number_within"), "rows that count once (distinct) cannot be numbered; take one of the two away")
	}
	if len(column.NumberWithin) > 0 && def.Type != export.Integer {
		c.found.add(at.placeOf("number_within"), "number_within makes whole numbers; %s is of the type %s", column.Name, def.Type)
	}
}

// sources checks the names that made_from, number_within, days_after and
// unit_from refer to.
func (c tableCheck) sources(column LayoutColumn, at *table) {
	refer := func(key string, names ...string) {
		for _, name := range names {
			if name == "" || (key == "days_after" && name == EpisodeStart) {
				continue
			}
			switch {
			case name == column.Name:
				c.found.add(at.placeOf(key), "%s: %s cannot be made of itself", key, name)
			case !slices.Contains(c.ready(key), name):
				c.found.add(at.placeOf(key), "%s: %q is no column or part of this table that is read before it%s", key, name, hint(name, c.ready(key)))
			}
		}
	}
	refer("made_from", column.MadeFrom...)
	refer("number_within", column.NumberWithin...)
	refer("days_after", column.Cell.DaysAfter)
	refer("unit_from", column.Cell.UnitFrom)
	if _, has := c.def.Column("episode_id"); column.Cell.DaysAfter == EpisodeStart && (!has || c.def.Name == "episodes") {
		c.found.add(at.placeOf("days_after"), "days_after: the rows of %s name no episode whose start could be known", c.def.Name)
	}
}

// ready lists the columns and parts that a key may refer to. Cells and constants
// are read first, then days are counted, then keys are made, then rows numbered.
func (c tableCheck) ready(key string) []string {
	var names []string
	for _, one := range slices.Concat(c.table.Columns, c.table.Parts) {
		late := len(one.NumberWithin) > 0 || (len(one.MadeFrom) > 0 && key != "number_within") ||
			((one.Cell.DaysAfter != "" || one.Cell.UnitFrom != "") && (key == "days_after" || key == "unit_from"))
		if !late {
			names = append(names, one.Name)
		}
	}
	for _, column := range c.def.Columns {
		if len(c.table.Wide) > 0 && c.wideFills(column.Name) {
			names = append(names, column.Name)
		}
	}
	return names
}

// constant checks a text that is to stand in a column.
func (c tableCheck) constant(def export.Column, text string, at position) {
	if text == "" {
		return
	}
	switch def.Type {
	case export.Code, export.CodeSet:
		c.codes(def, text, at)
	case export.Boolean:
		if text != "true" && text != "false" {
			c.found.add(at, "%s: %q is neither true nor false", def.Name, text)
		}
	case export.Integer, export.Decimal:
		if canonical, ok := (notation.Signs{Decimal: "."}).Number(text); !ok || (def.Type == export.Integer && strings.Contains(canonical, ".")) {
			c.found.add(at, "%s: %q is not a %s", def.Name, text, map[bool]string{true: "whole number", false: "number"}[def.Type == export.Integer])
		}
	case export.Date:
		if _, ok, _ := isoDate.Read(text, notation.DateWords{}); !ok {
			c.found.add(at, "%s: %q is not a date such as 2026-03-31", def.Name, text)
		}
	case export.Text, export.Key, export.Reps:
	}
}

var isoDate = func() notation.DateFormat {
	f, err := notation.ParseDateFormat("year-month-day")
	if err != nil {
		panic(err) // compiled in
	}
	return f
}()

// allowed lists the codes that a column may hold; nil where only the practice
// knows them and is not asked.
func (c tableCheck) allowed(def export.Column) []string {
	switch def.From {
	case "":
		return def.Codes
	case "sites":
		if c.practice == nil {
			return nil
		}
		return c.practice.SitesOf(c.layout.Sender)
	case "plan_codes":
		if c.practice == nil {
			return nil
		}
		codes := []string{}
		for _, w := range c.practice.Ways {
			codes = append(codes, w.Code)
		}
		return codes
	default:
		return reference.Codes(def.From)
	}
}

// codes checks codes that a column is to hold.
func (c tableCheck) codes(def export.Column, text string, at position) {
	known := c.allowed(def)
	if known == nil {
		return
	}
	list := []string{text}
	if def.Type == export.CodeSet {
		list = strings.Split(text, ";")
	}
	for _, code := range list {
		if !slices.Contains(known, code) {
			words := ""
			if near := Near(code, known); near != "" {
				words = fmt.Sprintf("; did you mean %q?", near)
			} else if len(known) > 0 && len(known) <= 12 {
				words = "; known are " + strings.Join(known, ", ")
			}
			c.found.add(at, "%s: %q is not a known code%s", def.Name, code, words)
		}
	}
}

// cell checks how a cell is read against the column that it fills.
func (c tableCheck) cell(def export.Column, cell LayoutCell, at *table) {
	only := func(said bool, key string, types ...export.Type) {
		if said && !slices.Contains(types, def.Type) {
			c.found.add(at.placeOf(key), "%s cannot stand for %s, which is of the type %s", key, def.Name, def.Type)
		}
	}
	numbers := []export.Type{export.Integer, export.Decimal}
	only(cell.Signs.Decimal != "", "decimal", numbers...)
	only(cell.Signs.Thousands != "", "thousands", numbers...)
	only(cell.Unit != "", "unit", numbers...)
	only(cell.UnitFrom != "", "unit_from", numbers...)
	only(cell.Decimals != nil, "decimals", numbers...)
	only(len(cell.Dates) > 0, "date", export.Date)
	only(cell.DaysAfter != "", "days_after", export.Date)
	only(cell.Take.How == TakeList, "take", export.Reps, export.CodeSet)
	only(cell.Take.How == TakeSum, "take", numbers...)
	only(cell.Take.How == TakeCount, "take", numbers...)
	for _, code := range cell.Codes {
		c.constant(def, code.Code, at.placeOf("codes"))
	}
	c.constant(def, cell.Empty, at.placeOf("empty"))
	if cell.Unit != "" && cell.UnitFrom != "" {
		c.found.add(at.placeOf("unit"), "unit and unit_from both say the unit; keep one")
	}
	if (cell.Split == "") != (cell.Take == Take{}) && !c.noted(at.placeOf("take")) {
		c.found.add(at.at, "split and take go together: split says what stands between the values, take which are meant")
	}
	if cell.DaysAfter != "" && len(cell.Dates) > 0 {
		c.found.add(at.placeOf("date"), "with days_after the cell holds days, not a date")
	}
	own := def.Unit
	if c.def.Name == "measurements" && def.Name == "value" {
		return // the unit is the measure's own, row by row
	}
	if !slices.Contains(numbers, def.Type) {
		return
	}
	if (cell.Unit != "" || cell.UnitFrom != "") && own == "" {
		c.found.add(at.placeOf("unit"), "%s has no unit", def.Name)
	} else if from, ok := notation.FindUnit(cell.Unit); ok {
		if to, ok := notation.FindUnit(own); !ok || !from.Converts(to) {
			c.found.add(at.placeOf("unit"), "%s is kept in %s; %s cannot be turned into that", def.Name, own, cell.Unit)
		}
	}
}

func (c tableCheck) wide(w LayoutWide, at *table, filled map[string]bool) {
	if len(w.Heading) == 0 && !c.noted(at.placeOf("heading")) {
		c.found.add(at.at, "heading is missing in [[table.wide]]")
	}
	twice := func(name string, place position) {
		if filled[name] {
			c.found.add(place, "%s has its [table.columns.%s] already; take one of the two away", name, name)
		}
	}
	if c.known(w.Into, at.placeOf("into")) {
		twice(w.Into, at.placeOf("into"))
		if def, ok := c.def.Column(w.Into); ok {
			c.cell(def, w.Cell, at)
		}
	}
	for _, s := range w.Set {
		if !c.known(s.Column, at.placeOf("set")) {
			continue
		}
		twice(s.Column, at.placeOf("set"))
		if def, ok := c.def.Column(s.Column); ok {
			c.constant(def, s.Text, at.placeOf("set"))
		}
	}
	c.sources(LayoutColumn{Cell: w.Cell}, at)
}

// placeOf is where the value of a key stands, or the section where it has none.
func (t *table) placeOf(key string) position {
	if e := t.find(key); e != nil {
		return e.value.at
	}
	return t.at
}
