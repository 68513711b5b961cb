package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// scoreSheets is the sheet of pain and scores; none without figures.
func scoreSheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Pain and scores",
		Heading: "Pain and patient-reported scores, each on its own scale",
		Lead:    []string{where(r), "Injury types whose people mostly keep up their activity stand first."},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Measure", Width: 30},
			{Heading: "Scale", Width: 26},
			{Heading: "What", Width: 50},
			{Heading: "Value", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "Unit", Width: 14},
			{Heading: "People", Width: 11},
			{Heading: "Note", Width: 80},
		},
		Notes: []string{"from, to: the range that the data fit (95 %).", words.CautionInBrief},
	}
	for _, injury := range words.ScoreOrder(r) {
		for _, g := range words.ScoreGroups(r, injury.Code) {
			for _, f := range words.InOrder(r.Picture(g.Picture)) {
				s.Rows = append(s.Rows, []workbooks.Cell{
					workbooks.Text(g.Label), workbooks.Text(words.MeasureLabel(g.Measure)), workbooks.Text(words.ScaleOf(g.Measure)), workbooks.Text(words.Label(f)),
					value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f), workbooks.Text(f.Unit), persons(f), workbooks.Text(f.Reason),
				})
			}
		}
	}
	return filled(s)
}
