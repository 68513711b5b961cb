package cox

import (
	"fmt"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"

	"gonum.org/v1/gonum/mat"
)

// Clock names the function of time against which proportionality is tested.
type Clock int

// The clocks.
const (
	EventShare Clock = iota // 1 - Kaplan-Meier just before, the default of cox.zph
	Identity                // time itself
)

// Proportionality tests for each column whether its hazard ratio stays the
// same over time, and for all together.
//
// Output: a Test a column and the joint one. Errors: stats.ErrNoVariation when
// all events are at one time.
//
// Method: score test of an interaction of the column with the clock (Grambsch
// & Therneau, Biometrika 1994;81:515, in the exact form), with the model-based
// information whatever the variance of the model. Agrees with
// survival::cox.zph(terms = FALSE).
//
// Cost: one pass.
func (m *Model) Proportionality(clock Clock) (columns []Test, joint Test, err error) {
	g, err := m.clock(clock)
	if err != nil {
		return nil, Test{}, fmt.Errorf("proportionality: %w", err)
	}
	p := m.layout.p
	// The slope of the likelihood in (beta, interactions) and its information.
	score := make([]float64, 2*p)
	info := mat.NewSymDense(2*p, nil)
	one := &point{score: make([]float64, p), info: make([]float64, p*(p+1)/2)}
	m.layout.pass(m.top.beta, func(t *tie) {
		clear(one.score)
		clear(one.info)
		if t.deaths == 1 {
			one.addSingle(t)
		} else {
			one.addTied(t, m.ties)
		}
		time := g(t.time)
		k := 0
		for a := range p {
			score[a] += one.score[a]
			score[p+a] += time * one.score[a]
			for b := 0; b <= a; b++ {
				v := one.info[k]
				k++
				add := func(i, j int, x float64) { info.SetSym(i, j, info.At(i, j)+x) }
				add(a, b, v)
				add(p+a, p+b, time*time*v)
				add(p+a, b, time*v)
				if a != b {
					add(p+b, a, time*v)
				}
			}
		}
	})
	subset := func(extra ...int) (Test, error) {
		at := make([]int, p, 2*p)
		for a := range at {
			at[a] = a
		}
		at = append(at, extra...)
		u := make([]float64, len(at))
		v := mat.NewSymDense(len(at), nil)
		for i, a := range at {
			u[i] = score[a]
			for j, b := range at {
				v.SetSym(i, j, info.At(a, b))
			}
		}
		x, err := quadratic(u, v)
		return newTest(x, len(extra), "score test of proportional hazards"), err
	}
	columns = make([]Test, p)
	all := make([]int, p)
	for a := range columns {
		all[a] = p + a
		if columns[a], err = subset(p + a); err != nil {
			return nil, Test{}, fmt.Errorf("proportionality of column %d: %w", a, stats.ErrNoVariation)
		}
	}
	if joint, err = subset(all...); err != nil {
		return nil, Test{}, fmt.Errorf("proportionality: %w", stats.ErrNoVariation)
	}
	return columns, joint, nil
}

// clock returns the function of time, less its mean over the events.
func (m *Model) clock(clock Clock) (func(float64) float64, error) {
	g := func(t float64) float64 { return t }
	switch clock {
	case Identity:
	case EventShare:
		in := m.in.Data
		in.Weight, in.Person = nil, nil
		curve, err := survival.KaplanMeier(in, survival.Options{})
		if err != nil {
			return nil, err
		}
		g = func(t float64) float64 { return 1 - curve.Before(t) }
	default:
		return nil, fmt.Errorf("clock %d: %w", clock, stats.ErrRange)
	}
	mean := 0.0
	for i, e := range m.layout.event {
		if e {
			mean += g(m.layout.time[i]) / float64(m.Events)
		}
	}
	return func(t float64) float64 { return g(t) - mean }, nil
}
