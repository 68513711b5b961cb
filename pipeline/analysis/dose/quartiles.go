package dose

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
)

// quartiles adds how the share returned by the horizon goes with dose among those
// with some work, had those with another dose been alike at the start: the third
// less the first quartile of dose, raw, standardised and weighted, the curve, and
// how strong something unknown would have to be to explain it away. The contrast
// goes into pooled, for the types together.
func (m *maker) quartiles(ctx context.Context, g group, pooled *pooled) error {
	some := g.pick(row.some)
	c := m.comparison(some)
	refusal, err := m.settle(g, some, c)
	if err != nil {
		return err
	}
	complete, missing := m.withCovariates(some)
	base := m.response(g, "", some, c)
	m.resting(&base, g, complete, missing, c)
	begin := func(statistic string) result.Figure {
		f := base
		f.Statistic, f.Warnings = statistic, slices.Clone(base.Warnings)
		return f
	}
	if refusal == "" {
		refusal = m.refuseFew(complete, c)
	}
	var a *adjust.Amount
	if refusal == "" {
		s, opt := m.sample(complete, c.horizon), m.options(g, "quartiles")
		opt.Grid = wholeDoses(s.Dose)
		a, err = adjust.CompareAmounts(ctx, s, opt)
		switch {
		case errors.Is(err, stats.ErrTooFew):
			refusal = "Too many did the same amount: no curve of dose can be drawn."
		case errors.Is(err, stats.ErrCollinear), errors.Is(err, stats.ErrNotConverged):
			refusal = "What is known at the start tells how much was done."
		case err != nil:
			return err
		}
	}
	if refusal != "" {
		f := begin("quartiles_contrast_standardised")
		withhold(&f, refusal)
		m.add(g, f, m.someRows()+completeRows)
		return nil
	}
	l := lines{m: m, g: g, begin: begin, condition: m.someRows() + completeRows}
	l.contrasts(a)
	l.weights(a)
	l.curve(a)
	l.strength(m.sample(complete, c.horizon), a)
	pooled.take(g, complete, c.week, a.Standardised)
	return nil
}

// settle sets the week by whose end a return counts to that of the thirds, and
// returns why thirds are not compared; empty when they are.
func (m *maker) settle(g group, some []row, c *comparison) (refusal string, err error) {
	once := make([]int, len(some))
	for i := range once {
		once[i] = 1
	}
	if len(some) > 0 {
		curves, err := c.curves(some, once)
		if err != nil {
			return "", err
		}
		c.until(m.horizon(curves))
	}
	return m.refuse(g, some, c), nil
}

// wholeDoses are the whole doses from the 10th to the 90th percentile, where the
// curve is told.
func wholeDoses(dose []float64) []float64 {
	order := make([]int, len(dose))
	once := make([]int, len(dose))
	for i := range dose {
		order[i], once[i] = i, 1
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(dose[i], dose[j]) })
	var grid []float64
	to := math.Floor(quantile(dose, order, once, 0.9))
	for d := math.Ceil(quantile(dose, order, once, 0.1)); d <= to; d++ {
		grid = append(grid, d)
	}
	return grid
}

// lines adds the figures of one comparison.
type lines struct {
	m         *maker
	g         group
	begin     func(statistic string) result.Figure
	condition string // of the rows that they rest on
}

func (l lines) add(f result.Figure) { l.m.add(l.g, f, l.condition) }

// apart words the doses compared.
func apart(a *adjust.Amount) string {
	return fmt.Sprintf("%.3g less %.3g sets a week (third and first quartile of dose), ", a.To, a.From)
}

