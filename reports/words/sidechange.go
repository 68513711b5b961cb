package words

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// Split is a number of episodes and the three parts it is split into, of one
// group.
type Split struct {
	Label string // what is compared: "Real change, to week 12"
	Error string // what it is judged by: "0.5 cm for one rater, 0.65 cm for two"
	Whole disclosure.Shown
	Parts []disclosure.Shown // for the better, within, for the worse
}

// Splits are the group's comparisons of a change with the error of measuring and
// with the minimal important change, and of its index with the threshold, those
// that have figures.
func Splits(r *disclosure.Released, g Group) []Split {
	week := ChangeWeek(r)
	var out []Split
	add := func(label, by, whole string, parts ...string) {
		f, ok := g.Figure(r, whole, "")
		if !ok || f.Status == result.Withheld {
			return
		}
		s := Split{Label: label, Error: by, Whole: f}
		for _, part := range parts {
			if p, ok := g.Figure(r, part, ""); ok {
				s.Parts = append(s.Parts, p)
			}
		}
		if len(s.Parts) == len(parts) {
			out = append(out, s)
		}
	}
	by := MeasuringError(g.Measure)
	add("Real change, to "+week, by, "change_known", "improved", "no_real_change", "worse")
	add("Real change, to the last visit", by, "change_known_last", "improved_last", "no_real_change_last", "worse_last")
	mic := ImportantChange(g.Measure)
	add("Important change, to "+week, mic, "change_compared", "important_better", "not_important", "important_worse")
	add("Important change, to the last visit", mic, "change_compared_last", "important_better_last", "not_important_last", "important_worse_last")
	if percent := judgedAt(r, g); percent != "" {
		if f, ok := g.Figure(r, "error_at_"+percent, ""); ok && f.Value != nil {
			by = "usually " + Value(f) + "; measure: " + by
		}
		add("Index against "+percent+"\u00a0%, near "+week, by, "judged_"+percent, "clear_of_"+percent, "undecided_"+percent, "below_"+percent)
	}
	return out
}

// ChangeWeek is the week at which change is judged, by the settings in force:
// "week 12".
func ChangeWeek(r *disclosure.Released) string {
	for _, s := range r.Context().Settings {
		if s.Key == "symmetry.change_week" {
			return "week " + s.Value
		}
	}
	return "the week compared"
}

// judgedAt is the threshold at which a group's indices are judged, such as 90;
// empty where they are not.
func judgedAt(r *disclosure.Released, g Group) string {
	figures := r.Picture(g.Picture)
	i := slices.IndexFunc(figures, func(f disclosure.Shown) bool { return strings.HasPrefix(f.Statistic, "judged_") })
	if i < 0 {
		return ""
	}
	return strings.TrimPrefix(figures[i].Statistic, "judged_")
}

// MeasuringError says by which error changes of a measure are judged: the smallest
// real change at 95 %, for one rater and for two. An error that its source states
// at 90 % is marked.
func MeasuringError(measure string) string {
	var parts []string
	unit := MeasureUnit(measure)
	for _, raters := range []struct{ column, words string }{{"mdc95_same_rater", "one rater"}, {"mdc95_other_rater", "two"}} {
		if limit, _ := reference.Cell("measures", measure, raters.column); limit != "" {
			parts = append(parts, limit+"\u00a0"+unit+" for "+raters.words)
		}
	}
	if len(parts) == 0 {
		return "not known"
	}
	text := strings.Join(parts, ", ")
	if source, _ := reference.Cell("measures", measure, "source"); strings.Contains(source, "MDC90") {
		text += " (from an error stated at 90\u00a0%)"
	}
	return text
}

// ImportantChange is the minimal important change of a measure with its unit.
func ImportantChange(measure string) string {
	limit, _ := reference.Cell("measures", measure, "mic")
	if limit == "" {
		return "not known"
	}
	return limit + "\u00a0" + MeasureUnit(measure)
}

// ThresholdSentence says how many indices lie clear of the threshold, and how many
// too near to it to be decided; false where they are not judged or nothing may be
// said.
func ThresholdSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	percent := judgedAt(r, g)
	if percent == "" {
		return Sentence{}, false
	}
	whole, _ := g.Figure(r, "judged_"+percent, "")
	if whole.Value == nil || *whole.Value == 0 {
		return Sentence{}, false
	}
	all := []disclosure.Shown{whole}
	text := "An index has an error of its own"
	if f, ok := g.Figure(r, "error_at_"+percent, ""); ok && f.Value != nil {
		all = append(all, f)
		text += fmt.Sprintf(", here usually %s (95\u00a0%%): that of the measure is %s", Value(f), MeasuringError(g.Measure))
	}
	var parts []string
	for _, p := range []struct{ statistic, words string }{
		{"clear_of_", " at " + percent + "\u00a0% or above by more than that error"},
		{"undecided_", " too near to " + percent + "\u00a0% to be decided"},
		{"below_", " below it by more than that error"},
	} {
		if f, ok := g.Figure(r, p.statistic+percent, ""); ok && (f.Value != nil || f.ValueBelow > 0) {
			all, parts = append(all, f), append(parts, Value(f)+p.words)
		}
	}
	text += fmt.Sprintf(". Near %s, %s had an index", ChangeWeek(r), episodes(whole))
	if len(parts) == 0 {
		return say(text+"; where they lie is not shown (too few people).", all...), true
	}
	return say(text+": "+Join(parts)+".", all...), true
}

// LastChangeSentence sets the change up to the last visit against the error of
// measuring; false where nothing may be said.
func LastChangeSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	text, all, ok := parts(r, g, "change_known_last", []struct{ statistic, words string }{
		{"improved_last", "improved by more than the error of measuring"},
		{"no_real_change_last", "did not change beyond it"},
		{"worse_last", "became worse by more than it"},
	})
	if !ok {
		return Sentence{}, false
	}
	until := "From baseline to the last visit"
	if f, ok := g.Figure(r, "last_visit_weeks", ""); ok && f.Value != nil {
		until += fmt.Sprintf(" (half of them by week %s)", Decimal(*f.Value, 0))
		all = append(all, f)
	}
	return say(until+", of "+text, all...), true
}

// ImportantSentence sets the change against the minimal important one; false where
// none is known or nothing may be said.
func ImportantSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	text, all, ok := parts(r, g, "change_compared", []struct{ statistic, words string }{
		{"important_better", "were better by " + ImportantChange(g.Measure) + " or more"},
		{"not_important", "had changed by less"},
		{"important_worse", "were worse by as much"},
	})
	if !ok {
		return Sentence{}, false
	}
	return say(fmt.Sprintf("The smallest change that people call important is given as %s. Near %s, of %s", ImportantChange(g.Measure), ChangeWeek(r), text), all...), true
}

// parts words a count of episodes and its parts: "96 episodes, 58 had improved".
func parts(r *disclosure.Released, g Group, whole string, list []struct{ statistic, words string }) (string, []disclosure.Shown, bool) {
	known, ok := g.Figure(r, whole, "")
	if !ok || known.Value == nil || *known.Value == 0 {
		return "", nil, false
	}
	all := []disclosure.Shown{known}
	var said []string
	for _, p := range list {
		if f, ok := g.Figure(r, p.statistic, ""); ok && (f.Value != nil || f.ValueBelow > 0) {
			all, said = append(all, f), append(said, Value(f)+" "+p.words)
		}
	}
	if len(said) == 0 {
		return "", nil, false
	}
	return episodes(known) + ", " + Join(said) + ".", all, true
}
