package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// family is the kind of outcome with its canonical link.
type family int

const (
	gaussian family = iota
	binomial
	poisson
)

// mean gives the expected outcome at a linear predictor and the variance
// function there, which with a canonical link is also the derivative.
func (f family) mean(eta float64) (mean, variance float64) {
	switch f {
	case binomial:
		e := math.Exp(-math.Abs(eta))
		mean = 1 / (1 + e)
		if eta < 0 {
			mean = e / (1 + e)
		}
		return mean, e / ((1 + e) * (1 + e))
	case poisson:
		mean = math.Exp(eta)
		return mean, mean
	default:
		return eta, 1
	}
}

// logLik of one outcome at a linear predictor.
func (f family) logLik(y, eta float64) float64 {
	if f == poisson {
		g, _ := math.Lgamma(y + 1)
		return y*eta - math.Exp(eta) - g
	}
	// y log p + (1-y) log(1-p) without overflow.
	return y*eta - math.Max(eta, 0) - math.Log1p(math.Exp(-math.Abs(eta)))
}

const (
	maxIterations = 100
	// settled is the Newton decrement, on the scale of the log-likelihood, at
	// which the maximum is reached.
	settled = 1e-24
	// wandering is a change of a linear predictor that a settled fit no longer
	// makes; under separation some row keeps moving by about one.
	wandering = 1e-8
)

// LeastSquares estimates how the mean of a measure differs with the columns.
//
// Inputs are described at Data; an offset is subtracted from the outcome,
// weights are inverse variances up to a factor. Coefficients are in the unit of
// the outcome per unit of the column.
//
// Errors: stats.ErrEmpty, stats.ErrLength, stats.ErrNotFinite, stats.ErrRange
// for a weight that is not positive, stats.ErrTooFew unless there are more rows
// than columns, stats.ErrCollinear naming the column, stats.ErrNoVariation when
// the outcome does not vary around the columns.
//
// Method: (weighted) least squares on orthonormalised columns; agrees with lm
// of R. Cost: rows times squared columns.
func LeastSquares(d Data) (*Model, error) {
	if err := check(d); err != nil {
		return nil, err
	}
	m, err := newModel(d, gaussian)
	if err != nil {
		return nil, err
	}
	m.Method = "least squares"
	var ok bool
	if m.bread, ok = invert(m.information(func(i int) float64 { return m.prior[i] }), m.p); !ok {
		return nil, fmt.Errorf("weighted columns: %w", stats.ErrCollinear)
	}
	m.residual = append([]float64(nil), d.Y...)
	m.spread = make([]float64, m.N)
	var total float64
	for i := range m.residual {
		if d.Offset != nil {
			m.residual[i] -= d.Offset[i]
		}
		m.spread[i] = 1
		total += m.prior[i] * m.residual[i] * m.residual[i]
	}
	coef := make([]float64, m.p)
	for range 2 { // the second pass takes up what rounding left in the first
		step := times(m.bread, m.score())
		for j, s := range step {
			coef[j] += s
		}
		for i := range m.residual {
			m.residual[i] -= dense.Dot(m.row(i), step)
		}
	}
	var rss, logWeights float64
	for i, e := range m.residual {
		rss += m.prior[i] * e * e
		logWeights += math.Log(m.prior[i])
	}
	if !(rss > 1e-22*total) {
		return nil, fmt.Errorf("the outcome around the columns: %w", stats.ErrNoVariation)
	}
	n := float64(m.N)
	m.ResidualSD = math.Sqrt(rss / float64(m.N-m.p))
	m.LogLik = (logWeights - n*(math.Log(2*math.Pi*rss/n)+1)) / 2
	m.finish(coef, m.ResidualSD*m.ResidualSD)
	return m, nil
}

