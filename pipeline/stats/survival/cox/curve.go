package cox

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// Baseline is the cumulative hazard of a person at the column means
// (Model.Centre) and offset 0, at the event times of one stratum.
//
// Errors: stats.ErrRange when no row is of the stratum (0 without strata).
func (m *Model) Baseline(stratum int) (times, cumulative []float64, err error) {
	h, err := m.baselineOf(stratum)
	if err != nil {
		return nil, nil, err
	}
	return slices.Clone(h.time), slices.Clone(h.cum), nil
}

func (m *Model) baselineOf(stratum int) (*hazard, error) {
	s, ok := slices.BinarySearch(m.layout.strata, stratum)
	if !ok {
		return nil, fmt.Errorf("stratum %d has no rows, there are %v: %w", stratum, m.layout.strata, stats.ErrRange)
	}
	return m.baselines()[s], nil
}

// scaled is a covariate row in the model's own units, with its linear
// predictor.
func (m *Model) scaled(x []float64) (row []float64, eta float64, err error) {
	if err := stats.CheckLength("covariates", len(x), m.layout.p); err != nil {
		return nil, 0, err
	}
	if err := stats.CheckFinite("covariates", x); err != nil {
		return nil, 0, err
	}
	row = make([]float64, len(x))
	for j, v := range x {
		row[j] = (v - m.layout.centre[j]) * m.layout.scale[j]
		eta += row[j] * m.top.beta[j]
	}
	return row, math.Max(-largestEta, math.Min(largestEta, eta)), nil
}

// Survival predicts the share of persons with covariates x (a value a column,
// offset 0) in a stratum who have not had the event by each of the times.
//
// Output: an estimate a time, log-log interval; without an event up to a time
// the share is 1 and the warning "no-interval" is set.
//
// Errors: stats.ErrLength, ErrNotFinite, ErrRange (unknown stratum).
//
// Method: exp of minus the cumulative hazard; variance of Tsiatis (1981) and
// Link (1984). Agrees with survival::survfit.coxph.
func (m *Model) Survival(x []float64, stratum int, times []float64) ([]stats.Estimate, error) {
	h, err := m.baselineOf(stratum)
	if err != nil {
		return nil, fmt.Errorf("predicted curve: %w", err)
	}
	row, eta, err := m.scaled(x)
	if err != nil {
		return nil, fmt.Errorf("predicted curve: %w", err)
	}
	if err := stats.CheckFinite("times", times); err != nil {
		return nil, fmt.Errorf("predicted curve: %w", err)
	}
	z := distuv.UnitNormal.Quantile(0.5 + m.Level/2)
	r := math.Exp(eta)
	out := make([]stats.Estimate, len(times))
	for i, t := range times {
		e := stats.Estimate{
			Value: 1, Low: 1, High: 1, Level: m.Level, N: m.Persons, Events: m.Events,
			Method: m.Method + ", log-log interval", Warnings: slices.Clone(m.Warnings),
		}
		j := h.at(t)
		if j >= 0 {
			cum := r * h.cum[j]
			se := math.Sqrt(r*r*h.noise[j] + m.slopeVariance(h, j, row, r))
			e.Value = math.Exp(-cum)
			e.SE = e.Value * se
			e.Low, e.High = math.Exp(-cum*math.Exp(z*se/cum)), math.Exp(-cum*math.Exp(-z*se/cum))
		}
		if e.Low == e.High {
			e.Warnings = append(e.Warnings, stats.Warning{
				Code: "no-interval",
				Text: fmt.Sprintf("At time %g the share is %g; no interval can be computed there.", t, e.Value),
			})
		}
		out[i] = e
	}
	return out, nil
}

// slopeVariance is the part of the variance of a cumulative hazard that comes
// from the coefficients.
func (m *Model) slopeVariance(h *hazard, j int, row []float64, r float64) float64 {
	p := m.layout.p
	d := make([]float64, p)
	for a := range d {
		d[a] = r * (row[a]*h.cum[j] - h.cumX[j*p+a]) / m.layout.scale[a]
	}
	// Cov is of the unscaled coefficients: d is divided by the scale above.
	sum := 0.0
	for a := range d {
		for b := range d {
			sum += d[a] * d[b] * m.Cov.At(a, b)
		}
	}
	return math.Max(0, sum)
}

// Expected is the number of events that the model, fitted to other rows,
// expects of each row of in during its own follow-up: the sum over a site
// against the events observed there says whether the site differs.
//
// Errors: those of Fit for in, without those about events and columns;
// stats.ErrRange for a stratum that the model does not have. Where follow-up
// goes on after the last event of the model, its hazard stays level.
//
// Agrees with survival::predict.coxph(type = "expected").
func (m *Model) Expected(in Data) ([]float64, error) {
	if err := in.check(); err != nil {
		return nil, fmt.Errorf("expected events: %w", err)
	}
	if err := stats.CheckLength("columns", len(in.X), m.layout.p); err != nil {
		return nil, fmt.Errorf("expected events: %w", err)
	}
	if (in.Strata == nil) != (m.in.Strata == nil) {
		return nil, fmt.Errorf("expected events: strata must be given as in the fit: %w", stats.ErrRange)
	}
	out := make([]float64, len(in.Time))
	x := make([]float64, m.layout.p)
	for i, t := range in.Time {
		stratum := 0
		if in.Strata != nil {
			stratum = in.Strata[i]
		}
		h, err := m.baselineOf(stratum)
		if err != nil {
			return nil, fmt.Errorf("expected events, row %d: %w", i, err)
		}
		for j := range x {
			x[j] = in.X[j][i]
		}
		_, eta, err := m.scaled(x)
		if err != nil {
			return nil, err
		}
		if in.Offset != nil {
			eta += in.Offset[i]
		}
		cum, _ := h.cumulative(h.at(t))
		if in.Entry != nil {
			before, _ := h.cumulative(h.at(in.Entry[i]))
			cum -= before
		}
		out[i] = cum * math.Exp(math.Min(eta, largestEta))
	}
	return out, nil
}
