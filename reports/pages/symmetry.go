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
	t := table{Caption: "Typical index, and difference of girth (involved less the other)", Head: []string{"", "Week", "Typical", "The data fit", words.MonthBefore, words.BesideTypical(groups), "The data fit", "People"}}
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
				if words.IsShare(base) {
					line.Cells[4] = words.Value(base)
				}
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

// changes are the counts of real and important change and of indices beside the
// threshold, of the measures whose error is known.
func changes(r *disclosure.Released, groups []words.Group) table {
	t := table{
		Caption: "Change since baseline against the error of measuring, episodes, and indices against their threshold",
		Head:    []string{"", "Compared", "Judged", "Better, or at or above", "Within error", "Worse, or below", "Judged by"},
	}
	for _, g := range groups {
		for _, s := range words.Splits(r, g) {
			line := row{Label: words.MeasureLabel(g.Measure), Figure: s.Whole.ID, Cells: []string{s.Label, words.Value(s.Whole)}}
			for _, part := range s.Parts {
				line.Cells = append(line.Cells, words.Value(part))
			}
			t.Rows = append(t.Rows, row{Label: line.Label, Figure: line.Figure, Cells: append(line.Cells, s.Error)})
		}
	}
	return t
}
