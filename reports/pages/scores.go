package pages

import (
	"strconv"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// scoresChapter tells of pain and scores; nil without figures.
func scoresChapter(r *disclosure.Released, pictures Pictures) *chapter {
	c := &chapter{
		Anchor: "scores", Title: "Pain and scores",
		About: "Each measure on its own scale; versions of a score are never mixed. Typical values are those had everybody gone on answering. Injury types whose people mostly keep up their activity stand first: there these lead. In brackets: the range that the data fit (95 %).",
		Plots: []pictureView{pictures.Pain.view()},
	}
	for _, injury := range words.ScoreOrder(r) {
		p := part{Anchor: "scores-" + injury.Code, Label: injury.Label}
		groups := words.ScoresLeading(r, injury.Code)
		for i, g := range groups {
			s := sayings{Details: words.ScoreDetails(r, g)}
			if i == 0 {
				s.Plot = pictures.Scores[g.Picture].view()
			}
			if s.Plot.SVG == "" {
				lead := words.ScoreSentence(r, g)
				s.Lead, s.Plot.Absent = &lead, ""
			}
			p.Sayings = append(p.Sayings, s)
		}
		p.Tables = filled(typicalScores(r, groups))
		c.Parts = append(c.Parts, p)
	}
	if len(c.Parts) == 0 {
		return nil
	}
	return c
}

// typicalScores are the values at the weeks stated.
func typicalScores(r *disclosure.Released, groups []words.Group) table {
	t := table{Caption: "Typical values, points", Head: []string{"", "Week", "Typical", "The data fit", words.MonthBefore, "Since the start", "The data fit", "At the best end", "Answered then"}}
	for _, g := range groups {
		for _, f := range g.Along(r, "typical") {
			if f.Status == result.Hidden {
				continue
			}
			line := row{Label: words.MeasureLabel(g.Measure), Figure: f.ID, Cells: []string{
				strconv.Itoa(int(*f.X)), words.Bare(f), words.Interval(f), words.Before(r, f), words.None, words.None, words.None, words.None,
			}}
			if change, ok := g.Figure(r, "change", words.AtWeek(*f.X)); ok && change.Status != result.Hidden {
				line.Cells[4], line.Cells[5] = words.Bare(change), words.Interval(change)
			}
			if best, ok := g.Figure(r, "at_best", words.AtWeek(*f.X)); ok {
				line.Cells[6], line.Cells[7] = words.WithInterval(best), words.Persons(best)
			}
			t.Rows = append(t.Rows, line)
		}
	}
	return t
}
