package rates

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// Garwood estimates how often an event happens per unit of exposure, with the
// exact limits of a count.
//
// Input: events, a whole number from 0; exposure above 0 (sessions, minutes,
// person-years); level, two-sided. Output: Value, Low, High and SE are events
// per one unit of exposure; Events is the count. SE is the Poisson one and 0
// when there was no event.
//
// Errors: stats.ErrRange for a negative count, an exposure not above 0 or a
// level outside (0, 1); ErrNotFinite for an exposure that is NaN or infinite.
// The warning "no-events" goes with a count of 0: Low is 0 and High is
// UpperWhenNone(level)/exposure.
//
// Method: exact Poisson limits (Garwood, Biometrika 1936;28:437), solved to the
// last bit. Agrees with poisson.test of R. The interval is never too narrow
// and mostly a little wide; MidP is the closer one to print beside it.
//
// Cost: about 60 evaluations of the incomplete gamma function per limit.
func Garwood(events int, exposure, level float64) (stats.Estimate, error) {
	e, tail, err := poissonRate(events, exposure, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("exact rate: %w", err)
	}
	e.Low = poissonMeanBelow(float64(events), tail) / exposure
	e.High = poissonMeanAbove(float64(events), tail) / exposure
	e.Method = "exact Poisson limits (Garwood)"
	return e, nil
}

// MidP estimates how often an event happens per unit of exposure, with limits
// that count only half of the probability of exactly what was seen: closer to
// the stated level on average than Garwood, at times a little too narrow.
//
// Input, output, errors and warnings: as Garwood. With no event High is
// -log(1-level)/exposure.
//
// Method: mid-P limits (Lancaster, JASA 1961;56:223). Agrees with the limits
// found by uniroot of R from ppois and dpois.
//
// Cost: as Garwood.
func MidP(events int, exposure, level float64) (stats.Estimate, error) {
	e, tail, err := poissonRate(events, exposure, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("mid-P rate: %w", err)
	}
	k := float64(events)
	if events > 0 {
		e.Low = crossing(0, k+1, func(mean float64) float64 {
			return poissonAtLeast(k+1, mean) + poissonExactly(k, mean)/2 - tail
		}) / exposure
	}
	above := func(mean float64) float64 { return poissonAtMost(k-1, mean) + poissonExactly(k, mean)/2 }
	hi := upperBound(k, func(mean float64) bool { return above(mean) < tail })
	e.High = crossing(k/2, hi, func(mean float64) float64 { return tail - above(mean) }) / exposure
	e.Method = "mid-P Poisson limits"
	return e, nil
}

// UpperWhenNone is the upper limit of a count of which none was seen, to be
// divided by the exposure: 3.69 at the two-sided level 0.95.
//
// Input: level, two-sided. Output: a number of events. Errors: stats.ErrRange
// for a level outside (0, 1). Method: -log((1-level)/2), Garwood's upper limit
// at 0; agrees with poisson.test of R. Cost: none.
func UpperWhenNone(level float64) (float64, error) {
	if err := stats.CheckLevel(level); err != nil {
		return 0, fmt.Errorf("upper limit when none was seen: %w", err)
	}
	return -math.Log((1 - level) / 2), nil
}

// ObservedExpected compares a count with the count that was expected: 1 means
// as many as expected, 2 twice as many.
//
// Input: observed, a whole number from 0; expected above 0, taken as known;
// level, two-sided. Output: Value, Low, High and SE are ratios; P is two-sided,
// for a ratio of 1.
//
// Errors and warnings: as Garwood, with expected for the exposure.
//
// Method: Garwood's limits divided by expected; P is twice the smaller exact
// tail, at most 1, so that it agrees with the interval (decision: two-sided
// exact tests). Agrees with poisson.test of R (limits; P from its one-sided
// tests).
//
// Cost: as Garwood.
func ObservedExpected(observed int, expected, level float64) (Compared, error) {
	e, err := Garwood(observed, expected, level)
	if err != nil {
		return Compared{}, fmt.Errorf("observed against expected: %w", err)
	}
	e.Method = "observed over expected, exact Poisson limits"
	k := float64(observed)
	p := twoSided(poissonAtMost(k, expected), poissonAtLeast(k, expected))
	return Compared{Estimate: e, P: p}, nil
}

// Compared is a ratio with its interval and the two-sided p-value of 1.
type Compared struct {
	stats.Estimate
	P float64
}

// twoSided is twice the smaller tail, at most 1.
func twoSided(below, above float64) float64 {
	return math.Min(1, 2*math.Min(below, above))
}

// poissonRate checks the input of a rate, fills in all but its limits, and
// returns the probability of one tail.
func poissonRate(events int, exposure, level float64) (e stats.Estimate, tail float64, err error) {
	if events < 0 {
		return e, 0, fmt.Errorf("events %d: %w", events, stats.ErrRange)
	}
	if err := checkPositive("exposure", exposure); err != nil {
		return e, 0, err
	}
	if err := stats.CheckLevel(level); err != nil {
		return e, 0, err
	}
	e = stats.Estimate{
		Value:  float64(events) / exposure,
		SE:     math.Sqrt(float64(events)) / exposure,
		Level:  level,
		Events: events,
	}
	if events == 0 {
		e.Warnings = []stats.Warning{noEvents}
	}
	return e, (1 - level) / 2, nil
}

var noEvents = stats.Warning{
	Code: "no-events",
	Text: "No event was seen; only the upper limit says something.",
}

func checkPositive(name string, x float64) error {
	if err := stats.CheckFinite(name, []float64{x}); err != nil {
		return err
	}
	if x <= 0 {
		return fmt.Errorf("%s %v is not above 0: %w", name, x, stats.ErrRange)
	}
	return nil
}
