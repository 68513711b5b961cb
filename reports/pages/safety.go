package pages

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// safetyChapter tells of the adverse events; nil without figures.
func safetyChapter(r *disclosure.Released, pictures Pictures) *chapter {
	whole, ok := words.SafetyGroup(r)
	if !ok {
		return nil
	}
	c := &chapter{
		Anchor: "safety", Title: "Adverse events",
		About:  "Counted are events that happened and were not ruled out, in the sessions of the period. Where none was seen, the rate that still goes with the data is stated. In brackets: exact limits (95 %).",
		Lead:   words.SafetySentences(r),
		Tables: filled(countedPlainly(r, whole), delays(r, whole)),
	}
	for _, p := range pictures.Safety {
		c.Plots = append(c.Plots, p.view())
	}
	types, sites := []words.Group{whole}, []words.Group{}
	for _, g := range words.Groups(r, "safety") {
		switch {
		case g.IsType():
			types = append(types, g)
		case g.IsSite():
			sites = append(sites, g)
		}
	}
	for _, by := range []struct {
		head   string
		groups []words.Group
	}{{"Injury type", types}, {"Kind of event", words.SafetyKinds(r)}, {"Site, in the practice's order", sites}} {
		c.Tables = append(c.Tables, filled(
			rates(r, by.head, "All events per 1,000 attended sessions", by.groups, "events", "sessions_attended", "rate_all"),
			rates(r, by.head, "Events linked to a session with symptoms asked, per 1,000 such sessions", by.groups, "", "sessions_asked", "rate_asked"),
		)...)
	}
	return c
}

// rates is a table of one of the two rates; the other has its own.
func rates(r *disclosure.Released, head, caption string, groups []words.Group, events, sessions, rate string) table {
	t := table{Caption: caption, Head: []string{head}}
	if events != "" {
		t.Head = append(t.Head, "Events")
	}
	t.Head = append(t.Head, "Sessions", "Per 1,000", "Exact limits", words.MonthBefore, "Mid-P limits")
	for _, g := range groups {
		f, ok := g.Figure(r, rate, "")
		if !ok {
			continue
		}
		line := row{Label: g.Label, Figure: f.ID}
		for _, statistic := range []string{events, sessions} {
			if statistic == "" {
				continue
			}
			cell := words.None
			if n, ok := g.Figure(r, statistic, ""); ok {
				cell = words.Value(n)
			}
			line.Cells = append(line.Cells, cell)
		}
		beside := words.None
		if mid, ok := g.Figure(r, rate+"_midp", ""); ok {
			beside = words.Interval(mid)
		}
		value := words.Value(f)
		if words.NoneSeen(f) {
			value = "none seen"
		}
		line.Cells = append(line.Cells, value, words.Interval(f), words.Before(r, f), beside)
		t.Rows = append(t.Rows, line)
	}
	return t.withoutEmptyColumns()
}

// countedPlainly are counts of the whole practice with nothing beside them.
func countedPlainly(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "Counted plainly, the whole practice", Head: []string{"", "Events", words.MonthBefore}}
	for _, o := range []struct {
		statistic string
		depth     int
	}{
		{"serious_events", 0},
		{"seriousness_not_recorded", 0},
		{"open_clocks", 0},
		{"clocks_not_computable", 0},
		{"events", 0},
		{"events_confirmed", 1},
		{"events_suspected", 1},
		{"events_certainty_not_recorded", 1},
		{"not_linked", 1},
		{"potential_events", 0},
		{"ruled_out_events", 0},
	} {
		if f, ok := g.Figure(r, o.statistic, ""); ok {
			t.Rows = append(t.Rows, row{Label: words.Label(f), Depth: o.depth, Figure: f.ID, Cells: []string{words.Value(f), words.Before(r, f)}})
		}
	}
	return t
}

// delays are how long it took to know of events and to report them.
func delays(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "How long it took", Head: []string{"", "Median", "The data fit", words.MonthBefore}}
	for _, statistic := range []string{"onset_to_aware_median_days", "aware_to_reported_median_days"} {
		if f, ok := g.Figure(r, statistic, ""); ok {
			t.Rows = append(t.Rows, row{Label: words.Label(f), Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f)}})
		}
	}
	return t
}
