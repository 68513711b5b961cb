package survival

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/rows"

	"gonum.org/v1/gonum/stat/distuv"
)

// Curve is a step function of time with a pointwise band. Its slices are of
// one length, in ascending order of Time, and belong to the caller.
type Curve struct {
	// Cause is 0 for the share with no event yet, which falls from 1, and k
	// for the share that had an event of cause k, which rises from 0.
	Cause int

	Time     []float64 // distinct ends of follow-up
	Risk     []float64 // at risk just before Time, a sum of weights
	Event    []float64 // events of Cause at Time; for Cause 0 of any cause
	Censored []float64
	Value    []float64 // share from Time on
	SE       []float64
	Low      []float64 // limits; equal to Value where it is 0 or 1
	High     []float64

	Level    float64
	Method   string
	Persons  int
	Warnings []stats.Warning

	fit *fit
}

// fit is what the curves of one call share.
type fit struct {
	in       Data
	opt      Options
	table    *table
	free     []float64 // share with no event, after each time
	codes    []int     // persons of the rows, nil when each row is one
	persons  int
	variance Variance
}

// KaplanMeier estimates the share of persons to whom the event has not yet
// happened, day by day, when some are still being watched.
//
// Input: Data with Event 0 or 1. Output: a Curve that falls from 1.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite, and ErrRange for a negative
// time, an entry not before its time, a weight not above 0, an event code
// above 1 (competing ends: use AalenJohansen). Data without an event give a
// flat curve and the warning "no-events". The warning "emptied-risk-set" says
// that everybody then at risk had the event while others, entered later, were
// still to come: the curve stays where it is (late entry only).
//
// Method: product limit (Kaplan & Meier 1958) with Greenwood's variance, or
// the infinitesimal jackknife by person. Agrees with survival::survfit.
// Decisions: curve intervals, curve variance, flat quantiles.
//
// Cost: linear in the rows on whole days, else one radix sort.
func KaplanMeier(in Data, opt Options) (*Curve, error) {
	if err := in.Check(1); err != nil {
		return nil, fmt.Errorf("Kaplan-Meier: %w", err)
	}
	f, err := newFit(in, 1, opt)
	if err != nil {
		return nil, fmt.Errorf("Kaplan-Meier: %w", err)
	}
	if f.variance == Aalen {
		return nil, fmt.Errorf("Kaplan-Meier: the Aalen variance is for causes, use Greenwood or Jackknife: %w", stats.ErrRange)
	}
	c := f.curve(0)
	c.Method = "Kaplan-Meier, " + f.methodText()
	return c, nil
}

// AalenJohansen estimates, day by day, the share of persons to whom each of
// several ends has happened first, when each person can have only one of them
// and some are still being watched.
//
// Input: Data with Event 0..causes. Output: causes+1 curves, summing to 1 at
// every time: curves[0] the share with no event yet, curves[k] the share that
// had cause k. All curves have the same times.
//
// Errors and warnings: as KaplanMeier; ErrRange also when causes is below 1.
// With opt.Variance Aalen, curves[0] has Greenwood's variance.
//
// Method: Aalen & Johansen (Scand J Stat 1978;5:141) with the variance that
// Options names. Agrees with survival::survfit (curve, jackknife) and with
// cmprsk::cuminc (curve, Aalen). Decisions: curve intervals, curve variance,
// flat quantiles.
//
// Cost: as KaplanMeier, times causes.
func AalenJohansen(in Data, causes int, opt Options) ([]*Curve, error) {
	if causes < 1 {
		return nil, fmt.Errorf("Aalen-Johansen: %d causes: %w", causes, stats.ErrRange)
	}
	if err := in.Check(causes); err != nil {
		return nil, fmt.Errorf("Aalen-Johansen: %w", err)
	}
	f, err := newFit(in, causes, opt)
	if err != nil {
		return nil, fmt.Errorf("Aalen-Johansen: %w", err)
	}
	curves := make([]*Curve, causes+1)
	for k := range curves {
		curves[k] = f.curve(k)
		curves[k].Method = "Aalen-Johansen, " + f.methodText()
	}
	return curves, nil
}