// Logistic estimates how the odds of an outcome that happens or not differ with
// the columns.
//
// Inputs are described at Data; outcomes are 0 or 1. Coefficients are log odds
// ratios per unit of the column.
//
// Errors: as LeastSquares, and stats.ErrRange for another outcome,
// stats.ErrNoEvents when all outcomes are 0, stats.ErrNoVariation when all are
// 1, stats.ErrSeparation, naming the column that grows without bound, when
// the columns tell the outcomes of some rows apart exactly; stats.ErrNotConverged.
//
// Method: maximum likelihood by Newton's method with step halving; agrees with
// glm(family = binomial) of R. Weights count rows, and need not be whole. Cost:
// per iteration rows times squared columns.
func Logistic(d Data) (*Model, error) {
	if err := check(d); err != nil {
		return nil, err
	}
	var events float64
	for i, y := range d.Y {
		if y != 0 && y != 1 {
			return nil, fmt.Errorf("outcome[%d] = %v: outcomes are 0 or 1: %w", i, y, stats.ErrRange)
		}
		events += y
	}
	if events == 0 {
		return nil, fmt.Errorf("outcome: %w", stats.ErrNoEvents)
	}
	if int(events) == len(d.Y) {
		return nil, fmt.Errorf("outcome is 1 in every row: %w", stats.ErrNoVariation)
	}
	return maximise(d, binomial, "logistic regression, maximum likelihood")
}

// Poisson estimates how the rate of events differs with the columns.
//
// Inputs are described at Data; outcomes are counts of 0 or more, Offset holds
// the logarithm of the exposure, such as sessions. Coefficients are log rate
// ratios per unit of the column.
//
// Errors: as Logistic; stats.ErrRange for a negative outcome, stats.ErrNoEvents
// when all are 0.
//
// Method: maximum likelihood by Newton's method with step halving; agrees with
// glm(family = poisson) of R. Cost: per iteration rows times squared columns.
func Poisson(d Data) (*Model, error) {
	if err := check(d); err != nil {
		return nil, err
	}
	var events float64
	for i, y := range d.Y {
		if y < 0 {
			return nil, fmt.Errorf("outcome[%d] = %v: counts are not negative: %w", i, y, stats.ErrRange)
		}
		events += y
	}
	if events == 0 {
		return nil, fmt.Errorf("outcome: %w", stats.ErrNoEvents)
	}
	return maximise(d, poisson, "Poisson regression, maximum likelihood")
}

// score is the sum of weight times error times row.
func (m *Model) score() []float64 {
	sum := make([]float64, m.p)
	for i, e := range m.residual {
		for j, x := range m.row(i) {
			sum[j] += m.prior[i] * e * x
		}
	}
	return sum
}

// fitAt sets fitted values, errors and spreads and returns the log-likelihood.
func (m *Model) fitAt(d Data, eta []float64) float64 {
	var logLik float64
	for i, e := range eta {
		mean, variance := m.family.mean(e)
		m.residual[i], m.spread[i] = d.Y[i]-mean, variance
		logLik += m.prior[i] * m.family.logLik(d.Y[i], e)
	}
	return logLik
}

func maximise(d Data, f family, method string) (*Model, error) {
	m, err := newModel(d, f)
	if err != nil {
		return nil, err
	}
	m.Method = method
	m.residual, m.spread = make([]float64, m.N), make([]float64, m.N)
	offset := make([]float64, m.N)
	copy(offset, d.Offset)
	coef, err := m.start(d, offset)
	if err != nil {
		return nil, err
	}
	eta := m.predictor(coef, offset)
	m.LogLik = m.fitAt(d, eta)
	var step []float64
	for range maxIterations {
		var ok bool
		if m.bread, ok = invert(m.information(func(i int) float64 { return m.prior[i] * m.spread[i] }), m.p); !ok {
			break
		}
		score := m.score()
		step = times(m.bread, score)
		if dense.Dot(score, step) < settled*(1+math.Abs(m.LogLik)) && m.farthest(step) < wandering {
			for j, x := range step { // the last step is worth taking, not checking
				coef[j] += x
			}
			m.LogLik = m.fitAt(d, m.predictor(coef, offset))
			m.finish(coef, 1)
			return m, nil
		}
		if coef, eta, ok = m.advance(d, coef, step, offset, eta); !ok {
			break
		}
	}
	if step == nil || m.farthest(step) < wandering {
		return nil, fmt.Errorf("%s after %d steps: %w", method, maxIterations, stats.ErrNotConverged)
	}
	return nil, fmt.Errorf("column %s: %w", m.Names[m.fastest(d.Columns, step)], stats.ErrSeparation)
}

