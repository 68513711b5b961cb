package propensity

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
)

// WeightedDose is a weighting of persons by dose, with the residuals of the
// dose's model in standard deviations, to be looked at, their skewness and
// excess kurtosis (both 0 for a normal).
type WeightedDose struct {
	Weighted
	Residuals          []float64
	Skewness, Kurtosis float64
}

// Continuous weights persons so that how much they were given no longer goes
// with the covariates: each counts the more, the less the covariates foretell
// the dose that was given.
//
// Input: dose, per person, on a scale on which its residuals are about normal
// (the caller takes logs or cube roots). Output: a Weighted with one group, and
// the residuals to check that scale by.
//
// Errors: as Binary, but for those about groups; stats.ErrNoVariation when the
// dose does not vary, or not around the covariates.
//
// Method: normal linear model of the dose on all covariates; weight = density
// of the dose / density given the covariates, both normal, with the standard
// deviations of the models with the constant alone and with all (Robins, Hernan
// & Brumback 2000), not truncated. Balance by weighted correlations (Zhu et al.,
// J Causal Inference 2015;3:25). Agrees with lm and dnorm of R.
//
// Cost: a least squares fit.
func Continuous(dose []float64, c Covariates) (*WeightedDose, error) {
	w, err := continuous(dose, c)
	if err != nil {
		return nil, fmt.Errorf("propensity of a dose: %w", err)
	}
	return w, nil
}

func continuous(dose []float64, c Covariates) (*WeightedDose, error) {
	if err := check(len(dose), c); err != nil {
		return nil, err
	}
	columns, names := design(len(dose), c)
	marginal, err := regress.LeastSquares(regress.Data{Y: dose, Columns: columns[:1], Names: names[:1]})
	if err != nil {
		return nil, err
	}
	model, err := regress.LeastSquares(regress.Data{Y: dose, Columns: columns, Names: names})
	if err != nil {
		return nil, err
	}
	fitted, err := model.Predict(columns, nil)
	if err != nil {
		return nil, err
	}
	w := &WeightedDose{
		Weighted: Weighted{
			Weights: make([]float64, len(dose)),
			Method:  "stabilised weights, normal propensity model of the dose, not truncated",
		},
		Residuals: make([]float64, len(dose)),
	}
	for i, d := range dose {
		z := (d - marginal.Coef[0]) / marginal.ResidualSD
		w.Residuals[i] = (d - fitted[i]) / model.ResidualSD
		w.Weights[i] = model.ResidualSD / marginal.ResidualSD * math.Exp((w.Residuals[i]*w.Residuals[i]-z*z)/2)
	}
	if err := usable(w.Weights); err != nil {
		return nil, err
	}
	w.Skewness, w.Kurtosis = shape(w.Residuals)
	w.Groups = []Group{effective(w.Weights, func(int) bool { return true })}
	ones := columns[0]
	for j, column := range c.Columns {
		before, err := correlation(dose, column, ones)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Names[j], err)
		}
		weighted, err := correlation(dose, column, w.Weights)
		if err != nil {
			return nil, fmt.Errorf("%s, weighted: %w", c.Names[j], err)
		}
		w.Balance = append(w.Balance, Balance{Name: c.Names[j], Before: math.Abs(before), Weighted: math.Abs(weighted)})
	}
	return w, nil
}

// shape is the moment skewness and excess kurtosis.
func shape(residuals []float64) (skewness, kurtosis float64) {
	n := float64(len(residuals))
	var mean, m2, m3, m4 float64
	for _, r := range residuals {
		mean += r / n
	}
	for _, r := range residuals {
		d := r - mean
		m2 += d * d / n
		m3 += d * d * d / n
		m4 += d * d * d * d / n
	}
	return m3 / math.Pow(m2, 1.5), m4/(m2*m2) - 3
}

// correlation is the weighted correlation of x and y.
func correlation(x, y, weights []float64) (float64, error) {
	var total, mx, my float64
	for i, w := range weights {
		total += w
		mx += w * x[i]
		my += w * y[i]
	}
	mx /= total
	my /= total
	var xx, yy, xy float64
	for i, w := range weights {
		dx, dy := x[i]-mx, y[i]-my
		xx += w * dx * dx
		yy += w * dy * dy
		xy += w * dx * dy
	}
	r := xy / math.Sqrt(xx) / math.Sqrt(yy)
	if math.IsNaN(r) || math.IsInf(r, 0) {
		return 0, stats.ErrNoVariation
	}
	return r, nil
}
