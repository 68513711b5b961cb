package mixed

import (
	"math"

	"evenlimb/pipeline/stats/internal/dense"
)

// GroupEffect says how far one group lies from the average of all: its best
// linear unbiased prediction, drawn towards zero the less is known of it.
type GroupEffect struct {
	Group       int     // code of the group, as in the data
	Intercept   float64 // in the unit of the outcome
	Slope       float64 // in the unit of the outcome per unit of the slope variable
	InterceptSD float64 // standard deviation of what remains unknown
	SlopeSD     float64
}

// Effects predicts how each group departs from the average course.
//
// The first result has one entry per group, the second one per group of the
// level above (none without), each in order of first appearance in the data.
// Slopes are zero without a random slope.
//
// Method: conditional means and standard deviations given the data, the
// coefficients and the variance parameters taken as known, as ranef of the R
// package lme4 gives them. Cost: linear in the groups, with a level above cubic in the random effects of each.
func (m *Model) Effects() (groups, above []GroupEffect) {
	pr, s := m.problem, m.solution
	groups = make([]GroupEffect, pr.levels[0].groups)
	if len(pr.levels) == 2 {
		above = make([]GroupEffect, pr.levels[1].groups)
	}
	ws := pr.newWorkspace()
	effect := make([]float64, len(ws.y))
	for k := range pr.clusters {
		c := &pr.clusters[k]
		n := c.size
		pr.posterior(c, s.theta, ws)
		pr.residual(c, s, ws)
		// The effects are D w; U times Z'r is the same and needs no D.
		for i := range n {
			effect[i] = dense.Dot(ws.u[i*n:i*n+n], ws.y[:n])
		}
		if c.above > 0 {
			above[k] = pr.effectAt(1, k, 0, n, effect, ws.u, s.sigma2)
		}
		for i, g := range c.groups {
			at := c.above + i*pr.levels[0].size
			groups[g] = pr.effectAt(0, int(g), at, n, effect, ws.u, s.sigma2)
		}
	}
	return groups, above
}

// effectAt turns the effects at a position of a cluster back into raw units.
func (pr *problem) effectAt(k, group, at, n int, effect, u []float64, sigma2 float64) GroupEffect {
	l := &pr.levels[k]
	e := GroupEffect{Group: l.codes[group], Intercept: effect[at] * pr.scale}
	variance := u[at*n+at]
	unit := math.Sqrt(sigma2) * pr.scale
	if l.size == 2 {
		shift := -l.centre / l.spread
		slopeVariance := u[(at+1)*n+at+1]
		variance += 2*shift*u[at*n+at+1] + shift*shift*slopeVariance
		e.Intercept += shift * effect[at+1] * pr.scale
		e.Slope = effect[at+1] / l.spread * pr.scale
		e.SlopeSD = math.Sqrt(slopeVariance) / l.spread * unit
	}
	e.InterceptSD = math.Sqrt(math.Max(0, variance)) * unit
	return e
}
