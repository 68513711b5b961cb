// Package survival estimates how long it takes until something happens when
// not everybody has been watched long enough: curves with competing ends,
// restricted means, quantiles and tests between groups. Proportional hazards
// are in its folder cox, times known only between visits in interval.
//
// A figure of the kind "share returned by week 12" is made like this:
//
//	curves, err := survival.AalenJohansen(data, 3, survival.Options{})
//	returned := curves[1]            // cause 1; curves[0] is "nothing yet"
//	week12 := returned.At(84)        // share with interval, by day 84
//	risk := returned.AtRisk(84)      // still watched and still free of every end
//	median, err := returned.Quantile(0.5) // median.Reached says whether it was reached
//	mean, err := returned.MeanWithout(182) // mean days not yet returned, of 182
//
// Times are in any unit, whole days as a rule: whole numbers are counted and
// not sorted, which is several times faster. Times that are equal to the last
// bit are tied.
package survival

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/rows"
)

// Data is the follow-up of n episodes, a row each, in any order. Nothing in it
// is changed. Curves keep a reference to it: leave it alone while they are in use.
type Data struct {
	Time   []float64 // end of follow-up, at least 0
	Event  []int     // what ended it: 0 nothing (censored), k the k-th cause
	Entry  []float64 // when watching began, below Time (left truncation); nil: from the start
	Weight []float64 // above 0; nil: 1 each
	Person []int     // who; rows of one person are not independent; nil: a person each
}

// Variance names how the standard error of a curve is computed.
type Variance int

// The variances. Greenwood, for competing causes in its multinomial form, and
// Aalen take rows as independent; the jackknife sums over persons.
const (
	// AutoVariance is Jackknife where a person has two rows or a weight is not
	// 1, and Greenwood otherwise.
	AutoVariance Variance = iota
	// Greenwood is the delta-method variance with multinomial increments
	// (Gaynor et al., J Am Stat Assoc 1993;88:400). With one cause it is
	// Greenwood's; without late entry and weights it equals Jackknife.
	Greenwood
	// Aalen is the delta-method variance of cmprsk::cuminc, which replaces one
	// n by n-1 in each increment. It exists for causes 1 and up.
	Aalen
	// Jackknife is the infinitesimal jackknife summed over persons, as
	// survival::survfit(id=, cluster=) has it.
	Jackknife
)

// Interval names the scale on which the limits are symmetric.
type Interval int

// The scales of the limits; all stay within 0 and 1.
const (
	LogLog Interval = iota // log(-log p), the default
	Log                    // log p, cut at 1
	Plain                  // p itself, cut at 0 and 1
)

// Options of a curve; the zero value is 95 %, log-log, AutoVariance.
type Options struct {
	Level    float64 // two-sided confidence level; 0 is 0.95
	Interval Interval
	Variance Variance
}

func (o Options) withDefaults() (Options, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if err := stats.CheckLevel(o.Level); err != nil {
		return o, err
	}
	if o.Interval < LogLog || o.Interval > Plain {
		return o, fmt.Errorf("interval %d is none of LogLog, Log, Plain: %w", o.Interval, stats.ErrRange)
	}
	if o.Variance < AutoVariance || o.Variance > Jackknife {
		return o, fmt.Errorf("variance %d is none of the named ones: %w", o.Variance, stats.ErrRange)
	}
	return o, nil
}

// Check returns the error with which the estimates refuse data that they cannot
// use; causes is the largest event code.
func (d Data) Check(causes int) error {
	n := len(d.Time)
	if n == 0 {
		return fmt.Errorf("time: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("event", len(d.Event), n); err != nil {
		return err
	}
	if d.Entry != nil {
		if err := stats.CheckLength("entry", len(d.Entry), n); err != nil {
			return err
		}
		if err := stats.CheckFinite("entry", d.Entry); err != nil {
			return err
		}
	}
	if err := rows.Check(n, d.Weight, d.Person); err != nil {
		return err
	}
	for i, t := range d.Time {
		switch {
		case !(t >= 0 && t <= math.MaxFloat64):
			if t < 0 && !math.IsInf(t, 0) {
				return fmt.Errorf("time[%d] is %v, it must not be negative: %w", i, t, stats.ErrRange)
			}
			return fmt.Errorf("time[%d]: %w", i, stats.ErrNotFinite)
		case d.Event[i] < 0 || d.Event[i] > causes:
			return fmt.Errorf("event[%d] is %d, it must lie in 0..%d: %w", i, d.Event[i], causes, stats.ErrRange)
		}
	}
	for i, e := range d.Entry {
		if e >= d.Time[i] {
			return fmt.Errorf("entry[%d] is %v and time %v, entry must come first: %w", i, e, d.Time[i], stats.ErrRange)
		}
	}
	return nil
}

func (d Data) weight(i int) float64 {
	if d.Weight == nil {
		return 1
	}
	return d.Weight[i]
}

// Persons numbers the persons 0..m-1 in order of first appearance; with Person
// nil the rows are the persons and codes is nil.
func (d Data) Persons() (codes []int, m int) {
	if d.Person == nil {
		return nil, len(d.Time)
	}
	return rows.Persons(d.Person)
}

// Split deals the rows to groups 0..groups-1, keeping their order; group has a
// value a row. A group without rows is an empty Data.
func Split(d Data, group []int, groups int) ([]Data, error) {
	n := len(d.Time)
	for _, c := range []struct {
		name string
		n    int
		has  bool
	}{
		{"group", len(group), true},
		{"event", len(d.Event), true},
		{"entry", len(d.Entry), d.Entry != nil},
		{"weight", len(d.Weight), d.Weight != nil},
		{"person", len(d.Person), d.Person != nil},
	} {
		if c.has {
			if err := stats.CheckLength(c.name, c.n, n); err != nil {
				return nil, err
			}
		}
	}
	size := make([]int, groups)
	for i, g := range group {
		if g < 0 || g >= groups {
			return nil, fmt.Errorf("group[%d] is %d, it must lie in 0..%d: %w", i, g, groups-1, stats.ErrRange)
		}
		size[g]++
	}
	return split(d, group, size), nil
}

func split(d Data, group, size []int) []Data {
	out := make([]Data, len(size))
	for g, n := range size {
		out[g].Time = make([]float64, 0, n)
		out[g].Event = make([]int, 0, n)
		if d.Entry != nil {
			out[g].Entry = make([]float64, 0, n)
		}
		if d.Weight != nil {
			out[g].Weight = make([]float64, 0, n)
		}
		if d.Person != nil {
			out[g].Person = make([]int, 0, n)
		}
	}
	for i, g := range group {
		o := &out[g]
		o.Time = append(o.Time, d.Time[i])
		o.Event = append(o.Event, d.Event[i])
		if d.Entry != nil {
			o.Entry = append(o.Entry, d.Entry[i])
		}
		if d.Weight != nil {
			o.Weight = append(o.Weight, d.Weight[i])
		}
		if d.Person != nil {
			o.Person = append(o.Person, d.Person[i])
		}
	}
	return out
}
