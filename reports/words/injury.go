package words

import (
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// InjuryCaption heads the shares on the injury clock.
const InjuryCaption = "Share back, counted from the operation before care, else from the onset"

// injuryWeeks are the weeks after the injury that a table states.
var injuryWeeks = []float64{6, 12, 26, 52}

// SinceInjury are the shares back at the weeks after the injury that are stated.
func SinceInjury(r *disclosure.Released, g Group) []disclosure.Shown {
	return slices.DeleteFunc(g.Along(r, "since_injury"), func(f disclosure.Shown) bool {
		return !slices.Contains(injuryWeeks, *f.X) || f.Status == result.Hidden
	})
}

// besideMethod tells how the estimates beside the curve are made.
var besideMethod = Method{
	"Beside the curve",
	"A return is recorded at a contact, so it came between the last day known without it and that contact. Turnbull's estimate takes it to lie there and assumes nothing else; Weibull's assumes a smooth course that all follow in the end, and where it lies far from the curve it does not fit. On the clock of the injury, week 0 is the operation before care, else the onset; people come under watch when care begins, and those who were back before then are not among them. It is told from the first week at whose end enough people are under watch.",
}
