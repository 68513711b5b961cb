package words

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/seeds/reference"
)

// ScoreGroups are the measures of pain and the scores of an injury type, in the
// order of the code table.
func ScoreGroups(r *disclosure.Released, injury string) []Group {
	groups := slices.DeleteFunc(Groups(r, "scores"), func(g Group) bool { return g.InjuryType != injury })
	codes := reference.Codes("measures")
	slices.SortStableFunc(groups, func(a, b Group) int {
		return slices.Index(codes, a.Measure) - slices.Index(codes, b.Measure)
	})
	return groups
}

// LeadingScore is the score of an injury type that most people answered at the
// start, of two with as many the first in the code table; without a score, its
// measure of pain.
func LeadingScore(r *disclosure.Released, injury string) (Group, bool) {
	var lead *Group
	people := -1
	for _, g := range ScoreGroups(r, injury) {
		n := 0
		if f, ok := g.Figure(r, "at_best", AtWeek(0)); ok && f.Persons != nil {
			n = *f.Persons
		}
		if kind, _ := reference.Cell("measures", g.Measure, "kind"); kind == "pain" {
			n = -1
		}
		if lead == nil || n > people {
			lead, people = &g, n
		}
	}
	if lead == nil {
		return Group{}, false
	}
	return *lead, true
}

// ScoresLeading are the same groups with the leading one first.
func ScoresLeading(r *disclosure.Released, injury string) []Group {
	groups := ScoreGroups(r, injury)
	lead, _ := LeadingScore(r, injury)
	slices.SortStableFunc(groups, func(a, b Group) int {
		switch {
		case a.Picture == b.Picture:
			return 0
		case a.Picture == lead.Picture:
			return -1
		case b.Picture == lead.Picture:
			return 1
		default:
			return 0
		}
	})
	return groups
}

// ScoreOrder are the injury types that have pain or scores told: those first
// whose people mostly keep up their activity, where these lead.
func ScoreOrder(r *disclosure.Released) []result.Label {
	c := r.Context()
	told := slices.DeleteFunc(c.InjuryTypes, func(l result.Label) bool { return len(ScoreGroups(r, l.Code)) == 0 })
	slices.SortStableFunc(told, func(a, b result.Label) int {
		rank := func(l result.Label) int {
			if slices.Contains(c.KeepsActivity, l.Code) {
				return 0
			}
			return 1
		}
		return rank(a) - rank(b)
	})
	return told
}

// ScaleOf says how a measure's scale runs: "0 to 100, more is better".
func ScaleOf(measure string) string {
	low, _ := reference.Cell("measures", measure, "reject_low")
	high, _ := reference.Cell("measures", measure, "reject_high")
	better, _ := reference.Cell("measures", measure, "better")
	return fmt.Sprintf("%s to %s, %s is better", low, high, better)
}

// weekOf is the week at which a group's value leads: 12, else the last told.
func weekOf(all []disclosure.Shown) disclosure.Shown {
	for _, f := range all {
		if *f.X == headlineWeek {
			return f
		}
	}
	return all[len(all)-1]
}

// ScoreSentence is the leading sentence on pain or a score.
func ScoreSentence(r *disclosure.Released, g Group) Sentence {
	subject := fmt.Sprintf("%s, %s (%s)", g.Label, MeasureLabel(g.Measure), ScaleOf(g.Measure))
	all := g.Along(r, "typical")
	if len(all) < 2 {
		return Sentence{Text: subject + ": nothing to say yet."}
	}
	start, f := all[0], weekOf(all)
	switch {
	case start.Status == result.Hidden || f.Status == result.Hidden:
		return say(subject+": not shown (too few people).", f)
	case start.Value == nil || f.Value == nil:
		return say(subject+": cannot tell yet. "+f.Reason, f)
	}
	text, figures := fmt.Sprintf("%s: typically %s at the start of care and %s at week %s", subject, Bare(start), Bare(f), Decimal(*f.X, 0)), []disclosure.Shown{start, f}
	if change, ok := g.Figure(r, "change", AtWeek(*f.X)); ok && change.Value != nil {
		text += "; " + moved(change)
		figures = append(figures, change)
	}
	return say(text+".", figures...)
}

// moved words a change without a sign where its interval lies on one side.
func moved(f disclosure.Shown) string {
	digits := Digits(f)
	number := func(v float64) string { return Decimal(math.Abs(v), digits) }
	switch {
	case f.Low == nil || f.High == nil:
		return fmt.Sprintf("a change of %s", Bare(f))
	case *f.High < 0:
		return fmt.Sprintf("%s less (the data fit %s to %s)", number(*f.Value), number(*f.High), number(*f.Low))
	case *f.Low > 0:
		return fmt.Sprintf("%s more (the data fit %s to %s)", number(*f.Value), number(*f.Low), number(*f.High))
	default:
		return fmt.Sprintf("a change of %s (the data fit %s), which reaches across none", Bare(f), Interval(f))
	}
}

// ScoreDetails are the sentences under it: who changed, and how many stand at
// the end of the scale.
func ScoreDetails(r *disclosure.Released, g Group) []Sentence {
	var out []Sentence
	first := func(statistic string) (disclosure.Shown, bool) {
		f, ok := g.first(r, statistic)
		return f, ok && f.Value != nil
	}
	var parts []string
	var figures []disclosure.Shown
	for _, k := range []struct{ statistic, words string }{
		{"improved", "%s improved by more than the error of measuring%s"},
		{"worse", "%s became worse by more than that%s"},
		{"important", "%s improved by the important change or more%s"},
	} {
		if f, ok := first(k.statistic); ok {
			parts, figures = append(parts, fmt.Sprintf(k.words, Value(f), fitting(f, " (%s)"))), append(figures, f)
		}
	}
	if len(parts) > 0 {
		out = append(out, say(fmt.Sprintf("Of %s people who answered at the start and near week %s, %s.", Persons(figures[0]), Decimal(*figures[0].X, 0), Join(parts)), figures...))
	}
	if all := g.Along(r, "at_best"); len(all) > 0 {
		if f := all[len(all)-1]; f.Value != nil && *f.Value > 0 {
			out = append(out, say(fmt.Sprintf("Near week %s, %s of those who answered stood at the best end of the scale%s.", Decimal(*f.X, 0), Value(f), fitting(f, " (the data fit %s)")), f))
		}
	}
	return out
}

// scoreLines are the first page's sentences on pain and scores: of the injury
// types whose people mostly keep up their activity.
func scoreLines(r *disclosure.Released) []Sentence {
	var out []Sentence
	for _, injury := range r.Context().InjuryTypes {
		if !slices.Contains(r.Context().KeepsActivity, injury.Code) {
			continue
		}
		if g, ok := LeadingScore(r, injury.Code); ok {
			s := ScoreSentence(r, g)
			if all := g.Along(r, "typical"); len(all) > 1 {
				s = s.withBefore(r, weekOf(all), 0)
			}
			out = append(out, s)
		}
	}
	return out
}
