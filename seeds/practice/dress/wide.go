package dress

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/export"
)

// wide is delimited text in which measurements stand wide: a row for each visit
// and rater, a column for each measure, side and trial.
type wide struct {
	text
	assessments []assessment
}

// assessment is one column of the wide form.
type assessment struct {
	heading, measure, side, trial string
	unit                          unit
}

// Whole says whether a desk sends all rows of a table every night instead of
// those that are new.
func (x *wide) Whole(t export.Table) bool { return t.Name == "episodes" || t.Name == "measurements" }

// Keeps says whether the files say what a column holds. In the wide form the
// headings say the unit, and rows have no number of their own.
func (x *wide) Keeps(t export.Table, column string) bool {
	return t.Name != "measurements" || column != "unit" && column != "measurement_id"
}

// Files writes one file for each table.
func (x *wide) Files(d Drop) ([]File, error) {
	var files []File
	for n, s := range d.Sheets {
		if s.Table.Name != "measurements" {
			one := d
			one.Sheets = []Sheet{s}
			one.Note = func(_, i int, file string, line int) { d.Note(n, i, file, line) }
			text, err := x.text.Files(one)
			if err != nil {
				return nil, err
			}
			files = append(files, text...)
			continue
		}
		name := fmt.Sprintf("%s%s_assessments.csv", x.prefix, d.Date)
		data, err := x.form(s, func(i, line int) { d.Note(n, i, name, line) })
		if err != nil {
			return nil, err
		}
		files = append(files, File{name, data})
	}
	return files, nil
}

// visit is a row of the form.
type visit struct {
	cells []string
	rows  []int // of the sheet, that it holds
}

// leading are the columns before the assessments.
var leading = []heading{{"Episode", "episode_id"}, {"Assessed on", "measured_on"}, {"Rater", "rater_id"}, {"Method", "method"}}

func (x *wide) form(s Sheet, note func(i, line int)) ([]byte, error) {
	at := func(name string) int {
		return slices.IndexFunc(s.Table.Columns, func(c export.Column) bool { return c.Name == name })
	}
	measure, side, trial, value := at("measure"), at("side"), at("trial"), at("value")
	var visits []*visit
	open := map[[4]string]*visit{} // the last of each episode, day, rater and method
	for i, row := range s.Rows {
		r, err := parse(s.Table, row)
		if err != nil {
			return nil, err
		}
		column := slices.IndexFunc(x.assessments, func(a assessment) bool {
			return a.measure == r.cells[measure] && a.side == r.cells[side] && (a.trial == r.cells[trial] || r.cells[trial] == "")
		})
		if column < 0 {
			return nil, fmt.Errorf("the made-up form has no column for %s, %s, trial %q", r.cells[measure], r.cells[side], r.cells[trial])
		}
		var key [4]string
		for n, h := range leading {
			key[n] = r.cells[at(h.columns)]
		}
		v := open[key]
		if v == nil || v.cells[len(leading)+column] != "" {
			v = &visit{cells: append(key[:], make([]string, len(x.assessments))...)}
			open[key] = v
			visits = append(visits, v)
		}
		cell := r.cells[value]
		if u := x.assessments[column].unit; u.size != 0 {
			cell = u.write(cell)
		}
		v.cells[len(leading)+column] = cell
		v.rows = append(v.rows, i)
	}
	heads := make([]string, 0, len(leading)+len(x.assessments))
	for _, h := range leading {
		heads = append(heads, h.name)
	}
	for _, a := range x.assessments {
		heads = append(heads, a.heading)
	}
	form := x.begin(heads)
	for _, v := range visits {
		for _, i := range v.rows {
			note(i, form.line)
		}
		form.row(v.cells, None)
	}
	return form.data, nil
}
