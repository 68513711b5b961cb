package words

import (
	"fmt"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// Verdict says where the interval of a figure lies against a mark.
type Verdict int

// The verdicts. They follow from the interval alone: what the value is worth, or
// what to do about it, is not said.
const (
	NothingShown Verdict = iota // hidden by the gate
	TooFewToSay                 // withheld by its method, or without an interval
	Holds                       // the interval holds the mark
	AboveMark                   // it lies wholly above it
	BelowMark                   // it lies wholly below it
)

// Judge compares the interval of a figure with a mark. An interval that ends on
// the mark holds it.
func Judge(f disclosure.Shown, mark float64) Verdict {
	switch {
	case f.Status == result.Hidden:
		return NothingShown
	case f.Value == nil || f.Low == nil || f.High == nil:
		return TooFewToSay
	case *f.Low > mark:
		return AboveMark
	case *f.High < mark:
		return BelowMark
	default:
		return Holds
	}
}

// verdictWords are what a verdict is called.
type verdictWords struct{ holds, above, below string }

var (
	halfBack = verdictWords{
		holds: "Whether that is more than half cannot be told: the interval reaches across one half.",
		above: "More than half are: the interval lies wholly above one half.",
		below: "Fewer than half are: the interval lies wholly below one half.",
	}
	equalSides = verdictWords{
		holds: "Whether the sides differ cannot be told: the interval reaches across no difference at all.",
		above: "The involved side lies above the other: so does the whole interval.",
		below: "The involved side lies below the other: so does the whole interval.",
	}
	equalThirds = verdictWords{
		holds: "the interval reaches across 0, no difference",
		above: "the interval lies wholly above 0, no difference",
		below: "the interval lies wholly below 0, no difference",
	}
)

func (w verdictWords) of(v Verdict) string {
	switch v {
	case Holds:
		return w.holds
	case AboveMark:
		return w.above
	case BelowMark:
		return w.below
	case NothingShown:
		return NotShown
	default:
		return TooFew
	}
}

// TooFew is the verdict where nothing can be said.
const TooFew = "too few to say"

// withVerdict puts a verdict behind a sentence that has a value to judge.
func (s Sentence) withVerdict(w verdictWords, f disclosure.Shown, mark float64) Sentence {
	if v := Judge(f, mark); v >= Holds {
		s.Text += " " + w.of(v)
	}
	return s
}

// doseVerdicts set the standardised contrast of each injury type against no
// difference: one sentence for each type that has one, then one that names the
// others. Where none has one, compared is false and a sentence says so.
func doseVerdicts(r *disclosure.Released) (out []Sentence, compared bool) {
	var without []string
	for _, g := range Groups(r, "dose") {
		if !g.IsType() || g.IsOther() {
			continue
		}
		f, ok := g.first(r, DoseContrasts[1])
		if !ok || Judge(f, 0) < Holds {
			without = append(without, InSentence(g.Label))
			continue
		}
		s := say(fmt.Sprintf("%s: upper less lower third of dose %s by week %s, standardised over severity (the data fit %s); %s.",
			g.Label, Value(f), Decimal(*f.X, 0), Interval(f), equalThirds.of(Judge(f, 0))), f)
		out = append(out, s.withBefore(r, f, 0))
	}
	compared = len(out) > 0
	switch {
	case len(without) > 0 && compared:
		out = append(out, Sentence{Text: "Not compared, or " + TooFew + ": " + Join(without) + "."})
	case len(without) > 0:
		out = append(out, noDoses(r))
	}
	return out, compared
}

// noDoses says why doses are compared in no injury type.
func noDoses(r *disclosure.Released) Sentence {
	for _, g := range UsableSites(r) {
		if used := Usable(r, g)[3]; g.Whole() && used.Value != nil && *used.Value == 0 {
			return say("Nothing is told of dose: of nobody who could be followed from the landmark on is the work before it on record.", used)
		}
	}
	return Sentence{Text: "Doses are compared in no injury type: too few people, too few returns, or too little on record; the reason stands under each."}
}
