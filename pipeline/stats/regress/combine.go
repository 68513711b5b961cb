package regress

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
	DF float64 // degrees of freedom; 0 where the normal distribution is used
	T  float64 // value over its standard error
	P  float64 // two-sided, against zero
}

// Test is a joint test of several weighted sums of coefficients.
type Test struct {
	Statistic float64 // F, or chi-square when DF2 is 0
	DF1, DF2  float64
	P         float64
}

// Combine estimates a weighted sum of the coefficients, such as a difference
// between two rows of the design, on the scale of the linear predictor.
//
// weights has one value per column, covariance comes from the same model, level
// lies between 0 and 1.
//
// Errors: stats.ErrLength, stats.ErrNotFinite, stats.ErrRange for level,
// stats.ErrNoVariation when the sum has no variance, stats.ErrTooFew when no two
// clusters carry it. Warnings: those of the
// covariance; "few-degrees" when its degrees of freedom are below 4, where
// Satterthwaite's approximation is too optimistic.
//
// Method: t interval with the degrees of freedom that the covariance names.
// Agrees with coef_test and conf_int of the R package clubSandwich. Cost:
// linear in the clusters.
func (m *Model) Combine(weights []float64, covariance *Covariance, level float64) (Combination, error) {
	if err := stats.CheckLevel(level); err != nil {
		return Combination{}, err
	}
	inner, err := m.weights("weights", weights)
	if err != nil {
		return Combination{}, err
	}
	variance := dense.Bilinear(covariance.inner, inner, inner)
	if !(variance > 0) {
		return Combination{}, fmt.Errorf("weighted sum: %w", stats.ErrNoVariation)
	}
	c := Combination{DF: covariance.df}
	c.Warnings = append(c.Warnings, covariance.Warnings...)
	if covariance.Clusters > 0 {
		c.DF = m.satterthwaite(covariance, inner)
		if !(c.DF > 0) || math.IsInf(c.DF, 0) {
			return Combination{}, fmt.Errorf("no two clusters carry the weighted sum: %w", stats.ErrTooFew)
		}
		if c.DF < 4 {
			c.Warnings = append(c.Warnings, stats.Warning{Code: "few-degrees", Text: "Too few clusters carry this comparison for its interval to hold its level."})
		}
	}
	c.Value, c.SE, c.Level, c.N = dense.Dot(weights, m.Coef), math.Sqrt(variance), level, m.N
	half := quantile((1+level)/2, c.DF) * c.SE
	c.Low, c.High = c.Value-half, c.Value+half
	c.T = c.Value / c.SE
	c.P = twoSided(c.T, c.DF)
	c.Method = m.Method + ", " + covariance.Method
	return c, nil
}

// Around gives the interval and test of a nonlinear function of the
// coefficients: its own value, with the variance of the sum of which c is the
// linear part, and other warnings.
func (c Combination) Around(value float64, warnings []stats.Warning) Combination {
	c.Low += value - c.Value
	c.High += value - c.Value
	c.Value, c.T, c.Warnings = value, value/c.SE, warnings
	c.P = twoSided(c.T, c.DF)
	return c
}

// Wald tests whether several weighted sums of coefficients are all zero: any
// relation with dose, say, or curvature.
//
// rows holds one row of p weights per sum.
//
// Errors: stats.ErrEmpty without rows, stats.ErrLength, stats.ErrNotFinite,
// stats.ErrCollinear when the sums are not independent, or clusters are too few to tell.
//
// Method: F of the robust quadratic form over its number of rows, on the
// covariance's degrees of freedom (n-p, or clusters-1), or chi-square without.
// Agrees with Wald_test(test = "Naive-F") of the R package clubSandwich. Cost:
// cubic in the rows.
func (m *Model) Wald(rows [][]float64, covariance *Covariance) (Test, error) {
	k := len(rows)
	if k == 0 {
		return Test{}, fmt.Errorf("rows: %w", stats.ErrEmpty)
	}
	inner, value := make([][]float64, k), make([]float64, k)
	for i, row := range rows {
		var err error
		if inner[i], err = m.weights(fmt.Sprintf("row %d", i), row); err != nil {
			return Test{}, err
		}
		value[i] = dense.Dot(row, m.Coef)
	}
	v := make([]float64, k*k)
	for i := range k {
		for j := range k {
			v[i*k+j] = dense.Bilinear(covariance.inner, inner[i], inner[j])
		}
	}
	if dense.Cholesky(v, k, dense.Collinear) >= 0 {
		return Test{}, fmt.Errorf("tested sums: %w", stats.ErrCollinear)
	}
	dense.SolveLower(v, k, value, 1)
	chi := dense.Dot(value, value)
	t := Test{Statistic: chi, DF1: float64(k), DF2: covariance.df}
	if t.DF2 == 0 {
		t.P = mathext.GammaIncRegComp(t.DF1/2, chi/2)
		return t, nil
	}
	t.Statistic /= t.DF1
	t.P = mathext.RegIncBeta(t.DF2/2, t.DF1/2, t.DF2/(t.DF2+chi))
	return t, nil
}

func (m *Model) weights(name string, weights []float64) ([]float64, error) {
	if err := checkColumn(name, weights, m.p); err != nil {
		return nil, err
	}
	return m.columns.Weights(weights), nil
}

// quantile of t, or of the normal distribution without degrees of freedom.
func quantile(p, df float64) float64 {
	if df == 0 {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

func twoSided(t, df float64) float64 {
	if df == 0 {
		return math.Erfc(math.Abs(t) / math.Sqrt2)
	}
	return mathext.RegIncBeta(df/2, 0.5, df/(df+t*t))
}
