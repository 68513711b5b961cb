// Package shrink pools the estimates of several groups, such as injury types,
// and moves each towards the whole as far as its own uncertainty asks for.
package shrink

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// Pooled is the mean of the groups' true values (the embedded Estimate, N
// groups), how much they differ, and each group's value given the others.
type Pooled struct {
	stats.Estimate
	Tau    float64          // standard deviation between the true values, from 0
	Shrunk []stats.Estimate // per group, in the order of the input
}

// RandomEffects estimates the mean of what several groups estimate, allowing
// that their true values differ, and each group's own value by leaning on the
// others: the less a group knows, the more it leans.
//
// Input: value and se, one per group, in the same unit and order; two groups or
// more; se above 0; level, two-sided. The groups are taken as independent.
// Output: Pooled, all in the unit of value.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrTooFew for one group;
// ErrRange for an se not above 0, or below 1e-50 of the largest se or of the
// range of the values; ErrRange for the level. Warnings: "few-groups" below 5
// groups: Tau is known roughly; "no-spread" when Tau is 0, so that all groups
// lean fully; "narrower-than-fixed" when the groups agree more closely than
// their se lets expect and the interval is narrower than if Tau were known to
// be 0.
//
// Method: REML for Tau, the mean with the variance of Hartung and Knapp (Stat
// Med 2001;20:3875) and t with groups-1 degrees of freedom; shrunken values are
// best linear predictions, their SE includes that of the mean but not that of
// Tau (decision: pooling). Agrees with the likelihood maximised in R and with the
// REML criterion of lme4 at residual variances fixed by group.
//
// Cost: about 400 passes over the groups, each quadratic in them.
func RandomEffects(value, se []float64, level float64) (Pooled, error) {
	scale, err := check(value, se, level)
	if err != nil {
		return Pooled{}, fmt.Errorf("random effects: %w", err)
	}
	m := model{y: make([]float64, len(value)), v: make([]float64, len(value))}
	for i := range value {
		m.y[i] = (value[i] - value[0]) / scale // about the first, so that no digit is lost
		m.v[i] = (se[i] / scale) * (se[i] / scale)
	}
	tau2 := m.maximise()
	return m.pool(tau2, value[0], scale, level), nil
}

// model holds estimates y and their variances v, shifted and scaled.
type model struct{ y, v []float64 }

// weights returns the weights at tau2, their sum and the weighted mean.
func (m model) weights(tau2 float64) (w []float64, sum, mean float64) {
	w = make([]float64, len(m.y))
	for i, v := range m.v {
		w[i] = 1 / (v + tau2)
		sum += w[i]
		mean += w[i] * m.y[i]
	}
	return w, sum, mean / sum
}

// logLikelihood is the restricted one, up to a constant.
func (m model) logLikelihood(tau2 float64) float64 {
	w, sum, mean := m.weights(tau2)
	l := -math.Log(sum) / 2
	for i := range w {
		l += (math.Log(w[i]) - w[i]*(m.y[i]-mean)*(m.y[i]-mean)) / 2
	}
	return l
}

// score is twice the derivative of logLikelihood.
func (m model) score(tau2 float64) float64 {
	w, sum, mean := m.weights(tau2)
	var s float64
	for i := range w {
		var others float64 // sum - w[i], without cancellation
		for j := range w {
			if j != i {
				others += w[j]
			}
		}
		s += w[i]*w[i]*(m.y[i]-mean)*(m.y[i]-mean) - w[i]*others/sum
	}
	return s
}

// maximise finds the highest of the local maxima: the likelihood may have two.
// Each lies at 0 or where the score falls through 0 between points of a grid.
func (m model) maximise() float64 {
	top := 1.0
	for m.score(top) > 0 {
		top *= 4
	}
	const steps = 200
	grid := make([]float64, steps+1)
	for i := range grid[1:] {
		grid[i+1] = top * math.Pow(1e-30, 1-float64(i+1)/steps)
	}
	best, bestLikelihood := 0.0, m.logLikelihood(0)
	for i := range steps {
		if m.score(grid[i]) <= 0 || m.score(grid[i+1]) > 0 {
			continue
		}
		root := m.root(grid[i], grid[i+1])
		if l := m.logLikelihood(root); l > bestLikelihood {
			best, bestLikelihood = root, l
		}
	}
	return best
}

// root halves the interval in which the score falls through 0, to the last bit.
func (m model) root(lo, hi float64) float64 {
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			break
		}
		if m.score(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + (hi-lo)/2
}

func (m model) pool(tau2, shift, scale, level float64) Pooled {
	groups := float64(len(m.y))
	w, sum, mean := m.weights(tau2)
	var q float64
	for i := range w {
		q += w[i] * (m.y[i] - mean) * (m.y[i] - mean)
	}
	variance := q / (groups - 1) / sum
	t := distuv.StudentsT{Sigma: 1, Nu: groups - 1}.Quantile((1 + level) / 2)
	interval := func(at, variance float64, method string) stats.Estimate {
		half := t * math.Sqrt(variance)
		return stats.Estimate{
			Value: shift + scale*at, Low: shift + scale*(at-half), High: shift + scale*(at+half),
			SE: scale * math.Sqrt(variance), Level: level, N: len(m.y), Method: method,
		}
	}
	out := Pooled{
		Estimate: interval(mean, variance, "random effects (REML), Hartung-Knapp interval"),
		Tau:      scale * math.Sqrt(tau2),
	}
	for i, y := range m.y {
		keep := tau2 * w[i]
		out.Shrunk = append(out.Shrunk, interval(mean+keep*(y-mean), keep*m.v[i]+(1-keep)*(1-keep)*variance,
			"shrunken towards the mean of the groups (REML)"))
	}
	out.Warnings = m.warnings(tau2, t*math.Sqrt(variance), level)
	return out
}

func (m model) warnings(tau2, half, level float64) []stats.Warning {
	var out []stats.Warning
	if len(m.y) < 5 {
		out = append(out, stats.Warning{
			Code: "few-groups",
			Text: fmt.Sprintf("Only %d groups: how much they differ is known roughly.", len(m.y)),
		})
	}
	if tau2 == 0 {
		out = append(out, stats.Warning{
			Code: "no-spread",
			Text: "The groups differ no more than chance explains; each is shown at their common mean.",
		})
	}
	_, sum, _ := m.weights(0)
	if half < distuv.UnitNormal.Quantile((1+level)/2)/math.Sqrt(sum) {
		out = append(out, stats.Warning{
			Code: "narrower-than-fixed",
			Text: "The groups agree more closely than their own uncertainty lets expect; the interval may be too narrow.",
		})
	}
	return out
}

// check refuses what cannot be pooled and returns the unit to work in.
func check(value, se []float64, level float64) (float64, error) {
	if len(value) == 0 {
		return 0, stats.ErrEmpty
	}
	if err := stats.CheckLength("se", len(se), len(value)); err != nil {
		return 0, err
	}
	if err := stats.CheckFinite("value", value); err != nil {
		return 0, err
	}
	if err := stats.CheckFinite("se", se); err != nil {
		return 0, err
	}
	if err := stats.CheckLevel(level); err != nil {
		return 0, err
	}
	if len(value) == 1 {
		return 0, fmt.Errorf("one group: %w", stats.ErrTooFew)
	}
	scale := math.Max(slices.Max(se), slices.Max(value)-slices.Min(value))
	for i, s := range se {
		if s <= 0 || s < 1e-50*scale || scale > 1e150 {
			return 0, fmt.Errorf("se[%d] is %v: %w", i, s, stats.ErrRange)
		}
	}
	return scale, nil
}
