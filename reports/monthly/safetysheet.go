package monthly

import (
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// safetySheets is the sheet of adverse events; none without figures.
func safetySheets(r *disclosure.Released) []workbooks.Sheet {
	whole, ok := words.SafetyGroup(r)
	if !ok {
		return nil
	}
	s := workbooks.Sheet{
		Name:    "Adverse events",
		Heading: "Adverse events per 1,000 sessions",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "By", Width: 14},
			{Heading: "Group", Width: 46},
			{Heading: "Events", Width: 10},
			{Heading: "Sessions attended", Width: 11},
			{Heading: "All events per 1,000 of these", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "Sessions with symptoms asked", Width: 13},
			{Heading: "Linked events per 1,000 of these", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
		},
		Notes: []string{"The two rates count different events and different sessions and do not mix. from, to: exact limits (95 %), wider where events come in the same persons; where no event was seen there is no rate, and to says up to how much goes with the data."},
	}
	for _, sentence := range words.SafetySentences(r) {
		s.Lead = append(s.Lead, sentence.Text)
	}
	s.Notes = append(s.Notes, words.Cautions()...)

	add := func(by string, groups ...words.Group) {
		for _, g := range groups {
			row := []workbooks.Cell{workbooks.Text(by), workbooks.Text(g.Label), cellOf(r, g, "events"), cellOf(r, g, "sessions_attended")}
			row = append(row, rateCells(r, g, "rate_all")...)
			row = append(row, cellOf(r, g, "sessions_asked"))
			s.Rows = append(s.Rows, append(row, rateCells(r, g, "rate_asked")...))
		}
	}
	add("Practice", whole)
	groups := words.Groups(r, "safety")
	add("Injury type", slices.DeleteFunc(slices.Clone(groups), func(g words.Group) bool { return !g.IsType() })...)
	add("Kind", words.SafetyKinds(r)...)
	add("Site", slices.DeleteFunc(slices.Clone(groups), func(g words.Group) bool { return !g.IsSite() })...)
	return []workbooks.Sheet{s, countsSheet(r, whole)}
}

// countsSheet counts what stands for the whole practice alone.
func countsSheet(r *disclosure.Released, g words.Group) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Events counted",
		Heading: "Adverse events of the whole practice, counted plainly",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{{Heading: "What", Width: 46}, {Heading: "Value", Width: 11}, {Heading: "from", Width: 8}, {Heading: "to", Width: 8}, {Heading: words.MonthBefore, Width: 13}, {Heading: "Unit", Width: 10}, {Heading: "Meaning", Width: 100}},
	}
	for _, e := range words.Dictionary() {
		if e.Question != "safety" || (e.Unit != "events" && e.Unit != "days") {
			continue
		}
		if f, ok := g.Figure(r, e.Statistic, ""); ok {
			s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(e.Label), value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f), workbooks.Text(e.Unit), workbooks.Text(e.Meaning)})
		}
	}
	return s
}

func cellOf(r *disclosure.Released, g words.Group, statistic string) workbooks.Cell {
	f, ok := g.Figure(r, statistic, "")
	if !ok {
		return workbooks.Cell{}
	}
	return value(f)
}

// rateCells are a rate, its limits and its value of the month before.
func rateCells(r *disclosure.Released, g words.Group, statistic string) []workbooks.Cell {
	f, ok := g.Figure(r, statistic, "")
	if !ok {
		return make([]workbooks.Cell, 4)
	}
	rate := value(f)
	if words.NoneSeen(f) {
		rate = workbooks.Note("none seen")
	}
	return []workbooks.Cell{rate, numberLike(f, f.Low), numberLike(f, f.High), before(r, f)}
}
