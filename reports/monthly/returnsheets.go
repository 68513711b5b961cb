package monthly

import (
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// types are the injury types of the report, in its order.
func types(r *disclosure.Released) []words.Group {
	return slices.DeleteFunc(words.Groups(r, "return"), func(g words.Group) bool { return !g.IsType() })
}

// shareWeeks are the weeks at which any type has a leading share.
func shareWeeks(r *disclosure.Released) []float64 {
	var weeks []float64
	for _, g := range types(r) {
		for _, f := range g.Along(r, "share") {
			weeks = append(weeks, *f.X)
		}
	}
	slices.Sort(weeks)
	return slices.Compact(weeks)
}

// summarySheet has one row for each injury type.
func summarySheet(r *disclosure.Released) workbooks.Sheet {
	first := words.First(r)
	s := workbooks.Sheet{
		Name:    "Summary",
		Heading: r.Context().Practice + ", " + words.Month(r.Context().Month),
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{{Heading: "Injury type", Width: 46}, {Heading: "People followed", Width: 11}},
		Notes:   []string{"Share back: of the people below their target when care began, those recorded as back by the end of the week. from, to: the range that the data fit (95 %)."},
	}
	for _, sentence := range first.Lead {
		s.Lead = append(s.Lead, sentence.Text)
	}
	for _, sentence := range first.Gaps {
		s.Notes = append(s.Notes, sentence.Text)
	}
	s.Notes = append(s.Notes, words.Cautions()...)

	weeks := shareWeeks(r)
	for _, w := range weeks {
		s.Columns = append(s.Columns, workbooks.Column{Heading: "Back by week " + words.Decimal(w, 0), Width: 17}, workbooks.Column{Heading: "from", Width: 8}, workbooks.Column{Heading: "to", Width: 8}, workbooks.Column{Heading: words.MonthBefore, Width: 13})
	}
	for _, g := range types(r) {
		row := []workbooks.Cell{workbooks.Text(g.Label), {}}
		for _, w := range weeks {
			f, ok := g.Figure(r, "share", words.AtWeek(w))
			if !ok {
				row = append(row, make([]workbooks.Cell, 4)...)
				continue
			}
			row[1] = persons(f)
			row = append(row, value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f))
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// The columns of the sheet of curves.
const (
	columnWeek = iota + 1
	columnBack
	columnFrom
	columnTo
	columnEnded
)

// returnSheet holds the curves, with a chart for each type.
func returnSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Return to activity",
		Heading: "Share of people back at their target, by week of care",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "Injury type", Width: 46},
			{Heading: "Week", Width: 7},
			{Heading: "Back", Width: 12},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: "Ended otherwise", Width: 12},
			{Heading: "Still followed, rounded to 5", Width: 14},
		},
		Notes: []string{"from, to: the range that the data fit (95 %), week by week. " + words.CautionInBrief},
	}
	for _, g := range types(r) {
		from := len(s.Rows)
		curve := g.Along(r, "cumulative")
		for _, f := range curve {
			if f.Value == nil {
				continue
			}
			row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Number(*f.X, 0), value(f), numberLike(f, f.Low), numberLike(f, f.High), {}, {}}
			if ended, ok := g.Figure(r, "competing", words.AtWeek(*f.X)); ok {
				row[columnEnded] = value(ended)
			}
			if still, ok := g.Figure(r, "at_risk", words.AtWeek(*f.X)); ok && still.Value != nil {
				row[columnEnded+1] = value(still)
			}
			s.Rows = append(s.Rows, row)
		}
		if len(s.Rows) == from && len(curve) > 0 {
			s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(g.Label), {}, value(curve[0])})
			continue
		}
		if to := from + unbroken(curve); to-from >= 2 {
			s.Charts = append(s.Charts, curveChart(r, g, from, to))
		}
	}
	return s
}

// unbroken is how many points there are from week 0 without a hole: a chart of
// a spreadsheet sets all points equally far apart.
func unbroken(curve []disclosure.Shown) int {
	for i, f := range curve {
		if *f.X != float64(i) || f.Value == nil {
			return i
		}
	}
	return len(curve)
}

