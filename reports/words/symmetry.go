package words

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// MeasureLabel is the label of a measure's code, the code itself where the code
// tables have none.
func MeasureLabel(code string) string { return reference.Label("measures", code) }

// MeasureUnit is the unit of a measure in words.
func MeasureUnit(code string) string {
	unit, _ := reference.Cell("measures", code, "unit")
	return unitWords(unit)
}

// unitWords are the words of a unit: counts and scores have a code in its place.
func unitWords(unit string) string {
	switch unit {
	case "{score}":
		return "points"
	case "{rep}":
		return "repetitions"
	default:
		return unit
	}
}

// IsGirth says that the two sides of a group are compared as a difference in
// centimetres.
func (g Group) IsGirth() bool { return measureKind(g.Measure) == "girth" }

// CanBeZero says that they are compared as a difference in percent of the other
// side at baseline: what can be zero has no index that a model could follow.
func (g Group) CanBeZero() bool {
	kind := measureKind(g.Measure)
	return kind == "hop" || kind == "endurance"
}

// IsIndex says that they are compared as an index, in percent of the other side.
func (g Group) IsIndex() bool { return !g.IsGirth() && !g.CanBeZero() }

func measureKind(code string) string {
	kind, _ := reference.Cell("measures", code, "kind")
	return kind
}

// SidesCurve is the group's statistic that compares the two sides over weeks.
func (g Group) SidesCurve() string {
	switch {
	case g.IsGirth():
		return "girth_curve"
	case g.CanBeZero():
		return "difference_curve"
	default:
		return "index_curve"
	}
}

// SidesTypical is the group's statistic that compares the two sides at a week.
func (g Group) SidesTypical() string {
	switch {
	case g.IsGirth():
		return "girth_difference"
	case g.CanBeZero():
		return "baseline_difference"
	default:
		return "typical_index"
	}
}

// SidesBeside is the group's statistic that stands beside it: the index against
// the baseline, the difference of girth in percent, the share at zero.
func (g Group) SidesBeside() string {
	switch {
	case g.IsGirth():
		return "girth_percent"
	case g.CanBeZero():
		return "at_zero"
	default:
		return "baseline_index"
	}
}

// BesideTypical heads it, in a table of the groups.
func BesideTypical(groups []Group) string {
	heading := "Index against baseline; girth in %"
	if slices.ContainsFunc(groups, Group.CanBeZero) {
		heading += "; share at zero"
	}
	return heading
}

// SymmetryGroups are the measures of an injury type, in the order of the code
// table.
func SymmetryGroups(r *disclosure.Released, injury string) []Group {
	groups := slices.DeleteFunc(Groups(r, "symmetry"), func(g Group) bool { return g.InjuryType != injury || g.Site != "" || g.Measure == "" })
	codes := reference.Codes("measures")
	slices.SortStableFunc(groups, func(a, b Group) int {
		return slices.Index(codes, a.Measure) - slices.Index(codes, b.Measure)
	})
	return groups
}

// LeadingMeasures are those that stand for an injury type: of strength, of girth
// and of what can be zero the one whose curve rests on most people, in this order.
// Of two with as many the first in the code table leads.
func LeadingMeasures(r *disclosure.Released, injury string) []Group {
	var lead [3]*Group
	var people [3]int
	for _, g := range SymmetryGroups(r, injury) {
		kind := 0
		switch {
		case g.IsGirth():
			kind = 1
		case g.CanBeZero():
			kind = 2
		}
		n := 0
		for _, f := range g.Along(r, g.SidesCurve()) {
			if f.Persons != nil {
				n = max(n, *f.Persons)
			}
		}
		if lead[kind] == nil || n > people[kind] {
			lead[kind], people[kind] = &g, n
		}
	}
	var out []Group
	for _, g := range lead {
		if g != nil {
			out = append(out, *g)
		}
	}
	return out
}

// typical is the comparison of the two sides that leads a group: at week 12,
// else at the last week before it, else after it, with a value.
func typical(r *disclosure.Released, g Group) (disclosure.Shown, bool) {
	all := g.Along(r, g.SidesTypical())
	if len(all) == 0 {
		return disclosure.Shown{}, false
	}
	if best, ok := atHeadline(all); ok {
		return best, true
	}
	return all[0], true
}

