package rates

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// Wilson estimates a share of people, such as those who returned, with limits
// that stay inside 0 to 1 and keep close to the stated level.
//
// Input: with, how many of the n have it (0 to n); n from 1; level, two-sided.
// Output: Value, Low, High and SE are shares from 0 to 1; N is n, Events is
// with. SE is the binomial one, 0 when all or none have it.
//
// Errors: stats.ErrEmpty for n of 0; ErrRange for counts out of range or a
// level outside (0, 1). The warning "all-or-none" says that all or none have
// it: one limit equals the value.
//
// Method: score interval without continuity correction (Wilson, JASA
// 1927;22:209). Agrees with prop.test(correct = FALSE) of R.
//
// Cost: none.
func Wilson(with, n int, level float64) (stats.Estimate, error) {
	e, err := share(with, n, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("share: %w", err)
	}
	e.Low, e.High = scoreLimits(float64(with), float64(n), distuv.UnitNormal.Quantile((1+level)/2))
	e.Method = "Wilson limits"
	return e, nil
}

// scoreLimits are the limits of a share of k in size, neither of which need be
// whole: where the share lies z standard errors from what was seen.
func scoreLimits(k, size, z float64) (low, high float64) {
	// The limits are the roots of a quadratic with product c; the far root is
	// computed from the near one, so that a small limit keeps its digits.
	root := func(k float64) float64 {
		if k == 0 {
			return 0
		}
		b := 2*k + z*z
		root := z * math.Sqrt(z*z+4*k*(size-k)/size)
		return 2 * k * k / size / (b + root)
	}
	return root(k), 1 - root(size-k)
}

// ClopperPearson estimates a share of people with exact limits: never too
// narrow, often a little wide.
//
// Input, output, errors and warnings: as Wilson.
//
// Method: exact binomial limits (Clopper & Pearson, Biometrika 1934;26:404),
// solved to the last bit. Agrees with binom.test of R.
//
// Cost: about 60 evaluations of the incomplete beta function per limit.
func ClopperPearson(with, n int, level float64) (stats.Estimate, error) {
	e, err := share(with, n, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("exact share: %w", err)
	}
	k, size, tail := float64(with), float64(n), (1-level)/2
	e.High = 1
	if with > 0 {
		odds := oddsWhere(func(p, q float64) float64 { return binomialAtLeast(k, size, p, q) - tail })
		e.Low = odds / (1 + odds)
	}
	if with < n {
		odds := oddsWhere(func(p, q float64) float64 { return tail - binomialAtMost(k, size, p, q) })
		e.High = odds / (1 + odds)
	}
	e.Method = "exact binomial limits (Clopper-Pearson)"
	return e, nil
}

// share checks the input of a share and fills in all but its limits.
func share(with, n int, level float64) (stats.Estimate, error) {
	if n == 0 {
		return stats.Estimate{}, stats.ErrEmpty
	}
	if n < 0 || with < 0 || with > n {
		return stats.Estimate{}, fmt.Errorf("%d of %d: %w", with, n, stats.ErrRange)
	}
	if err := stats.CheckLevel(level); err != nil {
		return stats.Estimate{}, err
	}
	p := float64(with) / float64(n)
	e := stats.Estimate{
		Value:  p,
		SE:     math.Sqrt(p * (1 - p) / float64(n)),
		Level:  level,
		N:      n,
		Events: with,
	}
	if with == 0 || with == n {
		e.Warnings = []stats.Warning{{
			Code: "all-or-none",
			Text: "All or none of the people have it; one limit equals the value.",
		}}
	}
	return e, nil
}
