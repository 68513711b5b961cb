package words

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// alikeBriefly is what is standardised over, where its list has been given.
const alikeBriefly = "standardised over what was known at the start"

// AdjustedDetails are the sentences that compare doses among people alike at the
// start of care: some work or none, the quartiles of dose, what weighting makes of
// them, and how strong something unknown would have to be.
func AdjustedDetails(r *disclosure.Released, g Group) []Sentence {
	var out []Sentence
	for _, say := range []func(*disclosure.Released, Group) (Sentence, bool){anyWork, quartiles, weighted, curveTests, strength, measures, recorded} {
		if s, ok := say(r, g); ok {
			out = append(out, s)
		}
	}
	return out
}

// anyWork compares those with some work and those with none.
func anyWork(r *disclosure.Released, g Group) (Sentence, bool) {
	standardised, ok := g.first(r, "any_contrast_standardised")
	raw, both := g.first(r, "any_contrast_raw")
	switch {
	case !ok:
		return Sentence{}, false
	case standardised.Status == result.Withheld && (!both || raw.Value == nil):
		return say("Some work with the cuff and none are not compared. "+standardised.Reason, standardised), true
	case standardised.Value == nil || !both || raw.Value == nil:
		return Sentence{}, false
	}
	return say(fmt.Sprintf("Back by week %s, some work with the cuff before the landmark less none: %s raw%s, %s %s%s.",
		Decimal(*raw.X, 0), Value(raw), fitting(raw, " (the data fit %s)"), Value(standardised), alikeBriefly, fitting(standardised, " (%s)")), raw, standardised), true
}

// quartiles compares the third and the first quartile of dose.
func quartiles(r *disclosure.Released, g Group) (Sentence, bool) {
	standardised, ok := g.first(r, "quartiles_contrast_standardised")
	if !ok || standardised.Status == result.Hidden {
		return Sentence{}, false
	}
	if standardised.Value == nil {
		return say("The quartiles of dose are not compared. "+standardised.Reason, standardised), true
	}
	raw, ok1 := g.first(r, "quartiles_contrast_raw")
	from, ok2 := g.Figure(r, "first_quartile_dose", "")
	to, ok3 := g.Figure(r, "third_quartile_dose", "")
	if !ok1 || !ok2 || !ok3 || raw.Value == nil || from.Value == nil || to.Value == nil {
		return Sentence{}, false
	}
	text := fmt.Sprintf("Back by week %s at %s sets a week less at %s (the quartiles of dose): %s raw%s, %s %s%s. %s",
		Decimal(*raw.X, 0), Bare(to), Bare(from), Value(raw), fitting(raw, " (the data fit %s)"), Value(standardised), alikeBriefly, fitting(standardised, " (%s)"), LandmarkSentence)
	for _, w := range standardised.Warnings {
		if strings.HasPrefix(w, "Whether clinicians differ") {
			text += " " + w
		}
	}
	return say(text, raw, standardised, from, to), true
}

// weighted says what weighting makes of the contrast, or why it is not told.
func weighted(r *disclosure.Released, g Group) (Sentence, bool) {
	w, ok := g.first(r, "quartiles_contrast_weighted")
	if !ok || w.Status == result.Hidden {
		return Sentence{}, false
	}
	if w.Value == nil {
		return say("The same by weighting is withheld. "+w.Reason, w), true
	}
	between, ok := g.first(r, "quartiles_standardised_less_weighted")
	if !ok || between.Value == nil {
		return Sentence{}, false
	}
	agree := "the two do not disagree"
	if v := Judge(between, 0); v == AboveMark || v == BelowMark {
		agree = "the two disagree"
	}
	return say(fmt.Sprintf("The same by weighting: %s%s; %s, their difference is %s%s.",
		Value(w), fitting(w, " (%s)"), agree, Value(between), fitting(between, " (%s)")), w, between), true
}

// curveTests are the tests of the curve.
func curveTests(r *disclosure.Released, g Group) (Sentence, bool) {
	relation, ok1 := g.Figure(r, "relation_p", "")
	bend, ok2 := g.Figure(r, "curvature_p", "")
	if !ok1 || !ok2 || relation.Value == nil || bend.Value == nil {
		return Sentence{}, false
	}
	return say(fmt.Sprintf("Over the whole curve of dose: test of any relation p %s, test of a bend p %s.", Value(relation), Value(bend)), relation, bend), true
}

