package pages

import (
	"strconv"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// sinceInjury is the share back on the clock of the injury, at the weeks that are
// stated, and the week by which half are.
func sinceInjury(r *disclosure.Released, g words.Group) table {
	t := table{Caption: words.InjuryCaption, Head: []string{"", "Back", "The data fit", words.MonthBefore, "Under watch", "People"}}
	for _, f := range words.SinceInjury(r, g) {
		line := row{Label: "Week " + strconv.Itoa(int(*f.X)), Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.None, words.Persons(f)}}
		if n, ok := g.Figure(r, "since_injury_at_risk", words.AtWeek(*f.X)); ok && n.Value != nil {
			line.Cells[3] = words.Value(n)
		}
		t.Rows = append(t.Rows, line)
	}
	if f, ok := g.Figure(r, "since_injury_median_weeks", ""); ok && f.Status != result.Hidden {
		t.Rows = append(t.Rows, row{Label: "Half are back by", Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.None, words.Persons(f)}})
	}
	return t
}
