package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// sides are the measures of all injury types, in the report's order.
func sides(r *disclosure.Released) []words.Group {
	var groups []words.Group
	for _, injury := range r.Context().InjuryTypes {
		groups = append(groups, words.SymmetryGroups(r, injury.Code)...)
	}
	return groups
}

// symmetrySheets are the sheets of how alike the two sides are; none without
// figures.
func symmetrySheets(r *disclosure.Released) []workbooks.Sheet {
	groups := sides(r)
	if len(groups) == 0 {
		return nil
	}
	sheets := []workbooks.Sheet{symmetrySheet(r, groups)}
	if change := changeSheet(r, groups); len(change.Rows) > 0 {
		sheets = append(sheets, change)
	}
	return append(sheets, limbSheet(r, groups))
}

// symmetrySheet has a row for each measure and week stated.
func symmetrySheet(r *disclosure.Released, groups []words.Group) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Symmetry",
		Heading: "How alike the two sides are in strength and girth",
		Lead:    []string{where(r), "Index: the involved side in percent of the other. Girth: the involved side less the other, in cm. from, to: the range that the data fit (95 %)."},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Measure", Width: 38},
			{Heading: "Week", Width: 7},
			{Heading: "Typical", Width: 11},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "Unit", Width: 6},
			{Heading: words.BesideTypical(groups), Width: 16},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Plain mean of those measured", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "People measured", Width: 14},
			{Heading: "Back already", Width: 14},
			{Heading: "Note", Width: 60},
		},
		Notes: []string{words.CautionInBrief},
	}
	for _, sentence := range words.SidesSentences(r) {
		s.Lead = append(s.Lead, sentence.Text)
	}
	for _, g := range groups {
		if change, ok := words.ChangeSentence(r, g); ok {
			s.Notes = append(s.Notes, g.Label+", "+words.InSentence(words.MeasureLabel(g.Measure))+": "+words.InSentence(change.Text))
		}
		for _, f := range g.Along(r, g.SidesTypical()) {
			row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Text(words.MeasureLabel(g.Measure)), workbooks.Number(*f.X, 0)}
			row = append(row, value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f), workbooks.Text(f.Unit))
			for _, statistic := range []string{g.SidesBeside(), "plain_mean"} {
				beside, ok := g.Figure(r, statistic, words.AtWeek(*f.X))
				if !ok {
					row = append(row, workbooks.Cell{}, workbooks.Cell{}, workbooks.Cell{})
					continue
				}
				row = append(row, value(beside), numberLike(beside, beside.Low), numberLike(beside, beside.High))
			}
			for _, beside := range []struct {
				group     words.Group
				statistic string
			}{{g, "measured"}, {g.OfType(), "returned_already"}} {
				cell := workbooks.Cell{}
				if n, ok := beside.group.Figure(r, beside.statistic, words.AtWeek(*f.X)); ok {
					cell = value(n)
				}
				row = append(row, cell)
			}
			s.Rows = append(s.Rows, append(row, workbooks.Text(f.Reason)))
		}
	}
	return s
}

// changeSheet sets changes against the error of measuring and the minimal
// important change, and indices against the threshold.
func changeSheet(r *disclosure.Released, groups []words.Group) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Real change",
		Heading: "Change since baseline, and the index, against the error of measuring",
		Lead: []string{
			where(r),
			"Episodes of care. Within error: the change, or the distance of the index from the threshold, is no larger than what measuring twice gives by itself (95 %), so that nothing is decided. " +
				"Measures without a known error are left out.",
		},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Measure", Width: 38},
			{Heading: "Compared", Width: 36},
			{Heading: "Judged", Width: 13},
			{Heading: "Better, or at or above", Width: 13},
			{Heading: "Within error, or by less", Width: 13},
			{Heading: "Worse, or below", Width: 13},
			{Heading: "Judged by", Width: 60},
		},
		Notes: []string{words.CautionInBrief},
	}
	for _, g := range groups {
		for _, split := range words.Splits(r, g) {
			row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Text(words.MeasureLabel(g.Measure)), workbooks.Text(split.Label), value(split.Whole)}
			for _, part := range split.Parts {
				row = append(row, value(part))
			}
			s.Rows = append(s.Rows, append(row, workbooks.Text(split.Error)))
		}
	}
	return s
}

// limbSheet holds the curves, with a chart of each leading measure.
func limbSheet(r *disclosure.Released, groups []words.Group) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Both sides by week",
		Heading: "The two sides and how they compare, by week of care",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Measure", Width: 38},
			{Heading: "Week", Width: 7},
			{Heading: "Index or difference", Width: 12},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Involved side", Width: 11},
			{Heading: "Other side", Width: 11},
			{Heading: "Unit of the sides", Width: 10},
		},
		Notes: []string{"Index in %, difference of girth in cm. from, to: the range that the data fit (95 %), week by week. " + words.CautionInBrief},
	}
	for _, g := range groups {
		from, whole := len(s.Rows), true
		for _, f := range g.Along(r, g.SidesCurve()) {
			row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Text(words.MeasureLabel(g.Measure)), workbooks.Number(*f.X, 0), value(f), numberLike(f, f.Low), numberLike(f, f.High)}
			for _, statistic := range []string{"involved_curve", "uninvolved_curve"} {
				cell := workbooks.Cell{}
				if limb, ok := g.Figure(r, statistic, words.AtWeek(*f.X)); ok {
					cell = value(limb)
				}
				row = append(row, cell)
			}
			whole = whole && f.Value != nil && f.Low != nil && f.High != nil
			s.Rows = append(s.Rows, append(row, workbooks.Text(words.MeasureUnit(g.Measure))))
		}
		if to := len(s.Rows); whole && to-from >= 2 && g.IsIndex() {
			s.Charts = append(s.Charts, workbooks.LineChart{
				Title:  g.Label + ": " + words.InSentence(words.MeasureLabel(g.Measure)) + ", index in % of the other side",
				Alt:    words.SymmetrySentence(r, g).Text,
				XTitle: "Weeks since care began", Categories: 2, From: from, To: to,
				Lines: []workbooks.Line{{Column: 3, Role: workbooks.Estimate}, {Column: 4, Role: workbooks.Limit}, {Column: 5, Role: workbooks.Limit}},
			})
		}
	}
	return s
}