// SymmetrySentence is the leading sentence on how alike the two sides are.
func SymmetrySentence(r *disclosure.Released, g Group) Sentence {
	subject := g.Label + ", " + InSentence(MeasureLabel(g.Measure))
	f, ok := typical(r, g)
	switch {
	case !ok:
		return Sentence{Text: subject + ": no comparison of the two sides, so nothing to say yet."}
	case f.Status == result.Hidden:
		return say(subject+": not shown (too few people).", f)
	case f.Value == nil:
		return say(subject+": cannot tell yet. "+f.Reason, f)
	case g.IsGirth():
		return say(fmt.Sprintf("%s: at week %s the involved side is typically %s (%s).", subject, Decimal(*f.X, 0), thinner(*f.Value, f.Unit), thinnerRange(f)), f)
	case g.CanBeZero():
		return say(fmt.Sprintf("%s: at week %s the involved side is typically %s (%s).", subject, Decimal(*f.X, 0), behind(*f.Value), behindRange(f)), f)
	default:
		return say(fmt.Sprintf("%s: at week %s the involved side is typically at %s of the other (the data fit %s).", subject, Decimal(*f.X, 0), Value(f), Interval(f)), f)
	}
}

// thinner words a difference of girth: "1.4 cm thinner than the other".
func thinner(v float64, unit string) string {
	switch size := Measured(math.Abs(v), unit); {
	case size == Measured(0, unit):
		return "as thick as the other"
	case v < 0:
		return size + " thinner than the other"
	default:
		return size + " thicker than the other"
	}
}

// thinnerRange words its limits without a sign where both lie on one side.
func thinnerRange(f disclosure.Shown) string {
	if f.Low == nil || f.High == nil {
		return "no limits"
	}
	number := func(v float64) string { return Decimal(math.Abs(v), digitsOf(f.Unit)) }
	low, high := *f.Low, *f.High
	switch {
	case high <= 0:
		return fmt.Sprintf("the data fit %s to %s", number(high), number(low))
	case low >= 0 && *f.Value >= 0:
		return fmt.Sprintf("the data fit %s to %s", number(low), number(high))
	default:
		return fmt.Sprintf("the data fit from %s thinner to %s thicker", Measured(-low, f.Unit), Measured(high, f.Unit))
	}
}

// behind words a difference in percent of the other side's baseline.
func behind(v float64) string {
	size := Decimal(math.Abs(v), 0) + "\u00a0%"
	switch {
	case math.Abs(v) < 0.5:
		return "level with the other"
	case v < 0:
		return "behind the other by " + size + " of what the other did at baseline"
	default:
		return "ahead of the other by " + size + " of what the other did at baseline"
	}
}

// behindRange words its limits without a sign where both lie on one side.
func behindRange(f disclosure.Shown) string {
	if f.Low == nil || f.High == nil {
		return "no limits"
	}
	number := func(v float64) string { return Decimal(math.Abs(v), 0) }
	switch low, high := *f.Low, *f.High; {
	case high <= 0:
		return fmt.Sprintf("the data fit %s to %s", number(high), number(low))
	case low >= 0:
		return fmt.Sprintf("the data fit %s to %s", number(low), number(high))
	default:
		return fmt.Sprintf("the data fit from %s\u00a0%% behind to %s\u00a0%% ahead", number(low), number(high))
	}
}

// SidesSentences say of how many episodes in the whole practice the two sides can
// be compared, in strength and in girth.
func SidesSentences(r *disclosure.Released) []Sentence {
	var out []Sentence
	for _, g := range Groups(r, "symmetry") {
		began, ok1 := g.Figure(r, "began", "")
		pairs, ok2 := g.Figure(r, "pairs", "")
		if !g.Whole() || !ok1 || !ok2 || began.Value == nil || pairs.Value == nil {
			continue
		}
		kind := g.Measure
		switch kind {
		case "hop":
			kind = "hops"
		case "endurance":
			kind = "raises and other repetitions"
		}
		text := fmt.Sprintf("In %s, both sides were measured in %s of %s", kind, Value(pairs), episodes(began))
		all := []disclosure.Shown{pairs, began}
		var rest []string
		for _, p := range []struct{ statistic, words string }{{"bilateral", "%s both sides are involved"}, {"no_pair", "%s they were not"}} {
			if f, ok := g.Figure(r, p.statistic, ""); ok && (f.Value != nil || f.ValueBelow > 0) {
				rest = append(rest, "in "+fmt.Sprintf(p.words, Value(f)))
				all = append(all, f)
			}
		}
		if len(rest) > 0 {
			text += "; " + Join(rest)
		}
		out = append(out, say(text+".", all...))
	}
	return append(out, BothSidesSentences(r)...)
}

