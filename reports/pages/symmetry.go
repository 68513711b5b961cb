package pages

import (
	"strconv"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// symmetryChapter tells how alike the two sides are; nil without figures.
func symmetryChapter(r *disclosure.Released, pictures Pictures) *chapter {
	c := &chapter{
		Anchor: "symmetry", Title: "Symmetry of girth and strength",
		About: "Both sides are measured; the index is the involved side in percent of the other. The other side changes too, so both stand above the index. In brackets: the range that the data fit (95 %).",
	}
	c.Lead = words.SidesSentences(r)
	for _, injury := range r.Context().InjuryTypes {
		groups := words.SymmetryGroups(r, injury.Code)
		if len(groups) == 0 {
			continue
		}
		p := part{Anchor: "symmetry-" + injury.Code, Label: injury.Label}
		for i, g := range words.LeadingMeasures(r, injury.Code) {
			s := sayings{Details: words.SymmetryDetails(r, g)}
			if i == 0 { // the other one lies in plots/; here its sentences are enough
				s.Plot = pictures.Symmetry[g.Picture].view()
			}
			if s.Plot.SVG == "" {
				lead := words.SymmetrySentence(r, g)
				s.Lead = &lead
			}
			p.Sayings = append(p.Sayings, s)
		}
		p.Tables = filled(typicalSides(r, groups), besideSides(r, groups), changes(r, groups))
		c.Parts = append(c.Parts, p)
	}
	if len(c.Parts) == 0 {
		return nil
	}
	return c
}

// typicalSides are the typical index and difference of girth at the weeks stated.
func typicalSides(r *disclosure.Released, groups []words.Group) table {
	t := table{Caption: "Typical index, and difference of girth (involved less the other)", Head: []string{"", "Week", "Typical", "The data fit", words.MonthBefore, words.BesideTypical, "The data fit", "People"}}
	for _, g := range groups {
		for _, f := range g.Along(r, g.SidesTypical()) {
			if f.Status == result.Hidden {
				continue
			}
			line := row{Label: words.MeasureLabel(g.Measure), Figure: f.ID, Cells: []string{
				strconv.Itoa(int(*f.X)), words.Value(f), words.Interval(f), words.Before(r, f), words.None, words.None, words.Persons(f),
			}}
			if base, ok := g.Figure(r, g.SidesBeside(), words.AtWeek(*f.X)); ok && base.Status != result.Hidden {
				line.Cells[4], line.Cells[5] = words.Bare(base), words.Interval(base)
			}
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

// besideSides says how many were measured, and their plain mean.
func besideSides(r *disclosure.Released, groups []words.Group) table {
	t := table{Caption: "Who was measured, and their plain mean without a model", Head: []string{"", "Week", "Measured", "Back already", "Plain mean", "The data fit"}}
	for _, g := range groups {
		for _, f := range g.Along(r, "measured") {
			line := row{Label: words.MeasureLabel(g.Measure), Figure: f.ID, Cells: []string{strconv.Itoa(int(*f.X)), words.Value(f), words.None, words.None, words.None}}
			if back, ok := g.OfType().Figure(r, "returned_already", words.AtWeek(*f.X)); ok {
				line.Cells[2] = words.Value(back)
			}
			if mean, ok := g.Figure(r, "plain_mean", words.AtWeek(*f.X)); ok {
				line.Cells[3], line.Cells[4] = words.Value(mean), words.Interval(mean)
			}
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

// changes are the counts of real change, of the measures whose error is known.
func changes(r *disclosure.Released, groups []words.Group) table {
	t := table{Caption: "Change since baseline against the error of measuring, episodes", Head: []string{"", "Change known", "Improved", "No real change", "Worse"}}
	for _, g := range groups {
		known, ok := g.Figure(r, "change_known", "")
		if !ok || known.Status == result.Withheld {
			continue
		}
		line := row{Label: words.MeasureLabel(g.Measure), Figure: known.ID, Cells: []string{words.Value(known)}}
		for _, statistic := range []string{"improved", "no_real_change", "worse"} {
			cell := words.None
			if f, ok := g.Figure(r, statistic, ""); ok {
				cell = words.Value(f)
			}
			line.Cells = append(line.Cells, cell)
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}
