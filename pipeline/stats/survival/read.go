package survival

import (
	"fmt"
	"sort"

	"evenlimb/pipeline/stats"
)

// index is the last curve time up to t, -1 before the first.
func (c *Curve) index(t float64) int {
	return sort.Search(len(c.Time), func(j int) bool { return c.Time[j] > t }) - 1
}

// At reads the share at time t with its interval. N is the number of persons,
// Events the rows with an event of the curve's cause up to t.
//
// Warnings: "beyond-follow-up" when t lies after the last end of follow-up and
// somebody was then still free of every event (the value is that of the last
// time); "no-interval" when the share is 0 or 1, where no scale has limits and
// Low = High = Value.
func (c *Curve) At(t float64) stats.Estimate {
	e := stats.Estimate{Level: c.Level, N: c.Persons, Method: c.Method, Warnings: c.copyWarnings()}
	if c.Cause == 0 {
		e.Value, e.Low, e.High = 1, 1, 1
	}
	if j := c.index(t); j >= 0 {
		e.Value, e.Low, e.High, e.SE = c.Value[j], c.Low[j], c.High[j], c.SE[j]
	}
	e.Events = c.EventsBy(t)
	if c.beyond(t) {
		e.Warnings = append(e.Warnings, c.beyondWarning(t))
	}
	if e.Low == e.High {
		e.Warnings = append(e.Warnings, stats.Warning{
			Code: "no-interval",
			Text: fmt.Sprintf("At time %g the share is %g; no interval can be computed there.", t, e.Value),
		})
	}
	return e
}

// AtRisk is the number at risk just before t, a sum of weights: watched since
// before t, still free of every event, and followed to t at least.
func (c *Curve) AtRisk(t float64) float64 {
	in := c.fit.in
	if in.Entry == nil {
		if j := sort.SearchFloat64s(c.Time, t); j < len(c.Time) {
			return c.Risk[j]
		}
		return 0
	}
	sum := 0.0
	for i, end := range in.Time {
		if end >= t && in.Entry[i] < t {
			sum += in.weight(i)
		}
	}
	return sum
}

// EventsBy is the number of rows with an event of the curve's cause up to t
// (of any cause on the curve of cause 0), unweighted.
func (c *Curve) EventsBy(t float64) int {
	in := c.fit.in
	n := 0
	if in.Weight == nil {
		for _, d := range c.Event[:c.index(t)+1] {
			n += int(d)
		}
		return n
	}
	for i, k := range in.Event {
		if k > 0 && (k == c.Cause || c.Cause == 0) && in.Time[i] <= t {
			n++
		}
	}
	return n
}

// CensoredBy is the number of rows censored up to t, unweighted.
func (c *Curve) CensoredBy(t float64) int {
	n := 0
	for i, k := range c.fit.in.Event {
		if k == 0 && c.fit.in.Time[i] <= t {
			n++
		}
	}
	return n
}

// Quantile is the time by which a share P had the event. Times that were not
// reached hold the last time of follow-up, which they exceed.
type Quantile struct {
	P           float64
	Value       float64
	Low         float64
	High        float64
	Reached     bool
	LowReached  bool
	HighReached bool
	Share       float64 // share that had the event by the end of follow-up
	FollowUp    float64 // last time of follow-up
	Level       float64
	Persons     int
	Events      int
	Method      string
	Warnings    []stats.Warning
}

// Quantile finds the time by which a share p of persons had the event (on a
// curve of cause 0: any event): for p = 0.5 the median. The limits are the
// times at which the limits of the curve reach p (Brookmeyer & Crowley 1982).
// A curve or limit that never gets there is "not reached": its flag is false
// and the value is the last time of follow-up, which the quantile exceeds.
//
// Errors: stats.ErrRange unless p lies between 0 and 1.
//
// Where a curve is level at exactly p, the midpoint of the level stretch is
// taken, as survival::quantile.survfit does (decision: flat quantiles).
func (c *Curve) Quantile(p float64) (Quantile, error) {
	if !(p > 0 && p < 1) {
		return Quantile{}, fmt.Errorf("quantile at %v, between 0 and 1 expected: %w", p, stats.ErrRange)
	}
	last := len(c.Time) - 1
	q := Quantile{
		P: p, Share: c.Value[last], FollowUp: c.Time[last], Level: c.Level, Persons: c.Persons,
		Events: c.EventsBy(c.Time[last]), Method: c.Method + ", band inverted", Warnings: c.copyWarnings(),
	}
	early, late := c.High, c.Low
	if c.Cause == 0 {
		q.Share = 1 - q.Share
		early, late = c.Low, c.High
	}
	q.Value, q.Reached = c.crossing(p, c.Value, false)
	q.Low, q.LowReached = c.crossing(p, early, true)
	q.High, q.HighReached = c.crossing(p, late, true)
	return q, nil
}

// flat is how near a curve must come to p to count as level at p: the square
// root of the machine's precision, as in survival::quantile.survfit.
const flat = 1.4901161193847656e-08

// crossing returns the first time at which the share that had the event
// reaches p. A limit where the curve has no interval does not count.
func (c *Curve) crossing(p float64, xs []float64, limit bool) (float64, bool) {
	had := func(j int) float64 {
		if c.Cause == 0 {
			return 1 - xs[j]
		}
		return xs[j]
	}
	for j, t := range c.Time {
		if had(j) < p-flat || (limit && c.Low[j] == c.High[j]) {
			continue
		}
		if had(j) > p+flat {
			return t, true
		}
		for next := j + 1; next < len(c.Time); next++ {
			if had(next) > p+flat {
				return (t + c.Time[next]) / 2, true
			}
		}
		return t, true
	}
	return c.Time[len(c.Time)-1], false
}

// beyond says whether t lies after the follow-up while the curve could still move.
func (c *Curve) beyond(t float64) bool {
	last := len(c.Time) - 1
	return t > c.Time[last] && c.fit.free[last] > 0
}

func (c *Curve) beyondWarning(t float64) stats.Warning {
	return stats.Warning{
		Code: "beyond-follow-up",
		Text: fmt.Sprintf("Nobody was watched to time %g; the curve is taken as level from time %g.", t, c.Time[len(c.Time)-1]),
	}
}

func (c *Curve) copyWarnings() []stats.Warning {
	return append([]stats.Warning(nil), c.Warnings...)
}

// Before is the share just before time t.
func (c *Curve) Before(t float64) float64 {
	if j := c.indexBefore(t); j >= 0 {
		return c.Value[j]
	}
	if c.Cause == 0 {
		return 1
	}
	return 0
}
