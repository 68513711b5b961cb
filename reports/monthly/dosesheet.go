package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// doseSheets is the sheet of dose and return; none without figures.
func doseSheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Dose and response",
		Heading: "Work with the cuff before the landmark, and the return after it",
		Lead:    []string{where(r), words.LandmarkSentence},
		Columns: []workbooks.Column{
			{Heading: "Group", Width: 46},
			{Heading: "What", Width: 50},
			{Heading: "Value", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "Unit", Width: 24},
			{Heading: "People", Width: 11},
			{Heading: "Note", Width: 80},
		},
		Notes: []string{"Contrasts are shares, the upper third less the lower. from, to: the range that the data fit (95 %).", words.CautionInBrief},
	}
	for _, g := range words.Groups(r, "dose") {
		if !g.Whole() && (!g.IsType() || g.IsOther()) {
			continue
		}
		for _, f := range words.InOrder(r.Picture(g.Picture)) {
			if f.Kind == disclosure.CurvePoint {
				continue // on a sheet of their own
			}
			s.Rows = append(s.Rows, []workbooks.Cell{
				workbooks.Text(g.Label), workbooks.Text(words.Label(f)), value(f), numberLike(f, f.Low), numberLike(f, f.High),
				before(r, f), workbooks.Text(f.Unit), persons(f), workbooks.Text(f.Reason),
			})
		}
	}
	if len(s.Rows) == 0 {
		return nil
	}
	return append([]workbooks.Sheet{s}, doseCurveSheets(r)...)
}

// doseCurveSheets is the sheet of the curves of dose; none without a curve.
func doseCurveSheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Curves of dose",
		Heading: "Share back at other doses less that at " + words.ReferenceDose(r) + " sets a week",
		Lead:    []string{where(r), words.LandmarkSentence},
		Columns: []workbooks.Column{
			{Heading: "Group", Width: 46},
			{Heading: "Sets a week", Width: 12},
			{Heading: "Alike at the start", Width: 17},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Raw", Width: 8},
			{Heading: "People", Width: 11},
		},
		Notes: []string{"Differences of shares. from, to: the range that the data fit (95 %), dose by dose.", words.CautionInBrief},
	}
	for _, g := range words.Groups(r, "dose") {
		for _, f := range g.Along(r, "dose_curve") {
			raw := workbooks.Cell{}
			if beside, ok := g.Figure(r, "dose_curve_raw", "s"+words.Decimal(*f.X, 0)); ok {
				raw = value(beside)
			}
			s.Rows = append(s.Rows, []workbooks.Cell{
				workbooks.Text(g.Label), workbooks.Number(*f.X, 0), value(f), numberLike(f, f.Low), numberLike(f, f.High), raw, persons(f),
			})
		}
	}
	if len(s.Rows) == 0 {
		return nil
	}
	return []workbooks.Sheet{s}
}
