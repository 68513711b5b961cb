package survival

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// ShareDifference estimates by how much the share at time t differs between
// two groups of persons: a - b, for the cause of the two curves.
//
// Input: curves of the same cause, made with the same level. Output: the
// difference, between -1 and 1; N and Events are those of both groups.
//
// Errors: stats.ErrRange when cause or level differ. Warnings: those of both
// curves, and "no-interval" when neither curve has an error at t.
//
// Method: difference of the two shares, interval symmetric. The variances add,
// unless a person has rows in both groups (equal Person codes): then the
// infinitesimal jackknife is summed over the persons of both.
//
// Cost: constant; with shared persons linear in the rows.
func ShareDifference(a, b *Curve, t float64) (stats.Estimate, error) {
	if err := sameKind(a, b); err != nil {
		return stats.Estimate{}, fmt.Errorf("difference of shares: %w", err)
	}
	if math.IsNaN(t) || math.IsInf(t, 0) {
		return stats.Estimate{}, fmt.Errorf("difference of shares, time %v: %w", t, stats.ErrNotFinite)
	}
	x, y := a.At(t), b.At(t)
	shared, persons := sharedPersons(a.fit, b.fit)
	se := math.Hypot(x.SE, y.SE)
	if shared {
		ua, _ := a.fit.influences(a.Cause, t)
		ub, _ := b.fit.influences(b.Cause, t)
		se = jointError(a.fit, b.fit, ua, ub)
	}
	e := differ(a.Level, x, y, se, persons, 1)
	e.Method = "difference of shares, " + differenceMethod(a, b, shared)
	if se == 0 && len(e.Warnings) == 0 {
		e.Warnings = append(e.Warnings, stats.Warning{Code: "no-interval", Text: "Neither group has had an event; no interval can be computed."})
	}
	return e, nil
}

// MeanDifference estimates by how much the mean time without the event, up to
// the horizon, differs between two groups of persons: a - b. Input, output,
// errors, method and cost are as for ShareDifference and Curve.MeanWithout;
// the unit is that of the times.
func MeanDifference(a, b *Curve, horizon float64) (stats.Estimate, error) {
	if err := sameKind(a, b); err != nil {
		return stats.Estimate{}, fmt.Errorf("difference of means: %w", err)
	}
	x, err := a.MeanWithout(horizon)
	if err != nil {
		return stats.Estimate{}, err
	}
	y, err := b.MeanWithout(horizon)
	if err != nil {
		return stats.Estimate{}, err
	}
	shared, persons := sharedPersons(a.fit, b.fit)
	se := math.Hypot(x.SE, y.SE)
	if shared {
		_, ua := a.fit.influences(a.Cause, horizon)
		_, ub := b.fit.influences(b.Cause, horizon)
		se = jointError(a.fit, b.fit, ua, ub)
	}
	e := differ(a.Level, x, y, se, persons, horizon)
	e.Method = "difference of restricted means, " + differenceMethod(a, b, shared)
	return e, nil
}

func sameKind(a, b *Curve) error {
	if a.Cause != b.Cause {
		return fmt.Errorf("curves of causes %d and %d: %w", a.Cause, b.Cause, stats.ErrRange)
	}
	if a.Level != b.Level {
		return fmt.Errorf("curves of levels %v and %v: %w", a.Level, b.Level, stats.ErrRange)
	}
	return nil
}

func differ(level float64, x, y stats.Estimate, se float64, persons int, most float64) stats.Estimate {
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	d := x.Value - y.Value
	return stats.Estimate{
		Value: d, SE: se, Level: level,
		Low: math.Max(-most, d-z*se), High: math.Min(most, d+z*se),
		N: persons, Events: x.Events + y.Events,
		Warnings: append(x.Warnings, y.Warnings...),
	}
}

func differenceMethod(a, b *Curve, shared bool) string {
	if shared {
		return "infinitesimal jackknife over the persons of both groups"
	}
	if a.Method == b.Method {
		return a.Method
	}
	return a.Method + " against " + b.Method
}

// sharedPersons says whether a person has rows in both, and how many there are
// in all.
func sharedPersons(a, b *fit) (shared bool, persons int) {
	persons = a.persons + b.persons
	if a.in.Person == nil || b.in.Person == nil {
		return false, persons
	}
	in := map[int]bool{}
	for _, p := range a.in.Person {
		in[p] = true
	}
	both := map[int]bool{}
	for _, p := range b.in.Person {
		if in[p] {
			both[p] = true
		}
	}
	return len(both) > 0, persons - len(both)
}

// jointError is the jackknife error of a difference whose influences are ua
// and ub, by the persons of each fit.
func jointError(a, b *fit, ua, ub []float64) float64 {
	at := make(map[int]int, a.persons)
	for i, p := range a.in.Person {
		at[p] = a.codes[i]
	}
	joint := append([]float64(nil), ua...)
	done := make([]bool, b.persons)
	for i, p := range b.in.Person {
		c := b.codes[i]
		if done[c] {
			continue
		}
		done[c] = true
		if j, ok := at[p]; ok {
			joint[j] -= ub[c]
		} else {
			joint = append(joint, ub[c])
		}
	}
	sum := 0.0
	for _, u := range joint {
		sum += u * u
	}
	return math.Sqrt(sum)
}
