package pages

import (
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// doseChapter tells how the work before the landmark goes with the return after
// it; nil without figures.
func doseChapter(r *disclosure.Released, pictures Pictures) *chapter {
	c := &chapter{
		Anchor: "dose", Title: "Dose and response",
		About: words.LandmarkSentence + " People are not assigned to a dose. In brackets: the range that the data fit (95 %).",
	}
	for _, g := range words.Groups(r, "dose") {
		if g.Whole() {
			c.Tables = filled(doseFlow(r, g))
			if s, ok := words.DosePooledSentence(r, g); ok {
				c.Lead = append(c.Lead, s)
			}
			if p := pictures.DosePooled.view(); p.SVG != "" {
				c.Lead, c.Plots = nil, append(c.Plots, p)
			}
		}
		if !g.IsType() || g.IsOther() {
			continue
		}
		s := sayings{Plot: pictures.Dose[g.Picture].view(), Details: words.DoseDetails(r, g)}
		if s.Plot.SVG == "" {
			lead := words.DoseSentence(r, g)
			s.Lead, s.Plot.Absent = &lead, ""
		}
		adjusted := sayings{Plot: pictures.DoseCurves[g.Picture].view(), Details: words.AdjustedDetails(r, g)}
		adjusted.Plot.Absent = "" // the sentences say why
		c.Parts = append(c.Parts, part{
			Anchor: "dose-" + g.InjuryType, Label: g.Label, Sayings: []sayings{s, adjusted},
			Left: filled(doseReturns(r, g), doseAlike(r, g), doseAmounts(r, g)), Right: doseFlow(r, g),
		})
	}
	if len(c.Parts) == 0 {
		return nil
	}
	return c
}

// doseReturns are the shares by third and their contrasts.
func doseReturns(r *disclosure.Released, g words.Group) table {
	t := table{Head: []string{"Third of dose", "Share", "The data fit", words.MonthBefore, "People"}}
	labels := []string{"Lower", "Middle", "Upper", "Upper less lower, raw", "Upper less lower, standardised"}
	for i, statistic := range slices.Concat(words.DoseThirds, words.DoseContrasts) {
		for _, f := range g.Along(r, statistic) {
			if f.Value == nil {
				continue
			}
			t.Caption = "Share back by week " + words.Decimal(*f.X, 0) + ", of those followed from the landmark"
			t.Rows = append(t.Rows, row{Label: labels[i], Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.Persons(f)}})
		}
	}
	return t
}

// doseAlike are the comparisons over what was known at the start.
func doseAlike(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "People alike at the start of care", Head: []string{"", "Value", "The data fit", words.MonthBefore, "People"}}
	for _, o := range []struct{ statistic, label string }{
		{"returned_none", "No work with the cuff: share back"},
		{"returned_some", "Some work: share back"},
		{"any_contrast_raw", "Some less none, raw"},
		{"any_contrast_standardised", "Some less none, standardised"},
		{"quartiles_contrast_raw", "Third less first quartile of dose, raw"},
		{"quartiles_contrast_standardised", "The same, standardised"},
		{"quartiles_contrast_beside", "The same, narrower interval"},
		{"quartiles_contrast_weighted", "The same, weighted"},
		{"quartiles_standardised_less_weighted", "Standardised less weighted"},
		{"quartiles_contrast_shrunken", "The same, leaning on the other types"},
	} {
		for _, f := range g.Along(r, o.statistic) {
			if f.Value != nil {
				t.Rows = append(t.Rows, row{Label: o.label + ", week " + words.Decimal(*f.X, 0), Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.Persons(f)}})
			}
		}
	}
	for _, statistic := range []string{"quartiles_index", "quartiles_girth", "quartiles_pain", "quartiles_index_emax"} {
		for _, f := range g.Along(r, statistic) {
			if f.Value != nil {
				t.Rows = append(t.Rows, row{Label: words.Label(f), Figure: f.ID, Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.Persons(f)}})
			}
		}
	}
	for _, statistic := range []string{"weights_effective_share", "weights_imbalance_before", "weights_imbalance_after"} {
		if f, ok := g.Figure(r, statistic, ""); ok && f.Value != nil {
			t.Rows = append(t.Rows, row{Label: words.Label(f), Figure: f.ID, Cells: []string{words.Value(f), words.None, words.Before(r, f), words.Persons(f)}})
		}
	}
	return t
}

// doseAmounts are how much was done by those with some work.
func doseAmounts(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "A week's work with the cuff before the landmark, of those with some: so many did no more", Head: []string{"", "A quarter", "Half", "Three quarters", "People"}}
	for _, a := range []struct{ stem, label string }{
		{"sets_per_week", "Sets"}, {"reps_per_week", "Repetitions"}, {"inflated_minutes", "Minutes inflated"}, {"pressure_minutes", "Pressure-minutes"}, {"sessions_per_week", "Sessions"},
	} {
		line := row{Label: a.label}
		known := false
		people := words.None
		for _, quartile := range []string{"_lower_quartile", "_median", "_upper_quartile"} {
			cell := words.None
			if f, ok := g.Figure(r, a.stem+quartile, ""); ok && f.Status != result.Hidden {
				cell, people, known = words.Bare(f), words.Persons(f), known || f.Value != nil
			}
			line.Cells = append(line.Cells, cell)
		}
		if line.Cells = append(line.Cells, people); known {
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

// doseFlow is who could be compared.
func doseFlow(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "Who could be followed from the landmark", Head: []string{"", "Episodes"}}
	for _, o := range []struct {
		statistic string
		depth     int
	}{
		{"began", 0},
		{"left_out", 1},
		{"left_out.returned", 2},
		{"left_out.at_target", 2},
		{"left_out.ended_otherwise", 2},
		{"left_out.lost", 2},
		{"left_out.left_otherwise", 2},
		{"left_out.in_care", 2},
		{"left_out.no_usable", 2},
		{"left_out.dose_unknown", 2},
		{"analysed", 1},
		{"no_cuff_work", 2},
		{"some_cuff_work", 2},
	} {
		if f, ok := g.Figure(r, o.statistic, ""); ok {
			t.Rows = append(t.Rows, row{Label: words.Label(f), Depth: o.depth, Figure: f.ID, Cells: []string{words.Value(f)}})
		}
	}
	return t
}
