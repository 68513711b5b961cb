package words

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// setting is the value of a setting in force, "so many" where the report does
// not hold it.
func setting(c result.Context, key string) string {
	for _, s := range c.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return "so many"
}

// wholeOf is the whole practice's group of a question; false without figures.
func wholeOf(r *disclosure.Released, question string) (Group, bool) {
	groups := Groups(r, question)
	if len(groups) == 0 || !groups[0].Whole() {
		return Group{}, false
	}
	return groups[0], true
}

// shown finds the group's figures of several statistics; false unless all have a
// value.
func (g Group) shown(r *disclosure.Released, statistics ...string) ([]disclosure.Shown, bool) {
	var out []disclosure.Shown
	for _, statistic := range statistics {
		f, ok := g.Figure(r, statistic, "")
		if !ok || f.Value == nil {
			return nil, false
		}
		out = append(out, f)
	}
	return out, true
}

// ProgressSentences tell of the whole practice how exercises moved.
func ProgressSentences(r *disclosure.Released) []Sentence {
	g, ok := wholeOf(r, "progression")
	if !ok {
		return nil
	}
	var out []Sentence
	if f, ok := g.shown(r, "first_step_median_weeks"); ok {
		out = append(out, say(fmt.Sprintf("Half of the people had taken a first step up in an exercise by week %s%s.", Decimal(*f[0].Value, 1), fitting(f[0], " (the data fit %s)")), f...))
	}
	if f, ok := g.shown(r, "step_up", "step_back"); ok {
		out = append(out, say(fmt.Sprintf("Set against the visit before, %s of the visits were a step up%s and %s a step back%s.",
			Value(f[0]), fitting(f[0], " (the data fit %s)"), Value(f[1]), fitting(f[1], " (%s)")), f...))
	}
	if f, ok := g.shown(r, "back_after_pain", "back_otherwise"); ok {
		out = append(out, say(fmt.Sprintf("Within %s days after a painful session %s of the visits were a step back%s, otherwise %s%s. Why somebody stepped back is not on record.",
			setting(r.Context(), "progression.after_pain_days"), Value(f[0]), fitting(f[0], " (the data fit %s)"), Value(f[1]), fitting(f[1], " (%s)")), f...))
	}
	if f, ok := g.shown(r, "stalled"); ok {
		out = append(out, say(fmt.Sprintf("Of the exercises kept up for %s days or more, %s stood at one level and load for as long%s.",
			setting(r.Context(), "progression.stall_days"), Value(f[0]), fitting(f[0], " (the data fit %s)")), f...))
	}
	return out
}

// PlanStatistics are what is set against the plan.
var PlanStatistics = []string{"sessions_share", "sets_share", "pressure_share", "minutes_share"}

// PlanSentences tell of the whole practice what was done of what was planned.
func PlanSentences(r *disclosure.Released) []Sentence {
	g, ok := wholeOf(r, "plan")
	if !ok {
		return nil
	}
	var parts []string
	var figures []disclosure.Shown
	for i, statistic := range PlanStatistics {
		f, ok := g.Figure(r, statistic, "")
		if !ok || f.Value == nil {
			continue
		}
		what := []string{"%s of the sessions", "%s of the sets of as many sessions", "%s of the pressure", "%s of the minutes that the planned work takes"}[i]
		parts, figures = append(parts, fmt.Sprintf(what, Value(f))+fitting(f, " (%s)")), append(figures, f)
	}
	if len(parts) == 0 {
		return nil
	}
	return []Sentence{say("Set against the plans on record, before the landmark: "+Join(parts)+". In brackets: the range that the data fit.", figures...)}
}

// ExerciseLabel is the label of an exercise's code.
func ExerciseLabel(code string) string { return reference.Label("exercises", code) }

// BandLabel names a band of pressure by its code.
func BandLabel(code string) string {
	if code == "without_cuff" {
		return "Without the cuff"
	}
	if bound, ok := strings.CutPrefix(code, "under_"); ok {
		return "With the cuff, under " + bound + "\u00a0%"
	}
	if bound, ok := strings.CutSuffix(code, "_and_over"); ok {
		return bound + "\u00a0% and over"
	}
	low, high, _ := strings.Cut(code, "_to_")
	return low + " to under " + high + "\u00a0%"
}

