package adjust

import (
	"context"
	"fmt"

	"evenlimb/pipeline/stats"
)

// Any is the share returned among those who did some work with the cuff inflated
// less that among those who did none.
type Any struct {
	Standardised Contrast
}

// CompareAny tells how the share returned by the horizon differs between those
// with some work and those with none, had both the covariates of all of them.
//
// Sample: everybody compared; Dose above 0 marks some work. Estimand: the mean,
// over all persons, of the share back by the horizon had they done some less had
// they done none, as far as the covariates tell those two apart.
//
// Errors: stats.ErrOneGroup where all or none did some; those of
// resample.Bootstrap; stats.ErrCollinear where the covariates tell who did some.
//
// Method: least squares of pseudo-values on some work, the covariates, and the
// products of some work with severity; percentile interval over draws of persons.
func CompareAny(ctx context.Context, s Sample, opt Options) (Any, error) {
	out, err := compareAny(ctx, s, opt)
	if err != nil {
		return Any{}, fmt.Errorf("some work or none: %w", err)
	}
	return out, nil
}

func compareAny(ctx context.Context, s Sample, opt Options) (Any, error) {
	some, with := make([]float64, len(s.Dose)), 0
	for i, d := range s.Dose {
		if d > 0 {
			some[i] = 1
			with++
		}
	}
	if with == 0 || with == len(s.Dose) {
		return Any{}, stats.ErrOneGroup
	}
	columns := [][]float64{ones(len(some)), some}
	for _, c := range independent(s.Covariates) {
		columns = append(columns, c.Values)
	}
	products, means := interactions(some, s.Severity)
	first := len(columns)
	columns = append(columns, products...)
	least, back := newSquares(columns), newPseudo(s.Day, s.Event, s.Horizon)
	all := span(0, len(columns))
	statistic := func(weight []float64, r *room) ([]float64, error) {
		r.fit(least, back, weight)
		coef, kept := r.solve(all)
		if !kept[1] {
			return nil, fmt.Errorf("some work: %w", stats.ErrCollinear)
		}
		value := coef[1]
		for k, severity := range s.Severity {
			value += coef[first+k] * (weightedMean(severity, weight) - means[k])
		}
		return []float64{settled(value)}, nil
	}
	draws, err := s.draw(ctx, least, back, opt, statistic)
	if err != nil {
		return Any{}, err
	}
	out := Any{}
	out.Standardised, err = contrast(draws, 0, opt.Level)
	return out, err
}
