package adjust

import (
	"cmp"
	"math"
	"slices"

	"evenlimb/pipeline/stats/evalue"
)

// Associations says how strongly each covariate goes with dose and with the
// return, as ratios of shares between those above its mean and the others: of the
// share with a dose above the median, and of the share returned. A covariate with
// a share of nothing on a side is left out.
func Associations(s Sample) []evalue.Covariate {
	once := ones(len(s.Dose))
	order := span(0, len(s.Dose))
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(s.Dose[i], s.Dose[j]) })
	median := quantile(s.Dose, order, once, 0.5)
	more, back := make([]float64, len(s.Dose)), make([]float64, len(s.Dose))
	for i, d := range s.Dose {
		if d > median {
			more[i] = 1
		}
	}
	p := newPseudo(s.Day, s.Event, s.Horizon)
	p.values(once, back, p.steps())
	var out []evalue.Covariate
	for _, c := range independent(s.Covariates) {
		above, below := make([]float64, len(once)), make([]float64, len(once))
		mean := weightedMean(c.Values, once)
		for i, v := range c.Values {
			if v > mean {
				above[i] = 1
			} else {
				below[i] = 1
			}
		}
		treatment := weightedMean(more, above) / weightedMean(more, below)
		outcome := weightedMean(back, above) / weightedMean(back, below)
		if finite(treatment) && finite(outcome) {
			out = append(out, evalue.Covariate{Name: c.Name, Treatment: treatment, Outcome: outcome})
		}
	}
	return out
}

func finite(ratio float64) bool { return ratio > 0 && !math.IsInf(ratio, 0) }
