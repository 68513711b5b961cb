package layout

import (
	"maps"
	"slices"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// binder finds the places of headings for one layout and one sheet.
type binder struct {
	layout   *settings.Layout
	headings []string
	places   map[string]int // of the first, by folded heading
	twice    []int          // headings that stand before
	used     map[int]bool   // by tables that can be made
	reads    map[int]bool   // by the table that is being bound
	missing  []Absent       // what that table cannot do without
}

func newBinder(l *settings.Layout, headings []string) *binder {
	b := &binder{layout: l, headings: headings, places: map[string]int{}, used: map[int]bool{}}
	for i, h := range headings {
		if _, before := b.places[fold(h)]; before {
			b.twice = append(b.twice, i)
			continue
		}
		b.places[fold(h)] = i
	}
	return b
}

func (b *binder) begin() { b.reads, b.missing = map[int]bool{}, nil }

func (b *binder) keep() { maps.Copy(b.used, b.reads) }

// find returns the place of the first spelling that is there, or -1.
func (b *binder) find(spellings []string) int {
	for _, s := range spellings {
		if at, ok := b.places[fold(s)]; ok {
			b.reads[at] = true
			return at
		}
	}
	return -1
}

// table binds a table and notes the headings that it cannot do without and that
// are not there.
func (b *binder) table(t settings.LayoutTable) (bound table) {
	def, _ := export.Find(t.Name) // the layout has been checked
	bound = table{def: def, distinct: t.Distinct}
	miss := func(name string, headings []string) {
		b.missing = append(b.missing, Absent{t.Name, name, headings})
	}
	var columns []column
	for _, spec := range slices.Concat(t.Columns, t.Parts) {
		c := b.column(def, spec)
		if len(spec.Heading) > 0 && c.cell.at < 0 {
			if c.index < 0 || slices.Contains(def.Required(), spec.Name) || referred(t, spec.Name) {
				miss(spec.Name, spec.Heading)
			}
			continue
		}
		columns = append(columns, c)
	}
	if len(t.Wide) == 0 {
		bound.makers = []maker{newMaker(def, columns, -1)}
	}
	for _, w := range t.Wide {
		into := b.column(def, settings.LayoutColumn{Name: w.Into, Heading: w.Heading, Cell: w.Cell})
		if into.cell.at < 0 {
			continue
		}
		all := slices.Clone(columns)
		for _, s := range w.Set {
			all = append(all, b.column(def, settings.LayoutColumn{Name: s.Column, Constant: s.Text}))
		}
		bound.makers = append(bound.makers, newMaker(def, append(all, into), len(all)))
	}
	if len(bound.makers) == 0 {
		miss(t.Wide[0].Into, t.Wide[0].Heading)
	}
	bound.onlyWhen = b.wheres(t.OnlyWhere, true)
	for i, w := range t.OnlyWhere {
		if bound.onlyWhen[i].at < 0 {
			miss("only_where", []string{w.Heading})
		}
	}
	return bound
}

// newMaker finds the places of what columns are made of. The layout has been
// checked, and what is referred to is there.
func newMaker(def export.Table, columns []column, wide int) maker {
	place := func(name string) int {
		return slices.IndexFunc(columns, func(c column) bool { return name != "" && c.name == name })
	}
	places := func(names []string) (list []int) {
		for _, name := range names {
			list = append(list, place(name))
		}
		return list
	}
	m := maker{columns: columns, wide: wide, episode: place("episode_id"), start: -1, measure: -1, unit: -1}
	switch def.Name {
	case "episodes":
		m.start = place("start_date")
	case "measurements":
		m.measure, m.unit = place("measure"), indexOf(def, "unit")
	}
	for i := range columns {
		c := &columns[i]
		c.madeFrom, c.within = places(c.spec.MadeFrom), places(c.spec.NumberWithin)
		c.daysAfter, c.unitFrom = place(c.spec.Cell.DaysAfter), place(c.spec.Cell.UnitFrom)
	}
	return m
}

// referred says whether another column or part is made of the named one.
func referred(t settings.LayoutTable, name string) bool {
	return slices.ContainsFunc(slices.Concat(t.Columns, t.Parts), func(c settings.LayoutColumn) bool {
		return slices.Contains(c.MadeFrom, name) || slices.Contains(c.NumberWithin, name) || c.Cell.DaysAfter == name || c.Cell.UnitFrom == name
	})
}

func (b *binder) column(def export.Table, spec settings.LayoutColumn) column {
	c := column{name: spec.Name, index: indexOf(def, spec.Name), spec: spec}
	columnDef := export.Column{Name: spec.Name, Type: export.Text}
	switch {
	case spec.Name == export.RowState:
		c.index = len(def.Columns)
		columnDef = export.Column{Name: spec.Name, Type: export.Code, Codes: []string{export.Current, export.Withdrawn}}
	case c.index >= 0:
		columnDef = def.Columns[c.index]
	case len(spec.Cell.Dates) > 0 || spec.Cell.DaysAfter != "":
		columnDef.Type = export.Date // a part
	}
	at := -1
	if len(spec.Heading) > 0 {
		at = b.find(spec.Heading)
	}
	c.cell = newCell(b.layout, columnDef, spec.Cell, at)
	if at >= 0 {
		c.cell.heading = b.headings[at]
	}
	return c
}

// wheres binds conditions; those whose heading is not there are left out or,
// with all, kept with the place -1.
func (b *binder) wheres(list []settings.Where, all bool) []where {
	var bound []where
	for _, one := range list {
		w := where{at: b.find([]string{one.Heading}), words: map[string]bool{}, known: map[string]bool{}}
		for _, word := range one.Words {
			w.words[fold(word)] = true
		}
		if w.at >= 0 || all {
			bound = append(bound, w)
		}
	}
	return bound
}

func indexOf(t export.Table, column string) int {
	return slices.IndexFunc(t.Columns, func(c export.Column) bool { return c.Name == column })
}