// contrasts are raw and standardised; of the intervals over persons and over
// clinicians the wider leads, the other stands beside it.
func (l lines) contrasts(a *adjust.Amount) {
	for _, q := range []struct {
		statistic string
		dose      float64
	}{{"first_quartile_dose", a.From}, {"third_quartile_dose", a.To}} {
		f := l.begin(q.statistic)
		f.X, f.XUnit, f.Events, f.Unit = nil, "", nil, "sets a week"
		f.Value, f.Method = number(q.dose), "smallest dose that a quarter, or three, do not exceed"
		l.add(f)
	}
	raw := l.begin("quartiles_contrast_raw")
	fill(&raw, a.Raw, apart(a)+"curve of dose alone, ")
	l.add(raw)
	lead, other := a.Standardised, a.ByClinician
	lead.Method = "least squares of pseudo-values, mean over the people compared, " + lead.Method
	standardised := l.begin("quartiles_contrast_standardised")
	if !other.HasInterval {
		fill(&standardised, lead, apart(a))
		standardised.Warnings = append(standardised.Warnings, fmt.Sprintf(
			"Whether clinicians differ cannot be judged: %s.", clinicians(a.Clinicians, l.m.in.Rules.LeastClinicians)))
		l.add(standardised)
		return
	}
	other.Method = "mean over the people compared, " + other.Method + ", by the clinician of most sessions"
	if other.High-other.Low > lead.High-lead.Low {
		lead, other = other, lead
	}
	fill(&standardised, lead, apart(a))
	l.add(standardised)
	beside := l.begin("quartiles_contrast_beside")
	fill(&beside, other, apart(a))
	l.add(beside)
}

func clinicians(n, least int) string {
	if n >= least {
		return "too few of them saw people with different doses"
	}
	return fmt.Sprintf("that takes %d of them, each with most of somebody's sessions", least)
}

// weights are the weighted contrast and what the weights achieve.
func (l lines) weights(a *adjust.Amount) {
	w := a.Weighted
	f := l.begin("quartiles_contrast_weighted")
	if len(w.Withheld) > 0 {
		withhold(&f, w.Withheld[0])
		f.Warnings = append(f.Warnings, w.Withheld[1:]...)
	} else {
		fill(&f, w.Contrast, apart(a)+"stabilised weights (normal model of the "+w.Scale+"), not truncated, ")
	}
	l.add(f)
	if w.Persons == 0 {
		return
	}
	for _, one := range []struct {
		statistic string
		value     float64
		how       string
	}{
		{"weights_effective_share", w.Share, "(sum of weights)^2 / sum of squared weights, of the people compared"},
		{"weights_imbalance_before", w.Before.Value, "largest correlation with the " + w.Scale + ": " + w.Before.Name},
		{"weights_imbalance_after", w.After.Value, "largest weighted correlation with the " + w.Scale + ": " + w.After.Name},
	} {
		f := l.begin(one.statistic)
		f.X, f.XUnit, f.Events = nil, "", nil
		f.Value, f.Method = number(one.value), one.how
		if one.statistic != "weights_effective_share" {
			f.Unit = "correlation"
		}
		l.add(f)
	}
	if len(w.Withheld) > 0 {
		return
	}
	between := l.begin("quartiles_standardised_less_weighted")
	fill(&between, w.Difference, apart(a)+"standardised less weighted, ")
	l.add(between)
}

// curve is the curve of dose against the reference, over the covariates and raw,
// and the tests of any relation and of curvature.
func (l lines) curve(a *adjust.Amount) {
	for k, dose := range a.Grid {
		raw := adjust.Contrast{Estimate: stats.Estimate{Value: a.RawCurve[k], Method: "of all as they are"}}
		for _, line := range []struct {
			statistic string
			c         adjust.Contrast
		}{{"dose_curve", a.Curve[k]}, {"dose_curve_raw", raw}} {
			f := l.begin(line.statistic)
			f.X, f.XUnit, f.Events = number(dose), "sets a week", nil
			fill(&f, line.c, fmt.Sprintf("less the share at %d sets a week, natural spline of dose (knots at its 10th, 50th and 90th percentile), ", l.m.in.Rules.ReferenceSets))
			l.add(f)
		}
	}
	for _, test := range []struct {
		statistic string
		p         float64
		df1, df2  float64
	}{
		{"relation_p", a.Relation.P, a.Relation.DF1, a.Relation.DF2},
		{"curvature_p", a.Curvature.P, a.Curvature.DF1, a.Curvature.DF2},
	} {
		f := l.begin(test.statistic)
		f.X, f.XUnit, f.Events, f.Unit = nil, "", nil, "p"
		f.Value, f.Method = number(test.p), fmt.Sprintf("Wald test, F on %.0f and %.0f degrees of freedom, covariance over draws of persons", test.df1, test.df2)
		l.add(f)
	}
}