func curveChart(r *disclosure.Released, g words.Group, from, to int) workbooks.LineChart {
	chart := workbooks.LineChart{
		Title:  g.Label + ": share back at their target, with the range that the data fit",
		Alt:    words.ReturnSentence(r, g).Text,
		XTitle: "Weeks since care began", Categories: columnWeek, From: from, To: to, Percent: true, LabelEvery: 2,
		Lines: []workbooks.Line{{Column: columnBack, Role: workbooks.Estimate}},
	}
	limits, ended := 0, 0
	for _, f := range g.Along(r, "cumulative")[:to-from] {
		if f.Low != nil && f.High != nil {
			limits++
		}
	}
	for _, f := range g.Along(r, "competing") {
		if f.Value != nil && *f.X < float64(to-from) {
			ended++
		}
	}
	if limits >= 2 {
		chart.Lines = append(chart.Lines, workbooks.Line{Column: columnFrom, Role: workbooks.Limit}, workbooks.Line{Column: columnTo, Role: workbooks.Limit})
	}
	if ended >= 2 {
		chart.Lines = append(chart.Lines, workbooks.Line{Column: columnEnded, Role: workbooks.Other})
	}
	return chart
}

// timeSheet holds the quantiles and means with their limits.
func timeSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Time to return",
		Heading: "Weeks until people are back",
		Lead:    []string{where(r)},
		Columns: columnsOfFigures("Injury type", 44, workbooks.Column{Heading: "Why there is no value", Width: 60}),
		Notes:   []string{"from, to: the range that the data fit (95 %). An empty limit lies beyond the time watched. " + words.CautionInBrief},
	}
	for _, g := range types(r) {
		var figures []disclosure.Shown
		for _, statistic := range []string{"lower_quartile_weeks", "median_weeks", "upper_quartile_weeks", "visit_spacing_days"} {
			if f, ok := g.Figure(r, statistic, ""); ok {
				figures = append(figures, f)
			}
		}
		figures = append(figures, g.Along(r, "mean_weeks")...)
		for _, f := range figures {
			s.Rows = append(s.Rows, figureCells(r, g.Label, f, f.Reason))
		}
	}
	return s
}

// flowSheet has one row for each group and one column for each count.
func flowSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Flow",
		Heading: "What became of everybody who began care (episodes)",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{{Heading: "Group", Width: 46}},
		Notes:   []string{"Began care = nothing usable + already at their target + followed for a return. Followed = back + ended otherwise + still in care + lost from view + left otherwise."},
	}
	groups := words.Groups(r, "return")
	var counts []string
	for _, e := range words.Dictionary() {
		if e.Question == "return" && slices.ContainsFunc(groups, func(g words.Group) bool { _, ok := g.Figure(r, e.Statistic, ""); return ok }) && e.Unit == "episodes" {
			counts = append(counts, e.Statistic)
			s.Columns = append(s.Columns, workbooks.Column{Heading: e.Label, Width: 13})
		}
	}
	for _, g := range groups {
		row := []workbooks.Cell{workbooks.Text(g.Label)}
		for _, statistic := range counts {
			f, ok := g.Figure(r, statistic, "")
			if !ok {
				row = append(row, workbooks.Cell{})
				continue
			}
			row = append(row, value(f))
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// sensitivitySheet puts the leading share beside what it would be by other rules.
func sensitivitySheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Sensitivities",
		Heading: "The share back by other rules",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{{Heading: "Injury type", Width: 46}, {Heading: "Rule", Width: 46}},
		Notes:   []string{"Where the rows of one type lie close together, the answer does not hang on the rule."},
	}
	weeks := shareWeeks(r)
	for _, w := range weeks {
		s.Columns = append(s.Columns, workbooks.Column{Heading: "Back by week " + words.Decimal(w, 0), Width: 17})
	}
	for _, g := range types(r) {
		rules := words.ShareRules(r, g)
		if lead, ok := words.Headline(r, g); ok && lead.Status == result.Hidden {
			rules = rules[:1] // one row says that nothing of this type is shown
		}
		for _, rule := range rules {
			entry, _ := words.Lookup("return", rule, true)
			label := entry.Label
			if rule == "share" {
				label = "As reported"
			}
			row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Text(label)}
			for _, w := range weeks {
				f, ok := g.Figure(r, rule, words.AtWeek(w))
				if !ok {
					row = append(row, workbooks.Cell{})
					continue
				}
				row = append(row, value(f))
			}
			s.Rows = append(s.Rows, row)
		}
	}
	return s
}
