package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// The columns of the sheet of the injury clock that its charts are of.
const (
	injuryWeek = iota + 1
	injuryBack
	injuryFrom
	injuryTo
)

// injurySheets is the share back by weeks after the injury, with a chart for each
// type; none without figures.
func injurySheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Since the injury",
		Heading: "Share of people back at their target, by week since the operation before care, else since the onset",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Week since the injury", Width: 9},
			{Heading: "Back", Width: 12},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Under watch, rounded to 5", Width: 12},
			{Heading: "People", Width: 11},
			{Heading: "Note", Width: 60},
		},
		Notes: []string{"People come under watch when care begins; those who were back before then are not among them. From the first week with enough people under watch. from, to: the range that the data fit (95 %). " + words.CautionInBrief},
	}
	for _, g := range types(r) {
		from, drawn := len(s.Rows), 0
		for _, f := range g.Along(r, "since_injury") {
			under := workbooks.Cell{}
			if n, ok := g.Figure(r, "since_injury_at_risk", words.AtWeek(*f.X)); ok && n.Value != nil {
				under = value(n)
			}
			s.Rows = append(s.Rows, []workbooks.Cell{
				workbooks.Text(g.Label), workbooks.Number(*f.X, 0), value(f), numberLike(f, f.Low), numberLike(f, f.High), under, persons(f), workbooks.Text(f.Reason),
			})
			if f.Value != nil && f.Low != nil {
				drawn++
			}
		}
		if n := len(s.Rows) - from; n >= 2 && drawn >= 2 {
			s.Charts = append(s.Charts, workbooks.LineChart{
				Title: g.Label + ": share back since the injury, with the range that the data fit", Alt: g.Label + ": share back by week since the injury.",
				XTitle: "Weeks since the injury", Categories: injuryWeek, From: from, To: from + n, Percent: true, LabelEvery: 2,
				Lines: []workbooks.Line{{Column: injuryBack, Role: workbooks.Estimate}, {Column: injuryFrom, Role: workbooks.Limit}, {Column: injuryTo, Role: workbooks.Limit}},
			})
		}
	}
	return filled(s)
}
