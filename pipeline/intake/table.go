package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/seeds/reference"
)

// shape is how the cells of one sheet stand for the columns of one table.
type shape struct {
	table    export.Table
	width    int           // cells of a row
	columns  []*cellReader // of the table, in its order
	cell     []int         // where each column stands in a row; -1: it does not
	state    int           // where row_state stands; -1: it does not
	key      []int         // columns of the key
	fallback []int         // columns of the key of rows whose key is empty
	watched  []int         // columns some of whose values are unusual
	trial    int           // the column trial, where it is part of the fallback key; else -1
	measures map[string]measure
	measure  int // column of the code of a measure, value and unit
	value    int
	unit     int
}

// measure is what the code table says about the values of one measure.
type measure struct {
	unit   string
	reject bounds
}

// newShape places the columns of a table in rows under headings that are names
// of its columns.
func newShape(t export.Table, headings []string, by batchRules, sender string) *shape {
	l := &shape{table: t, width: len(headings), trial: -1, state: slices.Index(headings, export.RowState)}
	for i, c := range t.Columns {
		l.columns = append(l.columns, newCellReader(c, codesOf(c, by.practice)))
		l.columns[i].padded = by.padded[c.Name]
		l.cell = append(l.cell, slices.Index(headings, c.Name))
		if l.columns[i].warn.set || (c.Type == export.Date && !c.Ahead) {
			l.watched = append(l.watched, i)
		}
		if c.From == "sites" {
			l.columns[i].own = map[string]bool{}
			for _, site := range by.practice.SitesOf(sender) {
				l.columns[i].own[site] = true
			}
		}
	}
	l.key, l.fallback = l.places(t.Key), l.places(t.FallbackKey)
	if slices.Contains(t.FallbackKey, "trial") {
		l.trial = l.place("trial")
	}
	if t.Name == "measurements" {
		l.measures = measures()
		l.measure, l.value, l.unit = l.place("measure"), l.place("value"), l.place("unit")
	}
	return l
}

// namesOf are the headings of the rows that a layout makes of a table.
func namesOf(t export.Table) []string {
	var names []string
	for _, c := range t.Columns {
		names = append(names, c.Name)
	}
	return append(names, export.RowState)
}

func (l *shape) place(column string) int {
	return slices.IndexFunc(l.table.Columns, func(c export.Column) bool { return c.Name == column })
}

func (l *shape) places(columns []string) []int {
	var places []int
	for _, name := range columns {
		places = append(places, l.place(name))
	}
	return places
}

// codesOf returns the codes that a column may hold: its own list, the
// practice's sites or ways, or a code table.
func codesOf(c export.Column, practice *settings.Practice) []string {
	switch c.From {
	case "":
		return c.Codes
	case "sites":
		var codes []string
		for _, s := range practice.Sites {
			codes = append(codes, s.Code)
		}
		return codes
	case "plan_codes":
		var codes []string
		for _, w := range practice.Ways {
			codes = append(codes, w.Code)
		}
		return codes
	default:
		return reference.Codes(c.From)
	}
}

func measures() map[string]measure {
	all := map[string]measure{}
	for _, code := range reference.Codes("measures") {
		unit, _ := reference.Cell("measures", code, "unit")
		all[code] = measure{unit: unit, reject: bounds{true, limit(code, "reject_low"), limit(code, "reject_high")}}
	}
	return all
}

func limit(code, column string) int64 {
	text, _ := reference.Cell("measures", code, column)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		// The table is compiled in and tested: only a broken build gets here.
		panic(fmt.Sprintf("measures.csv: %s of %s: %v", column, code, err))
	}
	return boundsOf(&export.Range{Low: v}).low
}

func noTableWords(headings []string) string {
	t, unknown, missing, twice := export.Nearest(headings)
	shared := len(headings) - len(unknown)
	if shared == 0 {
		return "no heading is a column of an export table and no layout is for it; `evenlimb tables` lists the columns, `evenlimb layout propose` drafts a layout; with that in place run `evenlimb intake --again` on the file"
	}
	words := fmt.Sprintf("the headings come nearest to the table %s", t.Name)
	if len(unknown) > 0 {
		var names []string
		for _, c := range t.Columns {
			names = append(names, c.Name)
		}
		var list []string
		for _, h := range unknown {
			item := strconv.Quote(shown(h))
			if near := settings.Near(h, names); near != "" {
				item += " (is it " + near + "?)"
			}
			list = append(list, item)
		}
		words += ", which has no column " + few(list)
	}
	if len(missing) > 0 {
		words += ", which needs " + few(missing)
	}
	if len(twice) > 0 {
		words += ", in which no heading may stand twice: " + few(twice)
	}
	return words + "; correct the headings and send the file again, or write a layout for it (`evenlimb layout propose`) and run `evenlimb intake --again` on it"
}

// few joins a list and cuts it short.
func few(list []string) string {
	const most = 8
	if len(list) > most {
		return strings.Join(list[:most], ", ") + fmt.Sprintf(" and %d more", len(list)-most)
	}
	return strings.Join(list, ", ")
}
