package figures

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// DosePooled draws for each injury type that can be compared the share back at
// the third quartile of dose less that at the first, as its own people say and
// leaning on the other types, and the mean of the types, in the order of the
// practice's list.
// The error is a *NothingShownError where no mean is shown.
func DosePooled(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	var whole words.Group
	d := dots{caption: "Percentage points", columns: [2]string{"own (interval)", "leaning (interval)"}}
	var shown []disclosure.Shown
	var said []string
	byWeeks := map[float64][]string{}
	for _, g := range words.Groups(r, "dose") {
		if g.Whole() {
			whole = g
			continue
		}
		own, leaning := g.Along(r, "quartiles_contrast_standardised"), g.Along(r, "quartiles_contrast_shrunken")
		if !g.IsType() || len(own) == 0 || len(leaning) == 0 || own[0].Value == nil || leaning[0].Value == nil {
			continue
		}
		at, beside := points(own[:1])[0], points(leaning[:1])[0]
		d.rows = append(d.rows, dotRow{
			label: g.Label, estimate: &at, beside: &beside,
			words: [2]string{shortPoints(own[0]), shortPoints(leaning[0])},
		})
		byWeeks[*own[0].X] = append(byWeeks[*own[0].X], words.InSentence(g.Label))
		shown = append(shown, own[0], leaning[0])
		said = append(said, g.Label+" "+words.WithInterval(own[0]))
	}
	sentence, ok := words.DosePooledSentence(r, whole)
	if !ok || len(d.rows) < 2 {
		return Plot{}, &NothingShownError{Reason: "Fewer than two injury types can be compared, so that none can lean on another."}
	}
	mean, _ := whole.Figure(r, "quartiles_contrast_pooled", "")
	if mean.Low == nil || mean.High == nil {
		return Plot{}, nothing(whole.Label, []disclosure.Shown{mean})
	}
	at := point{y: *mean.Value, low: *mean.Low, high: *mean.High}
	d.rows = append(d.rows, dotRow{label: "Mean of the types", estimate: &at, words: [2]string{shortPoints(mean), ""}})
	shown = append(shown, mean)
	d.scale = pointMarks(shown)
	return picture{
		name: whole.Picture + ".pooled", id: whole.Picture + "/quartiles_contrast_pooled",
		title:    title(sentence),
		subtitle: who(mean, r.Context()),
		notes: []string{
			fmt.Sprintf("Dot: what the type's own people say, standardised over what was known at the start; ring: leaning on the other types. Bars: %s intervals. Each type at its own quartiles of dose, and back %s.", words.Percent(mean.Level), weeksOf(byWeeks)),
			words.LandmarkSentence,
		},
		madeUp: r.Context().MadeUp,
		alt:    fmt.Sprintf("Dots with intervals for the share back at the third quartile of dose less that at the first: %s. Mean of the types %s.", strings.Join(said, "; "), words.WithInterval(mean)),
		body:   d.height(),
		draw:   d.draw,
		table:  table(shown),
	}.render()
}

// weeksOf says which types are judged by which week, the latest first.
func weeksOf(types map[float64][]string) string {
	weeks := slices.Sorted(maps.Keys(types))
	slices.Reverse(weeks)
	var said []string
	for i, week := range weeks {
		text := "by week " + words.Decimal(week, 0)
		if i > 0 {
			text += " for " + words.Join(types[week])
		}
		said = append(said, text)
	}
	return strings.Join(said, "; ")
}

// shortPoints is a difference with its interval without the unit.
func shortPoints(f disclosure.Shown) string {
	return strings.NewReplacer("\u00a0points", "", "\u00a0point", "").Replace(words.WithInterval(f))
}
