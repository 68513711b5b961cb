package adjust

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/dosecurve"
	"evenlimb/pipeline/stats/regress"
)

// Measure is how a measure near a week goes with dose.
type Measure struct {
	From, To  float64  // first and third quartile of dose, which are compared
	Spline    Contrast // third less first quartile, on the curve of dose
	SplineAIC float64

	Emax     Contrast // the same on an Emax curve; HasInterval is false where the data do not show one
	EmaxAIC  float64
	Warnings []stats.Warning // of the Emax curve
}

// CompareMeasure tells how a measure near a week differs with dose among those
// with some work, had those with another dose been alike in the covariates, the
// measure's own baseline among them.
//
// Sample: those with some work who were measured; what became of them is not used.
// value: the measure of each. emax: whether to fit the Emax curve. Estimand: the mean, over persons like these, of the
// measure at the third quartile of their dose less that at the first.
//
// Errors: as CompareAmounts; stats.ErrNoVariation for a measure that is told by
// the columns.
//
// Method: least squares on the natural spline of dose and the covariates, interval
// by percentiles over draws of persons, quartiles anew in each; beside it the Emax
// curve of package dosecurve with the same covariates, interval with the variance
// robust to unequal spread (HC3). Both AIC are of everybody as they are; nothing
// is chosen by them.
func CompareMeasure(ctx context.Context, s Sample, value []float64, emax bool, opt Options) (*Measure, error) {
	m, err := compareMeasure(ctx, s, value, emax, opt)
	if err != nil {
		return nil, fmt.Errorf("measure by dose: %w", err)
	}
	return m, nil
}

func compareMeasure(ctx context.Context, s Sample, value []float64, emax bool, opt Options) (*Measure, error) {
	smooth, err := dosecurve.NewSmooth(s.Dose)
	if err != nil {
		return nil, err
	}
	curve, err := smooth.Columns(s.Dose)
	if err != nil {
		return nil, err
	}
	alone, names := [][]float64{ones(len(value))}, []string{"constant"}
	for _, c := range independent(s.Covariates) {
		alone, names = append(alone, c.Values), append(names, c.Name)
	}
	columns := slices.Concat(alone[:1], curve, alone[1:])
	least, all := newSquares(columns), span(0, len(columns))
	byDose := span(0, len(s.Dose))
	slices.SortStableFunc(byDose, func(i, j int) int { return cmp.Compare(s.Dose[i], s.Dose[j]) })
	back := newPseudo(s.Day, s.Event, s.Horizon)
	draws, err := s.draw(ctx, least, back, opt, func(weight []float64, r *room) ([]float64, error) {
		apart, err := smooth.Contrast(quantile(s.Dose, byDose, weight, 0.75), quantile(s.Dose, byDose, weight, 0.25))
		if err != nil {
			return nil, err
		}
		least.gram(weight, r.gram)
		least.moments(weight, value, r.moments)
		coef, kept := r.solve(all)
		if slices.Contains(kept[:1+doseColumns], false) {
			return nil, fmt.Errorf("curve of dose beside the covariates: %w", stats.ErrCollinear)
		}
		return []float64{settled(dot(apart, coef[1:]))}, nil
	})
	if err != nil {
		return nil, err
	}
	once := ones(len(value))
	m := &Measure{From: quantile(s.Dose, byDose, once, 0.25), To: quantile(s.Dose, byDose, once, 0.75)}
	if m.Spline, err = contrast(draws, 0, opt.Level); err != nil {
		return nil, err
	}
	curved := make([]string, len(curve))
	for j := range curved {
		curved[j] = fmt.Sprintf("dose %d", j+1)
	}
	spline, err := regress.LeastSquares(regress.Data{Y: value, Columns: columns, Names: slices.Concat(names[:1], curved, names[1:])})
	if err != nil {
		return nil, err
	}
	m.SplineAIC = spline.AIC()
	if !emax {
		return m, nil
	}
	return m, m.emax(dosecurve.EmaxData{Response: value, Dose: s.Dose, Columns: alone, Names: names}, opt.Level)
}

// emax fills in the Emax curve, where one can be fitted.
func (m *Measure) emax(d dosecurve.EmaxData, level float64) error {
	e, err := dosecurve.FitEmax(d)
	if errors.Is(err, stats.ErrCollinear) {
		return nil
	}
	if err != nil {
		return err
	}
	m.EmaxAIC, m.Warnings = e.AIC, e.Warnings
	covariance, err := e.Model.Heteroscedastic(regress.HC3)
	if errors.Is(err, stats.ErrTooFew) {
		return nil
	}
	if err != nil {
		return err
	}
	c, err := e.Difference(m.To, m.From, covariance, level)
	if errors.Is(err, stats.ErrNoVariation) || errors.Is(err, stats.ErrRange) {
		return nil
	}
	if err != nil {
		return err
	}
	c.Method = "Emax curve, nonlinear least squares, " + covariance.Method
	m.Emax = Contrast{Estimate: c.Estimate, HasInterval: true}
	return nil
}
