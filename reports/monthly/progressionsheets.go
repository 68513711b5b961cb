package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// progressionSheets are the sheets of progression and plans, and of tolerance;
// none without figures.
func progressionSheets(r *disclosure.Released) []workbooks.Sheet {
	columns := func(first string, width float64) []workbooks.Column {
		return []workbooks.Column{
			{Heading: first, Width: 46},
			{Heading: "What", Width: width},
			{Heading: "Value", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "Unit", Width: 18},
			{Heading: "People", Width: 11},
			{Heading: "Rests on", Width: 11},
			{Heading: "of these", Width: 12},
			{Heading: "Note", Width: 80},
		}
	}
	cells := func(first, what string, f disclosure.Shown) []workbooks.Cell {
		counted := workbooks.Cell{}
		if f.Exposure != nil {
			counted = workbooks.Number(*f.Exposure, 0)
		}
		note := f.Reason
		for _, w := range f.Warnings {
			note += " " + w
		}
		return []workbooks.Cell{
			workbooks.Text(first), workbooks.Text(what), value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f),
			workbooks.Text(f.Unit), persons(f), counted, workbooks.Text(f.ExposureUnit), workbooks.Text(note),
		}
	}
	notes := []string{"from, to: the range that the data fit (95 %), allowing for several visits or bouts of one person being alike.", words.CautionInBrief}
	progress := workbooks.Sheet{
		Name: "Progression", Heading: "How exercises moved, and what was done of what was planned", Lead: []string{where(r)}, Columns: columns("Group", 50), Notes: notes,
	}
	for _, question := range []string{"progression", "plan"} {
		for _, g := range words.Groups(r, question) {
			for _, f := range words.InOrder(r.Picture(g.Picture)) {
				progress.Rows = append(progress.Rows, cells(g.Label, words.Label(f), f))
			}
		}
	}
	tolerance := workbooks.Sheet{
		Name: "Tolerance", Heading: "How exercises were tolerated, by band of pressure", Lead: []string{where(r), words.ToleranceSentence}, Columns: columns("Exercise and band", 34), Notes: notes,
	}
	for _, b := range words.Bands(r) {
		label := "All exercises"
		if b.Exercise != "" {
			label = words.ExerciseLabel(b.Exercise)
		}
		for _, f := range words.InOrder(r.Picture(b.Group.Picture)) {
			tolerance.Rows = append(tolerance.Rows, cells(label+": "+words.InSentence(b.Group.Label), words.Label(f), f))
		}
	}
	return filled(progress, tolerance)
}