// strength says what something unknown would have to do, and what the strongest
// known thing could.
func strength(r *disclosure.Released, g Group) (Sentence, bool) {
	point, ok1 := g.first(r, "e_value")
	limit, ok2 := g.first(r, "e_value_limit")
	known, ok3 := g.first(r, "e_value_known")
	if !ok1 || !ok2 || !ok3 || point.Value == nil || limit.Value == nil || known.Value == nil {
		return Sentence{}, false
	}
	_, name, _ := strings.Cut(known.Method, ": ")
	return say(fmt.Sprintf("To make that difference by itself, something not on record would have to go with both dose and return by a ratio of %s (%s for the nearer end of its range); the strongest known thing, %s, could do as much as one of %s.",
		Bare(point), Bare(limit), name, Bare(known)), point, limit, known), true
}

// measures tell how the index, girth and pain near the week of change go with dose.
func measures(r *disclosure.Released, g Group) (Sentence, bool) {
	var parts []string
	var figures []disclosure.Shown
	for _, m := range []struct{ statistic, words string }{
		{"quartiles_index", "the index by %s%s"}, {"quartiles_girth", "the girth difference by %s%s"}, {"quartiles_pain", "pain by %s%s"},
	} {
		if f, ok := g.first(r, m.statistic); ok && f.Value != nil {
			parts, figures = append(parts, fmt.Sprintf(m.words, signed(f), fitting(f, " (%s)"))), append(figures, f)
		}
	}
	if len(parts) == 0 {
		return Sentence{}, false
	}
	text := fmt.Sprintf("Near week %s, of those measured then, third less first quartile of dose, people alike at the start: %s.", Decimal(*figures[0].X, 0), Join(parts))
	emax, ok1 := g.first(r, "quartiles_index_emax")
	spline, ok2 := g.first(r, "aic_index_spline")
	level, ok3 := g.first(r, "aic_index_emax")
	if ok1 && ok2 && ok3 && emax.Value != nil && spline.Value != nil && level.Value != nil {
		text += fmt.Sprintf(" On a curve that levels off the index differs by %s%s; AIC %s, and %s for the smooth one, by which nothing is chosen.",
			signed(emax), fitting(emax, " (%s)"), Value(level), Value(spline))
		figures = append(figures, emax, spline, level)
	}
	return say(text, figures...), true
}

// signed is a measured difference with its sign.
func signed(f disclosure.Shown) string {
	if text := Value(f); *f.Value > 0 && !strings.HasPrefix(text, "0.0") {
		return "+" + text
	}
	return Value(f)
}

// recorded says how the dose was recorded.
func recorded(r *disclosure.Released, g Group) (Sentence, bool) {
	var parts []string
	var figures []disclosure.Shown
	for _, share := range []struct{ statistic, words string }{
		{"sets_filled_in_share", "%s had no sets on record, and were filled in from the others"},
		{"pressure_estimated_share", "%s of those that say how the pressure was found had it estimated"},
		{"body_weight_share", "%s of those that say what the load was were against body weight"},
	} {
		if f, ok := g.Figure(r, share.statistic, ""); ok && f.Value != nil {
			parts, figures = append(parts, fmt.Sprintf(share.words, Value(f))), append(figures, f)
		}
	}
	if len(parts) == 0 {
		return Sentence{}, false
	}
	return say("How the dose was recorded: of the bouts with the cuff, "+strings.Join(parts, "; ")+".", figures...), true
}

// DoseCurveSentence is the title of the curve of dose.
func DoseCurveSentence(r *disclosure.Released, g Group) Sentence {
	points := g.Along(r, "dose_curve")
	contrast, ok := g.first(r, "quartiles_contrast_standardised")
	if len(points) < 2 || !ok || contrast.X == nil || points[0].Value == nil || points[len(points)-1].Value == nil {
		return Sentence{Text: g.Label + ": no curve of dose is told."}
	}
	low, high := points[0], points[len(points)-1]
	return say(fmt.Sprintf("%s: share back by week %s less that at %s sets a week: %s at %s sets%s, %s at %s%s.",
		g.Label, Decimal(*contrast.X, 0), ReferenceDose(r), Value(low), Decimal(*low.X, 0), fitting(low, " (the data fit %s)"), Value(high), Decimal(*high.X, 0), fitting(high, " (%s)")), low, high)
}

// ReferenceDose is the sets a week against which the curve of dose is told.
func ReferenceDose(r *disclosure.Released) string {
	for _, s := range r.Context().Settings {
		if s.Key == "dose.reference_sets" {
			return s.Value
		}
	}
	return None
}

// DosePooledSentence is the leading sentence on the injury types together.
func DosePooledSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	f, ok := g.Figure(r, "quartiles_contrast_pooled", "")
	if !ok || f.Value == nil {
		return Sentence{}, false
	}
	return say(fmt.Sprintf("Over the injury types that can be compared, the share back at the third quartile of dose less that at the first is %s on average%s, %s.",
		Value(f), fitting(f, " (the data fit %s)"), alikeBriefly), f), true
}
