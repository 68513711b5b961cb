package pages

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// recurrences are, by injury type, those who came again after a return.
func recurrences(r *disclosure.Released) table {
	t := table{Head: []string{"", "In care again", "The data fit", words.MonthBefore, "People who returned"}}
	for _, g := range words.Groups(r, "return") {
		f, ok := words.Recurrence(r, g)
		if !ok || f.Status == result.Hidden {
			continue
		}
		t.Caption = "In care again for the same injury on the same side within " + words.Decimal(*f.X, 0) + " days of the return"
		t.Rows = append(t.Rows, row{Label: g.Label, Sum: g.Whole(), Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.Persons(f)}})
	}
	return t
}
