package survival

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// MeanWithout is the mean time up to the horizon that a person spends without
// the event of the curve's cause (on a curve of cause 0: without any): the
// area under a falling curve, above a rising one. Its unit is that of the
// times; the mean time lost to the event is horizon - Value.
//
// Persons who had another end first count as without the event to the horizon.
//
// Errors: stats.ErrRange unless the horizon is above 0 and finite. Warnings:
// those of the curve, and "beyond-follow-up" when somebody was still free of
// every event at the last end of follow-up and it lies before the horizon.
//
// Method: the integral of the step function (Royston & Parmar, Stat Med
// 2011;30:2409); variance as the curve's; interval symmetric, cut at 0 and the
// horizon. Agrees with survival::print.survfit(rmean=).
//
// Cost: linear in the times, with the jackknife in the rows.
func (c *Curve) MeanWithout(horizon float64) (stats.Estimate, error) {
	if !(horizon > 0) || math.IsInf(horizon, 0) {
		return stats.Estimate{}, fmt.Errorf("horizon %v, a time above 0 expected: %w", horizon, stats.ErrRange)
	}
	value, variance := c.area(horizon), 0.0
	if c.fit.variance == Jackknife {
		_, area := c.fit.influences(c.Cause, horizon)
		for _, x := range area {
			variance += x * x
		}
	} else {
		variance = c.fit.areaVariance(c.Cause, c.Value, horizon)
	}
	e := stats.Estimate{
		Value: value, SE: math.Sqrt(variance), Level: c.Level, N: c.Persons, Events: c.EventsBy(horizon),
		Method:   "restricted mean, " + c.Method,
		Warnings: c.copyWarnings(),
	}
	if c.fit.variance == Aalen {
		e.Method = "restricted mean, Aalen-Johansen, Greenwood variance, plain interval"
	}
	z := distuv.UnitNormal.Quantile(0.5 + c.Level/2)
	e.Low, e.High = math.Max(0, e.Value-z*e.SE), math.Min(horizon, e.Value+z*e.SE)
	if c.beyond(horizon) {
		e.Warnings = append(e.Warnings, c.beyondWarning(horizon))
	}
	return e, nil
}

// area under a falling curve or above a rising one, from 0 to the horizon.
func (c *Curve) area(horizon float64) float64 {
	without := func(j int) float64 {
		switch {
		case j < 0:
			return 1
		case c.Cause == 0:
			return c.Value[j]
		default:
			return 1 - c.Value[j]
		}
	}
	sum, from := 0.0, 0.0
	for j, t := range c.Time {
		if t >= horizon {
			break
		}
		sum += without(j-1) * (t - from)
		from = t
	}
	return sum + without(c.indexBefore(horizon))*(horizon-from)
}

// indexBefore is the last curve time before t, -1 when there is none.
func (c *Curve) indexBefore(t float64) int {
	j := c.index(t)
	if j >= 0 && c.Time[j] == t {
		j--
	}
	return j
}

// areaVariance is the Greenwood variance of the area: with G(s) the integral
// from s to the horizon of F - F(s), the sum of
//
//	G^2 d/(n(n-d)) + (horizon-s)^2 S(s-)^2 dk(n-dk)/n^3 - 2 G (horizon-s) S(s-) dk/n^2.
//
// For cause 0 it is that of 1 - S, which reduces to Greenwood's familiar form.
func (f *fit) areaVariance(cause int, value []float64, horizon float64) float64 {
	tb := f.table
	events := f.eventsOf(cause)
	share := func(j int) float64 {
		if cause == 0 {
			return 1 - value[j]
		}
		return value[j]
	}
	variance := 0.0
	tail, to := 0.0, horizon // tail: the integral of F from the time at j to the horizon
	for j := len(tb.time) - 1; j >= 0; j-- {
		t := tb.time[j]
		if t >= horizon {
			continue
		}
		tail += share(j) * (to - t)
		to = t
		n, d, dk, rest := tb.atRisk[j], tb.total[j], events[j], tb.left(j)
		if d == 0 {
			continue
		}
		s, left := f.freeBefore(j), horizon-t
		g := 0.0
		if rest > 0 {
			g = tail - share(j)*left
			variance += g * g * d / (n * rest)
		}
		variance += left*left*s*s*dk*(n-dk)/(n*n*n) - 2*g*left*s*dk/(n*n)
	}
	return math.Max(0, variance)
}
