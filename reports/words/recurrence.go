package words

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// Recurrence is the share of a group's returns that were followed by new care
// for the same injury; false where nothing is said of it.
func Recurrence(r *disclosure.Released, g Group) (disclosure.Shown, bool) {
	question, _, _ := strings.Cut(g.Picture, ".")
	g.Picture = "recurrence" + strings.TrimPrefix(g.Picture, question)
	along := g.Along(r, "share")
	if len(along) == 0 {
		return disclosure.Shown{}, false
	}
	return along[0], true
}

// RecurrenceSentences tell of those who came again; none without figures.
func RecurrenceSentences(r *disclosure.Released) []Sentence {
	var out []Sentence
	for _, g := range Groups(r, "return") {
		if !g.Whole() {
			continue
		}
		f, ok := Recurrence(r, g)
		if !ok || f.Value == nil {
			continue
		}
		known, _ := r.Lookup(result.ID(f.Picture(), "person_known", ""))
		frequency, ok := NaturalFrequency(f.Value, f.Low, f.High)
		if !ok {
			continue
		}
		out = append(out, say(fmt.Sprintf("Of %d people who return, %s in care again for the same injury on the same side within %s days (the data fit %s).",
			frequency.OutOf, frequency.about(*f.Value), Decimal(*f.X, 0), frequency.Interval()), f))
		if known.Value != nil && *known.Value < 1 {
			out = append(out, say(fmt.Sprintf("This can be known of %s of the returns; of the others the sender does not say who they are, so later care cannot be linked.", Percent(*known.Value)), known))
		}
	}
	return out
}

// recurrenceMethod tells how those who came again are counted.
var recurrenceMethod = Method{
	"In care again",
	"After a return the same person may begin care again for the same injury type on the same side. People are watched from the return to the last day of the site's data, and the share is estimated by Kaplan-Meier. Care begun elsewhere is not seen. Where a sender gives persons no id nothing is computed, and the share of returns for which it can be known stands beside it.",
}
