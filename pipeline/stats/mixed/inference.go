package mixed

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Combination is a weighted sum of coefficients with its interval and test.
type Combination struct {
	stats.Estimate
	DF float64 // Satterthwaite degrees of freedom
	T  float64 // value over its standard error
	P  float64 // two-sided, against zero
}

// Combine estimates a weighted sum of the coefficients: the typical value for
// given covariates when weights is a row of the design, a difference between
// two such values when it is the difference of two rows.
//
// weights has one value per column of the model, level lies between 0 and 1.
// The result is in the unit of the outcome; N counts rows.
//
// Errors: stats.ErrLength, stats.ErrNotFinite for weights, stats.ErrRange for
// level, stats.ErrNoVariation when all weights are zero. Warnings: those of the fit.
//
// Method: t interval with Satterthwaite degrees of freedom 2 v^2 / (g'Ag), v
// the variance, g its gradient by the variance parameters and A their
// covariance, twice the inverse Hessian of the deviance; directions without
// curvature are left out. Agrees with contest1D of the R package lmerTest.
// Cost: quadratic in the columns.
func (m *Model) Combine(weights []float64, level float64) (Combination, error) {
	if err := stats.CheckLength("weights", len(weights), len(m.Coef)); err != nil {
		return Combination{}, err
	}
	if err := stats.CheckFinite("weights", weights); err != nil {
		return Combination{}, err
	}
	if err := stats.CheckLevel(level); err != nil {
		return Combination{}, err
	}
	variance, df := m.variance(weights)
	if variance == 0 {
		return Combination{}, fmt.Errorf("weights are all zero: %w", stats.ErrNoVariation)
	}
	se := math.Sqrt(variance)
	value := dense.Dot(weights, m.Coef)
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1+level)/2) * se
	t := value / se
	return Combination{
		Estimate: stats.Estimate{
			Value: value, Low: value - half, High: value + half, SE: se, Level: level,
			N: m.N, Method: m.Method, Warnings: append([]stats.Warning(nil), m.Warnings...),
		},
		DF: df,
		T:  t,
		P:  mathext.RegIncBeta(df/2, 0.5, df/(df+t*t)),
	}, nil
}

// MeanCurve draws the typical course, such as symmetry over the weeks, for one
// and the same mix of persons at every point, so that the curve does not move
// because other persons came.
//
// points holds, for each point of the curve, the design rows of the mix there
// (at least one row of p values), or the differences of the rows of two cohorts
// for the curve of their difference; share weighs the rows of a point and is
// scaled to sum one; nil weighs them alike. The result has an estimate per
// point, in the unit of the outcome, with pointwise intervals.
//
// Errors: stats.ErrEmpty without points or rows, stats.ErrRange for a share
// that is negative or shares that sum to zero, and those of Combine. Warnings
// and method: those of Combine for the averaged row. Cost: linear in the rows.
func (m *Model) MeanCurve(points [][][]float64, share []float64, level float64) ([]Combination, error) {
	if len(points) == 0 {
		return nil, fmt.Errorf("points: %w", stats.ErrEmpty)
	}
	curve := make([]Combination, len(points))
	for i, rows := range points {
		row, err := m.average(rows, share)
		if err != nil {
			return nil, fmt.Errorf("point %d: %w", i, err)
		}
		if curve[i], err = m.Combine(row, level); err != nil {
			return nil, fmt.Errorf("point %d: %w", i, err)
		}
	}
	return curve, nil
}

func (m *Model) average(rows [][]float64, share []float64) ([]float64, error) {
	if len(rows) == 0 {
		return nil, fmt.Errorf("rows: %w", stats.ErrEmpty)
	}
	if share != nil {
		if err := stats.CheckLength("share", len(share), len(rows)); err != nil {
			return nil, err
		}
		if err := stats.CheckFinite("share", share); err != nil {
			return nil, err
		}
	}
	mean := make([]float64, len(m.Coef))
	var total float64
	for k, row := range rows {
		if err := stats.CheckLength("row", len(row), len(mean)); err != nil {
			return nil, err
		}
		weight := 1.0
		if share != nil {
			weight = share[k]
		}
		if weight < 0 {
			return nil, fmt.Errorf("share[%d] = %v: %w", k, weight, stats.ErrRange)
		}
		total += weight
		for j, x := range row {
			mean[j] += weight * x
		}
	}
	if total == 0 {
		return nil, fmt.Errorf("shares sum to zero: %w", stats.ErrRange)
	}
	for j := range mean {
		mean[j] /= total
	}
	return mean, nil
}

// infer fills coefficients, covariance, standard errors and degrees of freedom.
func (m *Model) infer() {
	pr, s := m.problem, m.solution
	p, q := pr.p, len(s.theta)
	m.vary = make([][]float64, q+1)
	for a, shift := range s.xhxShift {
		m.vary[a] = make([]float64, p*p)
		for i, v := range shift {
			m.vary[a][i] = v * s.sigma2
		}
	}
	m.vary[q] = make([]float64, p*p)
	for i, v := range s.xhxInverse {
		m.vary[q][i] = v * s.sigma2
	}
	m.spread = pseudoInverse(s.joint, q+1)

	m.Coef, m.SE, m.DF = make([]float64, p), make([]float64, p), make([]float64, p)
	m.Covariance = make([][]float64, p)
	for j := range p {
		unit := make([]float64, p)
		unit[j] = 1
		internal := m.problem.columns.Weights(unit)
		m.Coef[j] = dense.Dot(internal, pr.ols) + dense.Dot(internal, s.beta)*pr.scale
		var variance float64
		variance, m.DF[j] = m.variance(unit)
		m.SE[j] = math.Sqrt(variance)
		m.Covariance[j] = make([]float64, p)
		for k := range p {
			other := make([]float64, p)
			other[k] = 1
			m.Covariance[j][k] = dense.Bilinear(m.vary[q], internal, m.problem.columns.Weights(other)) * pr.scale * pr.scale
		}
	}
}

// variance of a weighted sum of coefficients and its degrees of freedom.
func (m *Model) variance(weights []float64) (variance, df float64) {
	internal := m.problem.columns.Weights(weights)
	q := len(m.vary) - 1
	v := dense.Bilinear(m.vary[q], internal, internal)
	gradient := make([]float64, q+1)
	for a := range gradient {
		gradient[a] = dense.Bilinear(m.vary[a], internal, internal)
	}
	return v * m.problem.scale * m.problem.scale, 2 * v * v / dense.Bilinear(m.spread, gradient, gradient)
}

// pseudoInverse is twice the inverse of a Hessian, without the directions in
// which it does not curve.
func pseudoInverse(hessian []float64, n int) []float64 {
	// Scaled to unit diagonal first, so that what counts as flat does not
	// depend on units.
	scale := make([]float64, n)
	for i := range scale {
		scale[i] = 1
		if d := hessian[i*n+i]; d > 0 {
			scale[i] = 1 / math.Sqrt(d)
		}
	}
	scaled := make([]float64, n*n)
	for i := range n {
		for j := range n {
			scaled[i*n+j] = hessian[i*n+j] * scale[i] * scale[j]
		}
	}
	values, vectors := dense.Eigen(scaled, n)
	out := make([]float64, n*n)
	for k, v := range values {
		if v < 1e-10*values[n-1] {
			continue
		}
		for i := range n {
			for j := range n {
				out[i*n+j] += 2 / v * vectors.At(i, k) * vectors.At(j, k) * scale[i] * scale[j]
			}
		}
	}
	return out
}
