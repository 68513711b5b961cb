package figures

import (
	"fmt"
	"image/color"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// The inks of those who are on no step of the ladder.
var (
	notPlaced = color.RGBA{R: 0xe6, G: 0xe8, B: 0xea, A: 0xff}
	gone      = color.RGBA{R: 0xa4, G: 0xab, B: 0xb2, A: 0xff}
)

// ReturnStages draws how the people of an injury type are spread over the
// stages week by week: those back at their target on the ground, above them the
// stages from the highest to the lowest, lighter and lighter, and at the top, in
// grey, those judged by another ladder and those whose care ended otherwise.
// The error is a *NothingShownError where fewer than two weeks are shown.
func ReturnStages(r *disclosure.Released, injury string) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	g, ok := returnGroup(r, injury, "")
	stages := words.Stages(r, g)
	if !ok || len(stages) == 0 {
		return Plot{}, &NothingShownError{}
	}
	first := g.Along(r, "stage."+stages[0].Code)
	weeks := stackWeeks(r, g, stages, first)
	if len(weeks) < 2 {
		return Plot{}, nothing(g.Label, first)
	}

	d := columns{xCaption: "Weeks since care began", yCaption: "Share of people", weeks: weeks, levels: percentMarks(), underCaption: "Still followed and not yet back, rounded to 5"}
	var drawn []disclosure.Shown
	var said []string
	for _, l := range stackLayers(stages) {
		one := layer{label: l.label, ink: l.ink}
		for _, week := range weeks {
			f, ok := g.Figure(r, l.statistic, words.AtWeek(week))
			if !ok || f.Value == nil {
				one.shares = append(one.shares, 0)
				continue
			}
			one.shares = append(one.shares, *f.Value)
			one.last = words.Value(f)
			drawn = append(drawn, f)
		}
		if slices.Max(one.shares) == 0 {
			continue
		}
		said = append(said, words.InSentence(one.label)+" "+one.last)
		d.layers = append(d.layers, one)
	}
	for _, week := range weeks {
		if !slices.Contains(headlineWeeks, week) && week != weeks[len(weeks)-1] {
			continue
		}
		d.labelled = append(d.labelled, mark{week, words.Decimal(week, 0)})
		if f, ok := g.Figure(r, "at_risk", words.AtWeek(week)); ok && f.Value != nil {
			d.under = append(d.under, mark{week, words.Value(f)})
			drawn = append(drawn, f)
		}
	}
	last := drawn[len(weeks)-1]
	return picture{
		name: g.Picture + ".stages", id: g.Picture,
		title:    title(words.StageSentence(r, g)),
		subtitle: who(last, r.Context()),
		notes:    []string{"Those no longer followed are dealt to the stages as those are who are still watched. Ended otherwise: surgery, new injury of the same structure, care not to go on, no return intended, death."},
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("%s. Columns by week, stacked, of the share of people at their target and on each stage before it; by week %s: %s.", g.Label, words.Decimal(weeks[len(weeks)-1], 0), strings.Join(said, ", ")),
		body:     d.height(),
		draw:     d.draw,
		table:    table(drawn),
	}.render()
}

// stackLayer is a layer before its shares are known.
type stackLayer struct {
	statistic, label string
	ink              color.Color
}

// stackLayers are those at the target, then the stages from the highest down,
// those on none, and the ended.
func stackLayers(stages []words.Stage) []stackLayer {
	layers := []stackLayer{{"cumulative", "Back at their target", shade(1, 2)}}
	unplaced := []stackLayer{}
	if last := stages[len(stages)-1]; last.Unplaced() {
		stages = stages[:len(stages)-1]
		unplaced = []stackLayer{{"stage." + last.Code, last.Label, notPlaced}}
	}
	for i := len(stages) - 1; i >= 0; i-- {
		layers = append(layers, stackLayer{"stage." + stages[i].Code, stages[i].Label, shade(i, len(stages)+1)})
	}
	return append(append(layers, unplaced...), stackLayer{"competing", "Ended otherwise", gone})
}

// stackWeeks are the weeks from 0 on at which all is shown that a column is
// made of.
func stackWeeks(r *disclosure.Released, g words.Group, stages []words.Stage, first []disclosure.Shown) []float64 {
	var weeks []float64
	for _, f := range first {
		at := words.AtWeek(*f.X)
		for _, statistic := range []string{"cumulative", "competing"} {
			if s, ok := g.Figure(r, statistic, at); !ok || s.Value == nil {
				return weeks
			}
		}
		for _, s := range stages {
			if s, ok := g.Figure(r, "stage."+s.Code, at); !ok || s.Value == nil {
				return weeks
			}
		}
		weeks = append(weeks, *f.X)
	}
	return weeks
}
