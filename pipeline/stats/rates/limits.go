package rates

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// CountLimits are the whole numbers within which a count stays when nothing is
// out of the ordinary: a count below Low or above High is a signal, one at a
// limit is not.
type CountLimits struct {
	Low, High int
}

// PoissonLimits gives the range of counts that chance alone explains when a
// number of events is expected.
//
// Input: expected above 0 and at most 1e9; level, the two-sided probability
// within. Output: whole counts; each tail outside has probability at most
// (1-level)/2.
//
// Errors: stats.ErrRange and ErrNotFinite for expected, ErrRange for a level
// outside (0, 1).
//
// Method: quantiles of the Poisson distribution (decision: whole limits).
// Agrees with qpois of R.
//
// Cost: about 30 evaluations of the incomplete gamma function.
func PoissonLimits(expected, level float64) (CountLimits, error) {
	return GammaPoissonLimits(expected, 0, level)
}

// GammaPoissonLimits gives the range of counts that chance explains when the
// true rates of sites, or of quarters, also differ among themselves.
//
// Input: expected above 0 and at most 1e9; spread, the standard deviation of
// the true ratio to expected, from 0; level, the two-sided probability within.
// Output and errors: as PoissonLimits, ErrRange for a negative spread.
//
// Method: quantiles of the negative binomial distribution with mean expected
// and size 1/spread^2, which is a Poisson count whose mean varies as a gamma
// (decision: whole limits). Agrees with qnbinom and qpois of R.
//
// Cost: about 30 evaluations of an incomplete beta or gamma function.
func GammaPoissonLimits(expected, spread, level float64) (CountLimits, error) {
	if err := checkPositive("expected", expected); err != nil {
		return CountLimits{}, fmt.Errorf("count limits: %w", err)
	}
	if err := stats.CheckFinite("spread", []float64{spread}); err != nil {
		return CountLimits{}, fmt.Errorf("count limits: %w", err)
	}
	if expected > 1e9 || spread < 0 {
		return CountLimits{}, fmt.Errorf("count limits: expected %v, spread %v: %w", expected, spread, stats.ErrRange)
	}
	if err := stats.CheckLevel(level); err != nil {
		return CountLimits{}, fmt.Errorf("count limits: %w", err)
	}
	atMost := func(k float64) float64 { return poissonAtMost(k, expected) }
	atLeast := func(k float64) float64 { return poissonAtLeast(k, expected) }
	if size := 1 / (spread * spread); size < 1e12 {
		p, q := size/(size+expected), expected/(size+expected)
		atMost = func(k float64) float64 { return incompleteBeta(size, k+1, p, q) }
		atLeast = func(k float64) float64 {
			if k == 0 {
				return 1
			}
			return incompleteBeta(k, size, q, p)
		}
	}
	tail := (1 - level) / 2
	return CountLimits{
		Low:  smallest(expected, func(k float64) bool { return atMost(k) > tail }),
		High: smallest(expected, func(k float64) bool { return atLeast(k+1) <= tail }),
	}, nil
}

// BinomialLimits gives the range of how many of n people chance alone explains
// when each has it with the same probability.
//
// Input: n from 1 to 1e9; share, the probability, from 0 to 1; level, the
// two-sided probability within. Output: whole counts from 0 to n; each tail
// outside has probability at most (1-level)/2.
//
// Errors: stats.ErrEmpty for n of 0; ErrNotFinite and ErrRange for share and n,
// ErrRange for a level outside (0, 1).
//
// Method: quantiles of the binomial distribution (decision: whole limits).
// Agrees with qbinom of R.
//
// Cost: about 30 evaluations of the incomplete beta function.
func BinomialLimits(n int, share, level float64) (CountLimits, error) {
	if n == 0 {
		return CountLimits{}, fmt.Errorf("count limits: %w", stats.ErrEmpty)
	}
	if err := stats.CheckFinite("share", []float64{share}); err != nil {
		return CountLimits{}, fmt.Errorf("count limits: %w", err)
	}
	if n < 0 || n > 1e9 || share < 0 || share > 1 {
		return CountLimits{}, fmt.Errorf("count limits: n %d, share %v: %w", n, share, stats.ErrRange)
	}
	if err := stats.CheckLevel(level); err != nil {
		return CountLimits{}, fmt.Errorf("count limits: %w", err)
	}
	size, tail := float64(n), (1-level)/2
	return CountLimits{
		Low:  smallest(size*share, func(k float64) bool { return binomialAtMost(k, size, share, 1-share) > tail }),
		High: smallest(size*share, func(k float64) bool { return binomialAtLeast(k+1, size, share, 1-share) <= tail }),
	}, nil
}

// smallest is the smallest whole number from 0 at which an increasing
// condition holds.
func smallest(near float64, holds func(k float64) bool) int {
	if holds(0) {
		return 0
	}
	lo, step := 0.0, math.Max(1, math.Ceil(near))
	hi := step
	for !holds(hi) {
		lo, hi = hi, hi+step
		step *= 2
	}
	for hi-lo > 1 {
		mid := math.Floor((lo + hi) / 2)
		if holds(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return int(hi)
}