// bandOrder puts bands in order of their pressure, without the cuff first.
func bandOrder(code string) int {
	if code == "without_cuff" {
		return -2
	}
	if strings.HasPrefix(code, "under_") {
		return -1
	}
	low, _, _ := strings.Cut(code, "_")
	bound, err := strconv.Atoi(low)
	if err != nil {
		return 0
	}
	return bound
}

// Band is one band of pressure of an exercise, or of all with Exercise empty.
type Band struct {
	Exercise string // code
	Code     string // of the band
	Group    Group
}

// Bands are those that have figures: of all exercises first, then exercise by
// exercise in the order of the code table, by pressure within each.
func Bands(r *disclosure.Released) []Band {
	var bands []Band
	seen := map[string]bool{}
	for _, f := range r.Figures() {
		if f.Question != "tolerance" || seen[f.Picture()] {
			continue
		}
		seen[f.Picture()] = true
		bands = append(bands, Band{f.Measure, f.Stratum, Group{
			Picture: f.Picture(), Measure: f.Measure, Label: BandLabel(f.Stratum), From: f.PeriodFrom, To: f.PeriodTo,
		}})
	}
	codes := reference.Codes("exercises")
	slices.SortStableFunc(bands, func(a, b Band) int {
		return cmp.Or(cmp.Compare(slices.Index(codes, a.Exercise), slices.Index(codes, b.Exercise)), cmp.Compare(bandOrder(a.Code), bandOrder(b.Code)))
	})
	return bands
}

// AllExercises are the bands of all exercises together.
func AllExercises(bands []Band) []Band {
	return slices.DeleteFunc(slices.Clone(bands), func(b Band) bool { return b.Exercise != "" })
}

// Counted is on how many bouts or visits a figure of tolerance rests.
func Counted(f disclosure.Shown) string {
	if f.Exposure == nil {
		return None
	}
	return Count(int(*f.Exposure))
}

// TolerancePicture is the title of the picture of all bands: how far they lie
// apart.
func TolerancePicture(r *disclosure.Released) Sentence {
	var low, high *disclosure.Shown
	for _, b := range AllExercises(Bands(r)) {
		f, ok := b.Group.Figure(r, "ended_early", "")
		if !ok || f.Value == nil {
			continue
		}
		if low == nil || *f.Value < *low.Value {
			low = &f
		}
		if high == nil || *f.Value > *high.Value {
			high = &f
		}
	}
	switch {
	case low == nil:
		return Sentence{Text: "No bout is told of that was ended early for pain or a symptom."}
	case low.ID == high.ID:
		return say(fmt.Sprintf("Of 1,000 bouts, %s were ended early for pain or a symptom.", Value(*low)), *low)
	default:
		return say(fmt.Sprintf("Of 1,000 bouts, %s to %s were ended early for pain or a symptom, by band of pressure.", Value(*low), Value(*high)), *low, *high)
	}
}

// ToleranceSentences tell of all exercises together, band by band, whether pain
// had settled.
func ToleranceSentences(r *disclosure.Released) []Sentence {
	var parts []string
	var figures []disclosure.Shown
	for _, b := range AllExercises(Bands(r)) {
		if f, ok := b.Group.Figure(r, "settled", ""); ok && f.Value != nil {
			parts, figures = append(parts, fmt.Sprintf("%s %s%s", InSentence(b.Group.Label), Value(f), fitting(f, " (%s)"))), append(figures, f)
		}
	}
	out := []Sentence{TolerancePicture(r)}
	if len(parts) > 0 {
		out = append(out, say("Where pain was higher after a session than before it, it had settled by the next one in: "+strings.Join(parts, "; ")+". In brackets: the range that the data fit.", figures...))
	}
	return out
}

// ToleranceSentence stands beside every figure of tolerance.
const ToleranceSentence = "Who works at which pressure, and with which exercise, is chosen for reasons that are not on record: bands differ in their people, and none of this says what a pressure does."
