package words

import (
	"fmt"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// LandmarkSentence stands beside every figure that sets a response against a
// dose.
const LandmarkSentence = "Counting dose only before the landmark removes the head start of those who return late, not the fact that whoever improves early may be loaded more."

// ManyIntervals stands over several verdicts at once.
const ManyIntervals = "Each interval is taken alone: of twenty that say 95 %, about one misses by chance what it is an interval of."

// DoseThirds are the statistics of the share returned, from the lower third of
// dose to the upper.
var DoseThirds = []string{"returned_low_third", "returned_middle_third", "returned_high_third"}

// DoseContrasts are those of the upper third less the lower.
var DoseContrasts = []string{"thirds_contrast_raw", "thirds_contrast_standardised"}

// first is the group's figure of a statistic at its first position.
func (g Group) first(r *disclosure.Released, statistic string) (disclosure.Shown, bool) {
	all := g.Along(r, statistic)
	if len(all) == 0 {
		return disclosure.Shown{}, false
	}
	return all[0], true
}

// DoseSentence is the leading sentence on dose and return of an injury type.
func DoseSentence(r *disclosure.Released, g Group) Sentence {
	low, ok1 := g.first(r, DoseThirds[0])
	high, ok2 := g.first(r, DoseThirds[2])
	switch {
	case !ok1 || !ok2:
		return Sentence{Text: g.Label + ": no share returned by dose, so nothing to say yet."}
	case low.Status == result.Hidden || high.Status == result.Hidden:
		return say(g.Label+": the share returned by dose is not shown (too few people).", low, high)
	case low.Value == nil || high.Value == nil:
		return say(g.Label+": dose and return are not compared. "+low.Reason, low)
	}
	return say(fmt.Sprintf("%s: by week %s, %s of the lower third of dose are back%s and %s of the upper third%s; not standardised, so severity differs between them.",
		g.Label, Decimal(*low.X, 0), Value(low), fitting(low, " (the data fit %s)"), Value(high), fitting(high, " (%s)")), low, high)
}

// fitting words the limits of a figure; nothing where it has none.
func fitting(f disclosure.Shown, format string) string {
	if f.Low == nil && f.High == nil {
		return ""
	}
	return fmt.Sprintf(format, Interval(f))
}

// DoseDetails are the sentences under it: the contrast raw and standardised with
// what the landmark does not remove, then how much was done.
func DoseDetails(r *disclosure.Released, g Group) []Sentence {
	var out []Sentence
	raw, ok1 := g.first(r, DoseContrasts[0])
	standardised, ok2 := g.first(r, DoseContrasts[1])
	if ok1 && ok2 && raw.Value != nil && standardised.Value != nil {
		out = append(out, say(fmt.Sprintf("Upper less lower third: %s raw%s, %s standardised over severity%s. %s",
			Value(raw), fitting(raw, " (the data fit %s)"), Value(standardised), fitting(standardised, " (%s)"), LandmarkSentence), raw, standardised))
	}
	if median, ok := g.Figure(r, "sets_per_week_median", ""); ok && median.Value != nil {
		text, figures := "Half of those with some work with the cuff did no more than "+Value(median), []disclosure.Shown{median}
		low, ok1 := g.Figure(r, "sets_per_week_lower_quartile", "")
		high, ok2 := g.Figure(r, "sets_per_week_upper_quartile", "")
		if ok1 && ok2 && low.Value != nil && high.Value != nil {
			text += fmt.Sprintf("; the middle half did %s to %s", Decimal(*low.Value, 1), Decimal(*high.Value, 1))
			figures = append(figures, low, high)
		}
		out = append(out, say(text+".", figures...))
	}
	if plan, ok := g.Figure(r, "plan_sets_share", ""); ok && plan.Value != nil {
		out = append(out, say(fmt.Sprintf("Of the sets that plans on record intended, %s were done.", Value(plan)), plan))
	}
	return out
}
