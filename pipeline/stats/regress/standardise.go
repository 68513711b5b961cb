package regress

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// Scenario is the design of the same persons under one way of being treated:
// their own covariates, with the columns of interest set alike for all.
type Scenario struct {
	Columns [][]float64 // p columns, a row per person
	Offset  []float64   // nil: none
}

// Standardised holds the mean outcome of each scenario over one and the same
// mix of persons.
type Standardised struct {
	Means []stats.Estimate // shares, rates or means, one per scenario

	covariance []float64 // of the means
	df         float64
	level      float64
}

// Standardise answers what the mean outcome would be had all persons been
// treated one way, then another, their covariates as they are.
//
// scenarios have rows for the same persons in the same order; covariance comes
// from the model and, when clustered, needs the model's own rows.
//
// Errors: stats.ErrEmpty without scenarios, stats.ErrLength, stats.ErrNotFinite,
// stats.ErrRange for level. Warnings: those of the covariance.
//
// Method: g-computation (Robins, Mathematical Modelling 7, 1986); delta method
// for the coefficients plus the variance of the mean over persons, who are a
// sample (by cluster where the covariance is). Intervals on the log odds for
// shares, on the log for rates, plain for means, with the degrees of freedom of the
// covariance. For bootstrap intervals refit on Data.Rows. Agrees with the same
// computed from predict, vcovHC and vcovCR of R. Cost: rows times columns per scenario.
func (m *Model) Standardise(covariance *Covariance, level float64, scenarios ...Scenario) (*Standardised, error) {
	if err := stats.CheckLevel(level); err != nil {
		return nil, err
	}
	k := len(scenarios)
	if k == 0 {
		return nil, fmt.Errorf("scenarios: %w", stats.ErrEmpty)
	}
	means, gradients, persons := make([]float64, k), make([][]float64, k), make([][]float64, k)
	for s, scenario := range scenarios {
		eta, err := m.linear(scenario.Columns, scenario.Offset)
		if err != nil {
			return nil, fmt.Errorf("scenario %d: %w", s, err)
		}
		if err := stats.CheckLength(fmt.Sprintf("scenario %d", s), len(eta), len(scenarios[0].Columns[0])); err != nil {
			return nil, err
		}
		means[s], gradients[s] = m.average(eta, scenario.Columns)
		persons[s] = eta // now predictions
	}
	n := len(persons[0])
	if covariance.Clusters > 0 {
		if err := stats.CheckLength("scenarios", n, m.N); err != nil {
			return nil, fmt.Errorf("a clustered covariance needs the model's own rows: %w", err)
		}
	}
	out := &Standardised{df: covariance.df, level: level, covariance: make([]float64, k*k)}
	mix := mixVariance(persons, means, covariance.cluster, covariance.Clusters)
	for a := range k {
		for b := range k {
			out.covariance[a*k+b] = mix[a*k+b] + dense.Bilinear(covariance.inner, gradients[a], gradients[b])
		}
	}
	for s, mean := range means {
		e := m.onItsScale(mean, math.Sqrt(out.covariance[s*k+s]), quantile((1+level)/2, out.df))
		e.Level, e.N = level, n
		e.Method = m.Method + ", standardised, " + covariance.Method
		e.Warnings = append([]stats.Warning(nil), covariance.Warnings...)
		if err := stats.CheckFinite("standardised mean", []float64{e.Value, e.Low, e.High, e.SE}); err != nil {
			return nil, err
		}
		out.Means = append(out.Means, e)
	}
	return out, nil
}

// average gives the mean prediction and its gradient by the orthonormal
// coefficients, and turns eta into predictions.
func (m *Model) average(eta []float64, columns [][]float64) (mean float64, gradient []float64) {
	n := float64(len(eta))
	raw := make([]float64, m.p)
	for i, e := range eta {
		fitted, slope := m.family.mean(e)
		mean += fitted / n
		for j, column := range columns {
			raw[j] += slope * column[i] / n
		}
		eta[i] = fitted
	}
	return mean, m.columns.Weights(raw)
}

// mixVariance is the covariance of the means that comes from who the persons are.
func mixVariance(persons [][]float64, means []float64, cluster []int32, clusters int) []float64 {
	k, n := len(persons), len(persons[0])
	if clusters == 0 {
		clusters = n
	}
	sums := make([]float64, clusters*k)
	for i := range n {
		c := i
		if cluster != nil {
			c = int(cluster[i])
		}
		for s := range k {
			sums[c*k+s] += (persons[s][i] - means[s]) / float64(n)
		}
	}
	out := make([]float64, k*k)
	for c := range clusters {
		for a := range k {
			for b := range k {
				out[a*k+b] += sums[c*k+a] * sums[c*k+b]
			}
		}
	}
	return out
}

func (m *Model) onItsScale(mean, se, z float64) stats.Estimate {
	e := stats.Estimate{Value: mean, SE: se, Low: mean - z*se, High: mean + z*se}
	switch {
	case m.family == binomial && mean > 0 && mean < 1:
		centre, half := math.Log(mean/(1-mean)), z*se/(mean*(1-mean))
		e.Low, _ = binomial.mean(centre - half)
		e.High, _ = binomial.mean(centre + half)
	case m.family == poisson && mean > 0:
		e.Low, e.High = mean*math.Exp(-z*se/mean), mean*math.Exp(z*se/mean)
	}
	return e
}

// Difference is scenario a less scenario b, in the unit of the outcome.
//
// Errors: stats.ErrRange for a scenario that does not exist. Method and
// warnings: those of Standardise, with a plain interval. Cost: none.
func (s *Standardised) Difference(a, b int) (stats.Estimate, error) {
	k := len(s.Means)
	if a < 0 || b < 0 || a >= k || b >= k {
		return stats.Estimate{}, fmt.Errorf("scenarios %d and %d of %d: %w", a, b, k, stats.ErrRange)
	}
	e := s.Means[a]
	e.Value -= s.Means[b].Value
	e.SE = math.Sqrt(math.Max(0, s.covariance[a*k+a]+s.covariance[b*k+b]-2*s.covariance[a*k+b]))
	half := quantile((1+s.level)/2, s.df) * e.SE
	e.Low, e.High = e.Value-half, e.Value+half
	return e, nil
}

// Ratio is scenario a over scenario b: of shares or of rates. SE is that of the ratio.
//
// Errors: stats.ErrRange for a scenario that does not exist or a mean that is
// not positive. Method: as Standardise, with an interval on the log. Cost: none.
func (s *Standardised) Ratio(a, b int) (stats.Estimate, error) {
	e, err := s.Difference(a, b)
	if err != nil {
		return stats.Estimate{}, err
	}
	k := len(s.Means)
	x, y := s.Means[a].Value, s.Means[b].Value
	if x <= 0 || y <= 0 {
		return stats.Estimate{}, fmt.Errorf("ratio of %v to %v: %w", x, y, stats.ErrRange)
	}
	log := math.Sqrt(math.Max(0, s.covariance[a*k+a]/(x*x)+s.covariance[b*k+b]/(y*y)-2*s.covariance[a*k+b]/(x*y)))
	half := quantile((1+s.level)/2, s.df) * log
	e.Value, e.SE = x/y, x/y*log
	e.Low, e.High = x/y*math.Exp(-half), x/y*math.Exp(half)
	return e, nil
}
