package survival

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// PseudoValues turns the share at the horizon, and the mean time without the
// event up to it, into a value for each row, which a regression can take as an
// outcome that nobody lacks, though not everybody was watched long enough. Their
// means are the share and the mean time themselves.
//
// Input: a curve of rows without Person and Weight (their values are of rows; a
// regression on them sums over persons). Output: share and without, in the order
// of the rows; single values may lie outside what a share or a time can be.
//
// Errors: stats.ErrRange unless the horizon is above 0 and finite, or with Person
// or Weight.
//
// Method: estimate + n times the row's infinitesimal jackknife influence
// (Andersen, Klein & Rosthoj, Biometrika 2003;90:15). Agrees with
// survival::pseudo. Cost: one pass over the rows.
func (c *Curve) PseudoValues(horizon float64) (share, without []float64, err error) {
	switch {
	case !(horizon > 0) || math.IsInf(horizon, 0):
		return nil, nil, fmt.Errorf("horizon %v, a time above 0 expected: %w", horizon, stats.ErrRange)
	case c.fit.in.Person != nil || c.fit.in.Weight != nil:
		return nil, nil, fmt.Errorf("pseudo-values are of rows without persons and weights: %w", stats.ErrRange)
	}
	at, mean := c.At(horizon).Value, c.area(horizon)
	share, without = c.fit.influences(c.Cause, horizon)
	n := float64(len(share))
	sign := 1.0 // on a falling curve the influence is that on what has fallen
	if c.Cause == 0 {
		sign = -1
	}
	for i := range share {
		share[i] = at + sign*n*share[i]
		without[i] = mean - n*without[i]
	}
	return share, without, nil
}