func newFit(in Data, causes int, opt Options) (*fit, error) {
	opt, err := opt.withDefaults()
	if err != nil {
		return nil, err
	}
	f := &fit{in: in, opt: opt, table: newTable(in, causes), variance: opt.Variance}
	f.codes, f.persons = in.Persons()
	if f.variance == AutoVariance {
		f.variance = Greenwood
		if f.persons < len(in.Time) || rows.Weighted(in.Weight) {
			f.variance = Jackknife
		}
	}
	f.free = make([]float64, len(f.table.time))
	s := 1.0
	for j := range f.free {
		if f.table.total[j] > 0 {
			s *= f.table.left(j) / f.table.atRisk[j]
		}
		f.free[j] = s
	}
	return f, nil
}

func (f *fit) methodText() string {
	variance := map[Variance]string{
		Greenwood: "Greenwood variance",
		Aalen:     "Aalen variance",
		Jackknife: "infinitesimal jackknife by person",
	}[f.variance]
	scale := map[Interval]string{LogLog: "log-log", Log: "log", Plain: "plain"}[f.opt.Interval]
	return variance + ", " + scale + " interval"
}

// freeBefore is the share with no event just before time j.
func (f *fit) freeBefore(j int) float64 {
	if j == 0 {
		return 1
	}
	return f.free[j-1]
}

func (f *fit) curve(cause int) *Curve {
	tb := f.table
	n := len(tb.time)
	c := &Curve{
		Cause:    cause,
		Time:     tb.time,
		Risk:     tb.atRisk,
		Event:    f.eventsOf(cause),
		Censored: tb.censored,
		Low:      make([]float64, n),
		High:     make([]float64, n),
		Level:    f.opt.Level,
		Persons:  f.persons,
		fit:      f,
	}
	if cause == 0 {
		c.Value = f.free
	} else {
		c.Value = f.incidence(cause)
	}
	switch {
	case f.variance == Jackknife:
		c.SE = f.jackknife(cause, c.Value)
	case f.variance == Aalen && cause > 0:
		c.SE = f.aalen(cause, c.Value)
	default:
		c.SE = f.greenwood(cause, c.Value)
	}
	z := distuv.UnitNormal.Quantile(0.5 + f.opt.Level/2)
	for j, p := range c.Value {
		if j > 0 && p == c.Value[j-1] && c.SE[j] == c.SE[j-1] {
			c.Low[j], c.High[j] = c.Low[j-1], c.High[j-1]
			continue
		}
		c.Low[j], c.High[j] = limits(p, c.SE[j], z, f.opt.Interval)
	}
	c.Warnings = f.warnings(cause)
	return c
}

func (f *fit) eventsOf(cause int) []float64 {
	if cause == 0 {
		return f.table.total
	}
	return f.table.events[cause-1]
}

// incidence is the Aalen-Johansen share of one cause.
func (f *fit) incidence(cause int) []float64 {
	out := make([]float64, len(f.table.time))
	sum := 0.0
	for j, d := range f.table.events[cause-1] {
		if d > 0 {
			sum += f.freeBefore(j) * d / f.table.atRisk[j]
		}
		out[j] = math.Min(sum, 1)
	}
	return out
}

func (f *fit) warnings(cause int) []stats.Warning {
	var out []stats.Warning
	events := 0.0
	for _, d := range f.eventsOf(cause) {
		events += d
	}
	if events == 0 {
		out = append(out, stats.Warning{Code: "no-events", Text: "No event of this kind was seen; the curve is flat and has no interval."})
	}
	for j, s := range f.free {
		if s == 0 && j < len(f.free)-1 {
			out = append(out, stats.Warning{
				Code: "emptied-risk-set",
				Text: fmt.Sprintf("Everybody at risk at time %g had the event while others entered later; nothing after it moves the curve.", f.table.time[j]),
			})
			break
		}
	}
	return out
}

// limits are the pointwise limits of a share p with standard error se, as
// survival::survfit has them for each scale. At 0 and 1 and without a standard
// error there is no interval and both are p.
func limits(p, se, z float64, scale Interval) (low, high float64) {
	if p <= 0 || p >= 1 || se == 0 {
		return p, p
	}
	switch scale {
	case Log:
		w := z * se / p
		return p * math.Exp(-w), math.Min(1, p*math.Exp(w))
	case Plain:
		return math.Max(0, p-z*se), math.Min(1, p+z*se)
	default:
		lp := math.Log(p)
		w := math.Exp(z * se / (p * lp)) // below 1, as log p is negative
		return math.Exp(lp / w), math.Exp(lp * w)
	}
}
