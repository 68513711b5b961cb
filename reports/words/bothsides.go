package words

import (
	"fmt"
	"math"

	"evenlimb/pipeline/disclosure"
)

// BothSidesSentences say how each limb stood beside its own baseline where both
// sides are involved, in strength and in girth: at week 12, else at the last week
// before it with a value, else after it.
func BothSidesSentences(r *disclosure.Released) []Sentence {
	var out []Sentence
	for _, g := range Groups(r, "symmetry") {
		if !g.Whole() {
			continue
		}
		for _, statistic := range []string{"percent", "change"} {
			worse, ok := atHeadline(g.Along(r, "worse_side_"+statistic))
			if !ok {
				continue
			}
			all := []disclosure.Shown{worse}
			text := fmt.Sprintf("Where both sides are involved no index is possible; near week %s the worse side was typically %s", Decimal(*worse.X, 0), besideBaseline(worse))
			if other, ok := g.Figure(r, "other_side_"+statistic, AtWeek(*worse.X)); ok && other.Value != nil {
				all = append(all, other)
				text += ", the other " + besideBaseline(other)
			}
			out = append(out, say(text+".", all...))
		}
	}
	return out
}

// besideBaseline words one limb: "at 118 % of its own strength at baseline (the
// data fit 108 to 129; 17 people)".
func besideBaseline(f disclosure.Shown) string {
	fit := fmt.Sprintf(" (the data fit %s; %s people)", Interval(f), Persons(f))
	if f.Unit != "cm" {
		return "at " + Rounded(*f.Value, Digits(f)) + "\u00a0% of its own strength at baseline" + fit
	}
	switch size := Measured(math.Abs(*f.Value), f.Unit); {
	case size == Measured(0, f.Unit):
		return "as thick as at baseline" + fit
	case *f.Value < 0:
		return size + " thinner than at baseline" + fit
	default:
		return size + " thicker than at baseline" + fit
	}
}

// atHeadline picks of figures along weeks the one at week 12, else the last before
// it with a value, else the first after it.
func atHeadline(all []disclosure.Shown) (disclosure.Shown, bool) {
	var best *disclosure.Shown
	for i, f := range all {
		if f.Value != nil && (best == nil || *f.X <= headlineWeek) {
			best = &all[i]
		}
	}
	if best == nil {
		return disclosure.Shown{}, false
	}
	return *best, true
}
