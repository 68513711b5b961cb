package control

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/rates"
)

// Signal says on which side of its limits a point lies.
type Signal int

// The sides. A point at a limit is within.
const (
	Below  Signal = -1
	Within Signal = 0
	Above  Signal = 1
)

// Point is one point of a chart, in the unit of its chart.
type Point struct {
	Value, Centre, Low, High float64
	Signal                   Signal
}

func newPoint(value, centre, low, high float64) Point {
	p := Point{Value: value, Centre: centre, Low: low, High: high}
	switch {
	case value < low:
		p.Signal = Below
	case value > high:
		p.Signal = Above
	}
	return p
}

// U draws a rate per period, such as events per session by quarter, with the
// limits within which it stays by chance as long as nothing has changed since
// the baseline.
//
// Input: events and exposure per period, of one length, in order of time;
// counts from 0, exposures above 0 (leave out empty periods); baseline, the
// events and exposure of the baseline months, at least one event; level, the
// two-sided probability within the limits of one point. Output: a Point per
// period, in rates per unit of exposure.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrNoEvents for a baseline
// without events; ErrRange for counts, exposures or level out of range.
//
// Method: exact limits of a Poisson count whose rate is known from the baseline
// only, a gamma with the baseline's events as its shape, so that each point has
// its stated false-alarm probability in spite of a short baseline (decision:
// baseline in limits). Agrees with qnbinom of R.
//
// Cost: as rates.GammaPoissonLimits per period.
func U(events []int, exposure []float64, baseline rates.Count, level float64) ([]Point, error) {
	if err := checkU(events, exposure, baseline); err != nil {
		return nil, fmt.Errorf("u chart: %w", err)
	}
	centre := float64(baseline.Events) / baseline.Exposure
	spread := 1 / math.Sqrt(float64(baseline.Events))
	out := make([]Point, len(events))
	for i, k := range events {
		t := exposure[i]
		limits, err := rates.GammaPoissonLimits(centre*t, spread, level)
		if err != nil {
			return nil, fmt.Errorf("u chart: period %d: %w", i, err)
		}
		out[i] = newPoint(float64(k)/t, centre, float64(limits.Low)/t, float64(limits.High)/t)
	}
	return out, nil
}

func checkU(events []int, exposure []float64, baseline rates.Count) error {
	if len(events) == 0 {
		return stats.ErrEmpty
	}
	if err := stats.CheckLength("exposure", len(exposure), len(events)); err != nil {
		return err
	}
	if err := stats.CheckFinite("exposure", append(slices.Clone(exposure), baseline.Exposure)); err != nil {
		return err
	}
	for i, k := range events {
		if k < 0 || exposure[i] <= 0 {
			return fmt.Errorf("period %d: %d events in exposure %v: %w", i, k, exposure[i], stats.ErrRange)
		}
	}
	return checkBaseline(baseline)
}

func checkBaseline(baseline rates.Count) error {
	if baseline.Events < 0 || baseline.Exposure <= 0 {
		return fmt.Errorf("baseline of %d events in %v: %w", baseline.Events, baseline.Exposure, stats.ErrRange)
	}
	if baseline.Events == 0 {
		return fmt.Errorf("baseline: %w", stats.ErrNoEvents)
	}
	return nil
}

