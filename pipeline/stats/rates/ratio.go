package rates

import (
	"fmt"

	"evenlimb/pipeline/stats"
)

// Count is a number of events over an exposure above 0.
type Count struct {
	Events   int
	Exposure float64
}

// Ratio compares how often an event happens in two groups: 2 means twice as
// often in group as in reference, per unit of exposure.
//
// Input: the counts of the two groups, exposures in the same unit; level,
// two-sided. Output: Value, Low and High are ratios of rates, SE is 0 (the
// method has none), Events counts both groups; P is two-sided, for a ratio of 1.
//
// Errors: stats.ErrRange and ErrNotFinite as Garwood; ErrNoEvents when the
// reference has none, for then the ratio has no upper limit: exchange the
// groups. The warning "no-events" says that group has none: Value and Low are 0.
//
// Method: exact, conditional on the total count (Clopper-Pearson limits of the
// share that fell to group); P is twice the smaller exact tail, at most 1
// (decision: two-sided exact tests). Agrees with poisson.test of R (limits; P
// from its one-sided tests).
//
// Cost: about 60 evaluations of the incomplete beta function per limit.
func Ratio(group, reference Count, level float64) (Compared, error) {
	for _, c := range []Count{group, reference} {
		if _, _, err := poissonRate(c.Events, c.Exposure, level); err != nil {
			return Compared{}, fmt.Errorf("rate ratio: %w", err)
		}
	}
	if reference.Events == 0 {
		return Compared{}, fmt.Errorf("rate ratio: the reference group, exchange the groups: %w", stats.ErrNoEvents)
	}
	k, n := float64(group.Events), float64(group.Events+reference.Events)
	tail := (1 - level) / 2
	scale := reference.Exposure / group.Exposure
	e := stats.Estimate{
		Value:  k / float64(reference.Events) * scale,
		Level:  level,
		Events: group.Events + reference.Events,
		Method: "exact rate ratio, conditional on the total",
	}
	if group.Events == 0 {
		e.Warnings = []stats.Warning{noEvents}
	} else {
		e.Low = scale * oddsWhere(func(p, q float64) float64 { return binomialAtLeast(k, n, p, q) - tail })
	}
	e.High = scale * oddsWhere(func(p, q float64) float64 { return tail - binomialAtMost(k, n, p, q) })
	total := group.Exposure + reference.Exposure
	p, q := group.Exposure/total, reference.Exposure/total
	return Compared{Estimate: e, P: twoSided(binomialAtMost(k, n, p, q), binomialAtLeast(k, n, p, q))}, nil
}

// oddsWhere finds the odds p/q at which an increasing function of p is 0; on
// the scale of odds a share near 1 loses no digits.
func oddsWhere(excess func(p, q float64) float64) float64 {
	return crossing(1e-300, 1e300, func(odds float64) float64 {
		return excess(odds/(1+odds), 1/(1+odds))
	})
}
