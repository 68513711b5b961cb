package pages

import (
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// contrasts are the differences between groups within the practice.
func contrasts(r *disclosure.Released) table {
	t := table{
		Caption: "Differences of the return within the practice, with the range that the data fit (95 %)",
		Head:    []string{"", "By week", "Share back, raw", "Share back, standardised", "Mean weeks not yet back, raw", "Mean weeks, standardised", "Hazard ratio", "People"},
	}
	for _, c := range words.Contrasts(r) {
		line := row{Label: c.Label, Cells: []string{words.Decimal(c.ContrastWeek(r), 0)}}
		people, known := words.None, false
		for _, f := range c.Figures(r) {
			cell := words.None
			if f.ID != "" && f.Status != result.Hidden {
				cell, known, people = strings.Replace(words.WithInterval(f), " weeks", "", 1), true, words.Persons(f)
				if line.Figure == "" {
					line.Figure = f.ID
				}
			}
			line.Cells = append(line.Cells, cell)
		}
		if line.Cells = append(line.Cells, people); known {
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

// siteRatios are the sites' returns over those expected, in the practice's order.
func siteRatios(r *disclosure.Released) table {
	t := table{Caption: "Returns on record over those expected, by site, in the practice's order", Head: []string{"", "Over expected", "The data fit", "Chance and usual spread", words.MonthBefore, "People"}}
	for _, s := range words.SiteRatios(r) {
		if s.Ratio.Status == result.Hidden {
			continue
		}
		funnel := words.None
		if s.Funnel.ID != "" {
			funnel = words.Interval(s.Funnel)
		}
		t.Rows = append(t.Rows, row{Label: s.Label, Figure: s.Ratio.ID, Cells: []string{words.Value(s.Ratio), words.Interval(s.Ratio), funnel, words.Before(r, s.Ratio), words.Persons(s.Ratio)}})
	}
	return t.withoutEmptyColumns()
}

// within are the tables of groups and sites; none without figures.
func within(r *disclosure.Released) []table {
	return slices.Clip(filled(contrasts(r), siteRatios(r)))
}