// P draws a share per period, such as the share of sessions in which symptoms
// were asked, with the limits within which it stays by chance.
//
// Input: with and n per period, of one length, in order of time; n from 1; share,
// that of the baseline, from 0 to 1, taken as known; level as U. Output: a Point
// per period, in shares.
//
// Errors: stats.ErrEmpty, also for a period of nobody; ErrLength; ErrNotFinite;
// ErrRange for counts, share or level out of range.
//
// Method: exact binomial limits. Agrees with qbinom of R.
//
// Cost: as rates.BinomialLimits per period.
func P(with, n []int, share, level float64) ([]Point, error) {
	if len(with) == 0 {
		return nil, fmt.Errorf("p chart: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("n", len(n), len(with)); err != nil {
		return nil, fmt.Errorf("p chart: %w", err)
	}
	out := make([]Point, len(with))
	for i, k := range with {
		if k < 0 || k > n[i] {
			return nil, fmt.Errorf("p chart: period %d: %d of %d: %w", i, k, n[i], stats.ErrRange)
		}
		limits, err := rates.BinomialLimits(n[i], share, level)
		if err != nil {
			return nil, fmt.Errorf("p chart: period %d: %w", i, err)
		}
		size := float64(n[i])
		out[i] = newPoint(float64(k)/size, share, float64(limits.Low)/size, float64(limits.High)/size)
	}
	return out, nil
}

// G draws, for a rare kind of event, how many sessions without one lay between
// two events: short gaps are events that come too often.
//
// Input: gaps, sessions without the event between one event and the next, from
// 0, in order of time; baseline, the events and sessions of the baseline
// months, at least one event and one session without; level as U. Output: a
// Point per gap, in sessions; the Signal Below means more often. Centre is the
// median of the distribution.
//
// Errors: stats.ErrEmpty; ErrNotFinite; ErrNoEvents for a baseline without
// events; ErrRange for a negative gap, more events than sessions, or the level.
//
// Method: exact limits of a geometric count whose probability is known from the
// baseline only, a beta with its events and its sessions without (decision:
// baseline in limits). Agrees with the beta-geometric tail written in R.
//
// Cost: about 100 evaluations of a gamma function per chart.
func G(gaps []int, baseline rates.Count, level float64) ([]Point, error) {
	if len(gaps) == 0 {
		return nil, fmt.Errorf("g chart: %w", stats.ErrEmpty)
	}
	if err := stats.CheckFinite("baseline", []float64{baseline.Exposure}); err != nil {
		return nil, fmt.Errorf("g chart: %w", err)
	}
	if err := checkBaseline(baseline); err != nil {
		return nil, fmt.Errorf("g chart: %w", err)
	}
	if float64(baseline.Events) >= baseline.Exposure {
		return nil, fmt.Errorf("g chart: %d events in %v sessions: %w", baseline.Events, baseline.Exposure, stats.ErrRange)
	}
	if err := stats.CheckLevel(level); err != nil {
		return nil, fmt.Errorf("g chart: %w", err)
	}
	tail := (1 - level) / 2
	low := gapQuantile(baseline, tail)
	high := gapQuantile(baseline, 1-tail)
	centre := gapQuantile(baseline, 0.5)
	out := make([]Point, len(gaps))
	for i, gap := range gaps {
		if gap < 0 {
			return nil, fmt.Errorf("g chart: gap %d is %d: %w", i, gap, stats.ErrRange)
		}
		out[i] = newPoint(float64(gap), centre, low, high)
	}
	return out, nil
}

// gapQuantile is the smallest gap g with P(G <= g) >= p, in logs so that a far
// tail keeps its digits.
func gapQuantile(baseline rates.Count, p float64) float64 {
	a := float64(baseline.Events)
	b := baseline.Exposure - a
	enough := func(g float64) bool { return logGapAtLeast(a, b, g+1) <= math.Log1p(-p) }
	hi := 1.0
	// A beta with few events has a very long tail; 1e15 sessions end the search.
	for !enough(hi) && hi < 1e15 {
		hi *= 2
	}
	lo := -1.0
	for hi-lo > 1 {
		if mid := math.Floor((lo + hi) / 2); enough(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// logGapAtLeast is log P(G >= g) of the beta-geometric distribution, a ratio of
// four gamma functions, written so that their size cancels before rounding.
func logGapAtLeast(a, b, g float64) float64 {
	return (b-0.5)*math.Log1p(g/b) - (a+b-0.5)*math.Log1p(g/(a+b)) - g*math.Log1p(a/(b+g)) +
		stirlingRest(b+g) - stirlingRest(b) - stirlingRest(a+b+g) + stirlingRest(a+b)
}

// stirlingRest is log gamma(x) less Stirling's formula for it.
func stirlingRest(x float64) float64 {
	if x > 16 {
		xx := x * x
		return (1.0/12 - (1.0/360-(1.0/1260-(1.0/1680-(1.0/1188)/xx)/xx)/xx)/xx) / x
	}
	lg, _ := math.Lgamma(x)
	return lg - (x-0.5)*math.Log(x) + x - 0.5*math.Log(2*math.Pi)
}