// start is one step of iteratively reweighted least squares from the outcomes
// themselves, drawn a little inwards.
func (m *Model) start(d Data, offset []float64) ([]float64, error) {
	working := make([]float64, m.N)
	for i, y := range d.Y {
		var mean, eta float64
		if m.family == binomial {
			mean = (y + 0.5) / 2
			eta = math.Log(mean / (1 - mean))
			m.spread[i] = mean * (1 - mean)
		} else {
			mean = y + 0.1
			eta = math.Log(mean)
			m.spread[i] = mean
		}
		working[i] = eta - offset[i] + (y-mean)/m.spread[i]
		m.residual[i] = working[i] * m.spread[i]
	}
	inverse, ok := invert(m.information(func(i int) float64 { return m.prior[i] * m.spread[i] }), m.p)
	if !ok {
		return nil, fmt.Errorf("weighted columns: %w", stats.ErrCollinear)
	}
	return times(inverse, m.score()), nil
}

func (m *Model) predictor(coef, offset []float64) []float64 {
	eta := make([]float64, m.N)
	for i := range eta {
		eta[i] = offset[i] + dense.Dot(m.row(i), coef)
	}
	return eta
}

// advance takes the step, halved until the log-likelihood no longer falls.
func (m *Model) advance(d Data, coef, step, offset, eta []float64) (next, predictor []float64, ok bool) {
	next = make([]float64, m.p)
	for length := 1.0; length > 1e-9; length /= 2 {
		for j := range next {
			next[j] = coef[j] + length*step[j]
		}
		predictor = m.predictor(next, offset)
		logLik := m.fitAt(d, predictor)
		// Rounding of the sum may hide the last improvements.
		if logLik >= m.LogLik-1e-12*(1+math.Abs(m.LogLik)) {
			m.LogLik = logLik
			return next, predictor, true
		}
	}
	m.fitAt(d, eta)
	return coef, eta, false
}

// farthest is the largest change of a linear predictor that a step makes.
func (m *Model) farthest(step []float64) float64 {
	var largest float64
	for i := range m.N {
		largest = math.Max(largest, math.Abs(dense.Dot(m.row(i), step)))
	}
	return largest
}

// fastest is the column whose coefficient a step changes most, each measured
// by the spread of its column; the constant has none.
func (m *Model) fastest(columns [][]float64, step []float64) int {
	best, at := -1.0, 0
	for j, column := range columns {
		_, variance := stat.MeanVariance(column, nil)
		if change := math.Abs(dense.Dot(m.unit(j), step)) * math.Sqrt(variance); change > best {
			best, at = change, j
		}
	}
	return at
}

// Predict gives the expected outcome of rows of the design: a mean, a
// probability or, with offset the log exposure (nil: one), a count.
//
// columns are p columns of equal length. Errors: stats.ErrEmpty, stats.ErrLength,
// stats.ErrNotFinite, the latter also when a rate overflows. Agrees with
// predict(type = "response") of R. Cost: linear.
func (m *Model) Predict(columns [][]float64, offset []float64) ([]float64, error) {
	eta, err := m.linear(columns, offset)
	if err != nil {
		return nil, err
	}
	for i, e := range eta {
		eta[i], _ = m.family.mean(e)
	}
	if err := stats.CheckFinite("prediction", eta); err != nil {
		return nil, err
	}
	return eta, nil
}

func (m *Model) linear(columns [][]float64, offset []float64) ([]float64, error) {
	if err := stats.CheckLength("columns", len(columns), m.p); err != nil {
		return nil, err
	}
	n := len(columns[0])
	if n == 0 {
		return nil, fmt.Errorf("columns: %w", stats.ErrEmpty)
	}
	eta := make([]float64, n)
	if offset != nil {
		if err := checkColumn("offset", offset, n); err != nil {
			return nil, err
		}
		copy(eta, offset)
	}
	for j, column := range columns {
		if err := checkColumn(m.Names[j], column, n); err != nil {
			return nil, err
		}
		for i, x := range column {
			eta[i] += m.Coef[j] * x
		}
	}
	return eta, nil
}
