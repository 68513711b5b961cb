package pages

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// steps are how soon people move on from each stage, and how many fall back:
// from the day on which it was reached, and under it from the start of care.
func steps(r *disclosure.Released, g words.Group) table {
	week := words.Decimal(words.StepWeek(r, g), 0)
	t := table{
		Caption: "From stage to stage, counted from the day on which it was reached",
		Head: []string{
			"Stage", "On a higher one by week " + week, "The data fit", "Half are on a higher one after, weeks", "The data fit",
			"Lost it again by week " + week, "The data fit", "People",
		},
	}
	for _, start := range []bool{false, true} {
		for _, s := range words.Steps(r, g) {
			cells, lead, ok := words.StepCells(r, g, s.Code, start)
			if !ok {
				continue
			}
			line := row{Label: s.Label, Cells: cells, Figure: lead.ID}
			if start {
				line.Label += ", from the start of care"
			}
			t.Rows = append(t.Rows, line)
		}
	}
	return t.withoutEmptyColumns()
}
