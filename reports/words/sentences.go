package words

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// Sentence is a sentence made by rule, with the ids of the figures that stand
// in it.
type Sentence struct {
	Text    string
	Figures []string
}

func say(text string, figures ...disclosure.Shown) Sentence {
	s := Sentence{Text: text}
	for _, f := range figures {
		s.Figures = append(s.Figures, f.ID)
	}
	return s
}

// headlineWeek leads the sentences; where a group has no share at it, its last
// week does.
const headlineWeek = 12

// Headline returns the share that leads a group: at week 12, else at the last
// week the group has.
func Headline(r *disclosure.Released, g Group) (disclosure.Shown, bool) {
	shares := g.Along(r, "share")
	for _, f := range shares {
		if *f.X == headlineWeek {
			return f, true
		}
	}
	if len(shares) == 0 {
		return disclosure.Shown{}, false
	}
	return shares[len(shares)-1], true
}

// ReturnSentence is the leading sentence on a group's return to activity.
func ReturnSentence(r *disclosure.Released, g Group) Sentence {
	f, ok := Headline(r, g)
	if !ok {
		return Sentence{Text: g.Label + ": no episode to follow, so nothing to say yet."}
	}
	if u := returnUnsaid(r, g, f); u != nil {
		return say(u.of(g.Label), f)
	}
	frequency, ok := NaturalFrequency(f.Value, f.Low, f.High)
	if !ok {
		return say(fmt.Sprintf("%s: %s are back at their target by week %s.", g.Label, Value(f), Decimal(*f.X, 0)), f)
	}
	provisional := ""
	if f.Status == result.Provisional {
		provisional = " Provisional."
	}
	return say(fmt.Sprintf("Of %d people who begin care for %s, %s back at their target by week %s (the data fit %s).%s",
		frequency.OutOf, InSentence(g.Label), frequency.about(*f.Value), Decimal(*f.X, 0), frequency.Interval(), provisional), f)
}

const noReturn = "no return is on record"

// returnUnsaid is what a group's leading share says that other groups may say in
// the same words; nil where it is a number of its own.
func returnUnsaid(r *disclosure.Released, g Group, f disclosure.Shown) *unsaid {
	if atRisk, ok := g.Figure(r, "at_risk", ""); ok && atRisk.Value != nil && *atRisk.Value == 0 {
		return &unsaid{"nobody to follow for a return", "All who began were at their target when care began, or could not be followed."}
	}
	if u := notTold(f); u != nil {
		return u
	}
	provisional := ""
	if f.Status == result.Provisional {
		provisional = "Provisional."
	}
	switch {
	case f.Low != nil && f.High != nil: // told with its interval
		return nil
	case *f.Value == 0:
		return &unsaid{noReturn + " by week " + Decimal(*f.X, 0), provisional}
	case *f.Value == 1:
		return &unsaid{"all are back at their target by week " + Decimal(*f.X, 0), provisional}
	default:
		return nil
	}
}

// about is the number with its verb.
func (f Frequency) about(share float64) string {
	switch {
	case share == 0:
		return "none is"
	case share == 1:
		return "all are"
	case f.About == 0:
		return "fewer than 1 is"
	case f.About == f.OutOf:
		return "nearly all are"
	case f.About == 1:
		return "about 1 is"
	default:
		return fmt.Sprintf("about %d are", f.About)
	}
}

// ReturnDetails are the sentences under a group's curve.
func ReturnDetails(r *disclosure.Released, g Group) []Sentence {
	var out []Sentence
	if f, ok := g.Figure(r, "median_weeks", ""); ok {
		out = append(out, medianSentence(f))
	}
	for _, f := range g.Along(r, "mean_weeks") {
		if f.Value != nil {
			out = append(out, say(fmt.Sprintf("Over the first %s weeks people were not yet back for %s on average (the data fit %s).",
				Decimal(*f.X, 0), Value(f), Interval(f)), f))
		}
	}
	if s, ok := competingSentence(r, g); ok {
		out = append(out, s)
	}
	if s, ok := lostSentence(r, g); ok {
		out = append(out, s)
	}
	if f, ok := g.Figure(r, "visit_spacing_days", ""); ok && f.Value != nil {
		out = append(out, say(fmt.Sprintf("A return is recorded at a contact. Contacts are usually %s apart, so people may be back that much earlier than recorded.", Value(f)), f))
	}
	return out
}

func medianSentence(f disclosure.Shown) Sentence {
	switch {
	case f.Status == result.Hidden:
		return say("The week by which half are back is not shown (too few people).", f)
	case f.Value == nil:
		if rest, ok := strings.CutPrefix(f.Reason, notReachedReason); ok {
			return say("Half are not back within the time watched: "+rest, f)
		}
		return say("The week by which half are back cannot be told yet. "+f.Reason, f)
	default:
		return say(fmt.Sprintf("Half are back by week %s (the data fit %s).", Decimal(*f.Value, 1), Interval(f)), f)
	}
}

func competingSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	points := g.Along(r, "competing")
	for i := len(points) - 1; i >= 0; i-- {
		if f := points[i]; f.Value != nil {
			return say(fmt.Sprintf("By week %s, %s had ended in a way after which the return cannot come.", Decimal(*f.X, 0), Percent(*f.Value)), f), true
		}
	}
	return Sentence{}, false
}

func lostSentence(r *disclosure.Released, g Group) (Sentence, bool) {
	never := g.Along(r, "share_if_lost_never")
	if len(never) == 0 {
		return Sentence{}, false
	}
	f := never[len(never)-1]
	for _, other := range g.Along(r, "share_if_lost_return") {
		if *other.X == *f.X && f.Value != nil && other.Value != nil {
			return say(fmt.Sprintf("What became of those lost from view is not known: by week %s the share back would be %s if none of them had returned, and %s if all had on the day they were last seen.",
				Decimal(*f.X, 0), Percent(*f.Value), Percent(*other.Value)), f, other), true
		}
	}
	return Sentence{}, false
}
