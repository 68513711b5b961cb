package figures

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// flowSteps are the counts of the flow in the order in which episodes pass
// them, and how many times the whole has been divided before.
var flowSteps = []struct {
	statistic string
	level     int
}{
	{"began", 0},
	{"no_usable", 1},
	{"at_target", 1},
	{"at_risk", 1},
	{"returned", 2},
	{"ended_otherwise", 2},
	{"not_followed", 2},
	{"lost", 3},
	{"left_otherwise", 3},
	{"in_care", 2},
}

// ReturnFlow draws what became of every episode that began: of one injury type,
// or of all with injury empty; at one site, or in the practice with site empty.
// Counts too small to show keep their row and say so.
// The error is a *NothingShownError where the number that began is not shown.
func ReturnFlow(r *disclosure.Released, injury, site string) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	g, ok := returnGroup(r, injury, site)
	if !ok {
		return Plot{}, nothing(flowLabel(r, injury, site), nil)
	}
	began, ok := g.Figure(r, "began", "")
	if !ok || began.Value == nil {
		return Plot{}, nothing(g.Label, []disclosure.Shown{began})
	}

	var d bars
	var drawn []disclosure.Shown
	var said []string
	for _, step := range flowSteps {
		s, ok := g.Figure(r, step.statistic, "")
		if !ok {
			continue
		}
		d.rows = append(d.rows, barRow{label: words.Label(s), level: step.level, length: s.Value, words: words.Value(s)})
		said = append(said, words.InSentence(words.Label(s))+" "+words.Value(s))
		drawn = append(drawn, s)
	}
	return picture{
		name:     g.Picture + ".flow",
		id:       g.Picture,
		title:    flowTitle(r, g, began),
		subtitle: fmt.Sprintf("Episodes begun from %s to %s; %s", words.Date(began.PeriodFrom), words.Date(began.PeriodTo), asOf(r.Context())),
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("%s. Bars of what became of all episodes begun: %s.", g.Label, strings.Join(said, ", ")),
		body:     d.height(),
		draw:     d.draw,
		table:    table(drawn),
	}.render()
}

func flowTitle(r *disclosure.Released, g words.Group, began disclosure.Shown) string {
	title := fmt.Sprintf("%s: of %s episodes of care", g.Label, words.Value(began))
	parts := []string{}
	if s, ok := g.Figure(r, "at_risk", ""); ok && s.Value != nil {
		parts = append(parts, words.Value(s)+" were followed for a return")
	}
	if s, ok := g.Figure(r, "returned", ""); ok && s.Value != nil {
		parts = append(parts, words.Value(s)+" are back at their target")
	}
	if len(parts) == 0 {
		return fmt.Sprintf("%s: %s episodes of care began", g.Label, words.Value(began))
	}
	return title + ", " + words.Join(parts)
}

// flowLabel names a group that has no figures.
func flowLabel(r *disclosure.Released, injury, site string) string {
	var parts []string
	for _, label := range []string{words.InjuryLabel(r.Context(), injury), words.SiteLabel(r.Context(), site)} {
		if label != "" {
			parts = append(parts, label)
		}
	}
	if len(parts) == 0 {
		return "The whole practice"
	}
	return strings.Join(parts, ", ")
}
