package pages

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// progressionChapter tells how exercises moved and what was done of what was
// planned; nil without figures.
func progressionChapter(r *disclosure.Released, pictures Pictures) *chapter {
	c := &chapter{
		Anchor: "progression", Title: "Progression and plans",
		About: "A visit is one exercise in one session, set against the visit before. A step is a move of its level; at the same level, of its range; at the same range, of its load. In brackets: the range that the data fit (95 %), allowing for visits of one person being alike.",
		Lead:  append(words.ProgressSentences(r), words.PlanSentences(r)...),
	}
	c.Tables = filled(stepsByType(r), movesOfPractice(r), plansByType(r))
	if len(c.Tables) == 0 {
		return nil
	}
	c.Plots = []pictureView{pictures.Progression.view()}
	return c
}

// byType puts statistics of the whole practice and every injury type side by
// side, each with its limits.
func byType(r *disclosure.Released, question, caption string, statistics []string, heads []string) table {
	t := table{Caption: caption, Head: append([]string{"Injury type"}, heads...)}
	for _, g := range words.Groups(r, question) {
		line := row{Label: g.Label, Sum: g.Whole()}
		known := false
		for _, statistic := range statistics {
			cell := words.None
			if f, ok := g.Figure(r, statistic, ""); ok {
				cell, known = words.WithInterval(f), true
			}
			line.Cells = append(line.Cells, cell)
		}
		if known {
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}

func stepsByType(r *disclosure.Released) table {
	return byType(r, "progression", "Steps, of the visits compared, and stalls, of the exercises kept up",
		[]string{"first_step_median_weeks", "step_up", "step_back", "back_after_pain", "back_otherwise", "stalled"},
		[]string{"Half with a first step by", "Step up", "Step back", "Back soon after pain", "Back otherwise", "Stalled"})
}

func plansByType(r *disclosure.Released) table {
	return byType(r, "plan", "Done of what was planned, before the landmark, of people followed from it on", words.PlanStatistics,
		[]string{"Sessions", "Sets, session by session", "Pressure", "Minutes"})
}

// movesOfPractice says by what exercises moved, of the whole practice.
func movesOfPractice(r *disclosure.Released) table {
	t := table{Caption: "What moved from visit to visit, the whole practice", Head: []string{"", "Higher", "The data fit", "Lower", "The data fit", "Visits compared"}}
	for _, g := range words.Groups(r, "progression") {
		if !g.Whole() {
			continue
		}
		for _, k := range []struct{ stem, label string }{
			{"level", "Level of the ladder"}, {"range", "Range of movement"}, {"load", "External load"}, {"reps", "Repetitions"}, {"pressure", "Pressure of the cuff"},
		} {
			up, ok1 := g.Figure(r, k.stem+"_up", "")
			down, ok2 := g.Figure(r, k.stem+"_down", "")
			if ok1 && ok2 {
				t.Rows = append(t.Rows, row{Label: k.label, Cells: []string{words.Value(up), words.Interval(up), words.Value(down), words.Interval(down), words.Counted(up)}})
			}
		}
	}
	return t
}

// toleranceChapter tells how exercises were tolerated; nil without figures.
func toleranceChapter(r *disclosure.Released, pictures Pictures) *chapter {
	bands := words.Bands(r)
	if len(bands) == 0 {
		return nil
	}
	c := &chapter{
		Anchor: "tolerance", Title: "Tolerance",
		About: words.ToleranceSentence + " Bands: share of the full occlusion pressure. What fewer than the floor of people did is left out.",
		Lead:  words.ToleranceSentences(r),
		Plots: []pictureView{pictures.Tolerance.view()},
	}
	t := table{Caption: "By exercise and band of pressure", Head: []string{"", "Bouts", "Ended early, per 1,000", "The data fit", "Pain settled by the next visit", "The data fit", "People"}}
	for i, b := range bands {
		label := words.ExerciseLabel(b.Exercise)
		if b.Exercise == "" {
			label = "All exercises"
		}
		if i == 0 || bands[i-1].Exercise != b.Exercise {
			t.Rows = append(t.Rows, row{Label: label, Sum: true, Cells: []string{"", "", "", "", "", ""}})
		}
		line := row{Label: b.Group.Label, Depth: 1, Cells: []string{words.None, words.None, words.None, words.None, words.None, words.None}}
		if f, ok := b.Group.Figure(r, "settled", ""); ok {
			line.Cells[3], line.Cells[4], line.Cells[5] = words.Value(f), words.Interval(f), words.Persons(f)
		}
		if f, ok := b.Group.Figure(r, "ended_early", ""); ok {
			line.Figure = f.ID
			line.Cells[0], line.Cells[1], line.Cells[2], line.Cells[5] = words.Counted(f), words.Value(f), words.Interval(f), words.Persons(f)
			if words.NoneSeen(f) {
				line.Cells[1] = "none seen"
			}
		}
		t.Rows = append(t.Rows, line)
	}
	c.Tables = filled(t)
	return c
}