// SymmetryDetails are the sentences under a group's curves.
func SymmetryDetails(r *disclosure.Released, g Group) []Sentence {
	var out []Sentence
	if f, ok := typical(r, g); ok && f.Value != nil {
		if base, ok := g.Figure(r, "baseline_index", AtWeek(*f.X)); ok && base.Value != nil {
			out = append(out, say(fmt.Sprintf("In percent of the other side as it was at baseline it is %s (the data fit %s): the other side changes too, and the plain index does not show that.",
				Value(base), Interval(base)), base))
		}
		if zero, ok := g.Figure(r, "at_zero", AtWeek(*f.X)); ok && zero.Value != nil {
			out = append(out, say(fmt.Sprintf("Of those measured near that week, %s could do nothing at all on the involved side (the data fit %s); they are in the typical value.", Value(zero), Interval(zero)), zero))
		}
		if s, ok := measuredSentence(r, g, *f.X); ok {
			out = append(out, s)
		}
	}
	if s, ok := reachedSentence(r, g); ok {
		out = append(out, s)
	}
	for _, sentence := range []func(*disclosure.Released, Group) (Sentence, bool){ThresholdSentence, ChangeSentence, LastChangeSentence, ImportantSentence} {
		if s, ok := sentence(r, g); ok {
			out = append(out, s)
		}
	}
	return out
}

func measuredSentence(r *disclosure.Released, g Group, week float64) (Sentence, bool) {
	measured, ok1 := g.Figure(r, "measured", AtWeek(week))
	back, ok2 := g.OfType().Figure(r, "returned_already", AtWeek(week))
	if !ok1 || !ok2 || (measured.Status == result.Hidden && measured.ValueBelow == 0) {
		return Sentence{}, false
	}
	text := fmt.Sprintf("Near week %s, %s people were measured on both sides", Decimal(week, 0), Value(measured))
	if back.Status == result.Hidden && back.ValueBelow == 0 {
		return say(text+".", measured), true
	}
	if back.Value != nil && *back.Value == 0 {
		return say(text+"; nobody who began care was back at their target by then.", measured, back), true
	}
	return say(fmt.Sprintf("%s; %s were back at their target by then. Whoever is back is often measured no more, and the typical value stands for them too.", text, Value(back)), measured, back), true
}

// reachedSentence tells of the last week at which a share is known.
func reachedSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	var last *disclosure.Shown
	for _, f := range r.Picture(g.Picture) {
		if strings.HasPrefix(f.Statistic, "reached_") && f.X != nil && f.Value != nil {
			last = &f
		}
	}
	if last == nil {
		return Sentence{}, false
	}
	text := fmt.Sprintf("By week %s, %s had come to an index of %s\u00a0%% and held it", Decimal(*last.X, 0), Value(*last), strings.TrimPrefix(last.Statistic, "reached_"))
	if last.Low != nil {
		text += fmt.Sprintf(" (the data fit %s)", Interval(*last))
	}
	text += "."
	if last.Status == result.Provisional {
		text += " Provisional."
	}
	return say(text, *last), true
}

// ChangeSentence sets the change since baseline against the error of measuring;
// false where nothing may be said.
func ChangeSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	known, ok := g.Figure(r, "change_known", "")
	if !ok {
		return Sentence{}, false
	}
	if known.Status == result.Withheld {
		return say("Real change cannot be told. "+known.Reason, known), true
	}
	if known.Status == result.Hidden || (known.Value != nil && *known.Value == 0) {
		return Sentence{}, false
	}
	all := []disclosure.Shown{known}
	var parts []string
	for _, p := range []struct{ statistic, words string }{
		{"improved", "improved by more than the error of measuring"},
		{"no_real_change", "did not change beyond the error of measuring"},
		{"worse", "became worse by more than that error"},
	} {
		f, ok := g.Figure(r, p.statistic, "")
		if !ok || (f.Status == result.Hidden && f.ValueBelow == 0) {
			continue
		}
		all = append(all, f)
		parts = append(parts, Value(f)+" "+p.words)
	}
	text := fmt.Sprintf("Of %s measured at baseline and at the later visit compared", episodes(known))
	if len(parts) == 0 {
		return say(text+", how many changed is not shown (too few people).", all...), true
	}
	return say(text+", "+Join(parts)+".", all...), true
}
