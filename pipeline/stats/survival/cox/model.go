package cox

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/rows"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Model is a fitted proportional hazards model.
type Model struct {
	Coef       []float64     // log hazard ratio for one unit of each column
	Cov        *mat.SymDense // covariance of Coef by the chosen Variance
	ModelCov   *mat.SymDense // inverse information
	DF         []float64     // Satterthwaite's degrees of freedom with CR2, else nil
	LogLik0    float64       // log partial likelihood at 0
	LogLik     float64       // and at Coef
	Steps      int           // of Newton's method
	Rows       int
	Persons    int
	Events     int
	Centre     []float64 // column means, where Baseline is
	Separated  []int     // columns whose coefficient grows without end
	Level      float64
	Method     string
	Warnings   []stats.Warning
	ties       Ties
	variance   Variance
	layout     *layout
	start, top *point // likelihood at 0 and at the maximum, scaled
	in         Data
	person     []int // of each input row, numbered from 0
	hazards    []*hazard
}

// Fit estimates how the rate of an event depends on the columns of X: the
// hazard ratio for one unit of a column at given values of the others, taken
// as the same at all times.
//
// Input: Data of n rows with Event 0 or 1 and p columns, in any order and unit.
// Output: a Model; read it with Coefficient, HazardRatio, Wald and so on.
//
// Errors: those of survival.Data, stats.ErrNoEvents; stats.ErrNoVariation and
// stats.ErrCollinear name the column to leave out (pivot of the information at
// zero below 1e-10 of the events, 1e-9 of its diagonal); stats.ErrTooFew when
// CR2 or Robust has fewer than two persons; stats.ErrNotConverged after 40
// steps. Warnings: "separation", when the likelihood stops rising while a
// coefficient still moves by a tenth of its column's mean absolute deviation
// per step (all events on one side of it): the coefficient is a finite stand-in
// for an infinite one and its interval means nothing; "few-events" below five
// events a column; "few-clusters" with CR2 when a cluster holds nearly all
// that is known of a column.
//
// Method: Cox (J R Stat Soc B 1972;34:187) by Newton's method with step
// halving; Efron's or Breslow's ties. Agrees with survival::coxph. Decisions:
// ties, small-cluster variance.
//
// Cost: a radix sort, then p^2 a row and step; four to six steps. Memory: the
// columns once more and about 50 bytes a row.
func Fit(in Data, opt Options) (*Model, error) {
	m, err := fit(in, opt)
	if err != nil {
		return nil, fmt.Errorf("fit of a Cox model: %w", err)
	}
	return m, nil
}

func fit(in Data, opt Options) (*Model, error) {
	if opt.Level == 0 {
		opt.Level = 0.95
	}
	if err := stats.CheckLevel(opt.Level); err != nil {
		return nil, err
	}
	if opt.Ties < Efron || opt.Ties > Breslow || opt.Variance < AutoVariance || opt.Variance > CR2 {
		return nil, fmt.Errorf("ties %d, variance %d: %w", opt.Ties, opt.Variance, stats.ErrRange)
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	l, err := newLayout(in)
	if err != nil {
		return nil, err
	}
	m := &Model{
		Rows: len(in.Time), Events: l.events, Centre: l.centre, Level: opt.Level,
		ties: opt.Ties, variance: opt.Variance, layout: l, in: in,
	}
	m.person, m.Persons = in.Persons()
	if m.variance == AutoVariance {
		m.variance = ModelBased
		if m.Persons < m.Rows || rows.Weighted(in.Weight) {
			m.variance = Robust
		}
	}
	if m.variance != ModelBased && m.Persons < 2 {
		return nil, fmt.Errorf("%d person; a variance over persons needs two: %w", m.Persons, stats.ErrTooFew)
	}
	var ok bool
	if m.start, ok = l.at(make([]float64, l.p), opt.Ties); !ok {
		return nil, fmt.Errorf("offsets are too large to compute with: %w", stats.ErrRange)
	}
	if err := m.start.checkColumns(l.eventWeight()); err != nil {
		return nil, err
	}
	if m.top, m.Steps, m.Separated, err = l.newton(opt.Ties, m.start); err != nil {
		return nil, err
	}
	m.LogLik0, m.LogLik = m.start.loglik, m.top.loglik
	m.Coef = make([]float64, l.p)
	for j, b := range m.top.beta {
		m.Coef[j] = b * l.scale[j]
	}
	inverse := m.top.invert()
	if inverse == nil {
		return nil, fmt.Errorf("information not invertible at the maximum: %w", stats.ErrNotConverged)
	}
	m.ModelCov = m.unscale(inverse)
	m.Cov = m.ModelCov
	switch m.variance {
	case Robust:
		m.Cov = m.unscale(m.sandwich(inverse))
	case CR2:
		m.smallSample(inverse)
	default: // the inverse information, set above
	}
	m.Method = m.methodText()
	m.warn()
	return m, nil
}

func (l *layout) eventWeight() float64 {
	sum := 0.0
	for i, e := range l.event {
		if e {
			sum += l.weightAt(i)
		}
	}
	return sum
}

// unscale turns a covariance of the scaled coefficients into that of Coef.
func (m *Model) unscale(v *mat.SymDense) *mat.SymDense {
	out := mat.NewSymDense(m.layout.p, nil)
	for a, sa := range m.layout.scale {
		for b := a; b < m.layout.p; b++ {
			out.SetSym(a, b, v.At(a, b)*sa*m.layout.scale[b])
		}
	}
	return out
}

func (m *Model) methodText() string {
	ties := "Efron ties"
	if m.ties == Breslow {
		ties = "Breslow ties"
	}
	variance := map[Variance]string{
		ModelBased: "model-based variance",
		Robust:     "variance clustered on the person",
		CR2:        "small-sample clustered variance (CR2, Satterthwaite)",
	}[m.variance]
	strata := ""
	if len(m.layout.strata) > 1 {
		strata = fmt.Sprintf("%d strata, ", len(m.layout.strata))
	}
	return "Cox model, " + ties + ", " + strata + variance
}

func (m *Model) warn() {
	for _, j := range m.Separated {
		m.Warnings = append(m.Warnings, stats.Warning{
			Code: "separation",
			Text: fmt.Sprintf("All events lie on one side of column %d; its coefficient grows without end and its interval means nothing.", j),
		})
	}
	if m.Events < 5*m.layout.p {
		m.Warnings = append(m.Warnings, stats.Warning{
			Code: "few-events",
			Text: fmt.Sprintf("Only %d events for %d columns.", m.Events, m.layout.p),
		})
	}
}

// Coefficient is the log hazard ratio for one unit of column j with its
// interval, Wald's: normal, or Student's t with CR2. It panics unless j is a
// column.
func (m *Model) Coefficient(j int) stats.Estimate {
	se := math.Sqrt(m.Cov.At(j, j))
	q := distuv.UnitNormal.Quantile(0.5 + m.Level/2)
	if m.DF != nil {
		q = distuv.StudentsT{Nu: m.DF[j], Sigma: 1}.Quantile(0.5 + m.Level/2)
	}
	return stats.Estimate{
		Value: m.Coef[j], Low: m.Coef[j] - q*se, High: m.Coef[j] + q*se, SE: se, Level: m.Level,
		N: m.Persons, Events: m.Events, Method: m.Method,
		Warnings: append([]stats.Warning(nil), m.Warnings...),
	}
}

// HazardRatio is exp of Coefficient; SE is by the delta method, the limits are
// those of the coefficient. Values beyond e^300 are cut there.
func (m *Model) HazardRatio(j int) stats.Estimate {
	e := m.Coefficient(j)
	bound := func(x float64) float64 { return math.Exp(math.Max(-largestEta, math.Min(largestEta, x))) }
	e.Value, e.Low, e.High = bound(e.Value), bound(e.Low), bound(e.High)
	e.SE *= e.Value
	return e
}

// Test is a chi-square test.
type Test struct {
	Statistic float64
	DF        int
	P         float64
	Method    string
}

func newTest(statistic float64, df int, method string) Test {
	statistic = math.Max(0, statistic)
	return Test{Statistic: statistic, DF: df, P: distuv.ChiSquared{K: float64(df)}.Survival(statistic), Method: method}
}

// LikelihoodRatio tests that all coefficients are 0; not for weighted or
// clustered rows.
func (m *Model) LikelihoodRatio() Test {
	return newTest(2*(m.LogLik-m.LogLik0), m.layout.p, "likelihood ratio test")
}

// Wald tests that the coefficients of the named columns, all when none is
// named, are 0, with the covariance of the model. It panics unless they are
// columns.
func (m *Model) Wald(columns ...int) (Test, error) {
	if len(columns) == 0 {
		for j := range m.Coef {
			columns = append(columns, j)
		}
	}
	v := mat.NewSymDense(len(columns), nil)
	u := make([]float64, len(columns))
	for a, j := range columns {
		u[a] = m.Coef[j]
		for b, k := range columns {
			v.SetSym(a, b, m.Cov.At(j, k))
		}
	}
	x, err := quadratic(u, v)
	return newTest(x, len(columns), "Wald test"), err
}

// Score tests that all coefficients are 0 from the slope of the likelihood
// there. With Robust or CR2 the slope is compared with its spread over persons
// (as the robust score test of coxph), otherwise with the information.
func (m *Model) Score() (Test, error) {
	v, method := symmetric(m.start.info, m.layout.p), "score test"
	if m.variance != ModelBased {
		v, method = m.scoreSpread(m.start), "robust score test over persons"
	}
	x, err := quadratic(m.start.score, v)
	return newTest(x, m.layout.p, method), err
}

// quadratic is u' v^-1 u, computed in units in which v has ones on its diagonal.
func quadratic(u []float64, v *mat.SymDense) (float64, error) {
	tooFew := fmt.Errorf("fewer persons with events than columns, no test: %w", stats.ErrTooFew)
	n := len(u)
	unit := mat.NewSymDense(n, nil)
	b := mat.NewVecDense(n, nil)
	for i := range n {
		if !(v.At(i, i) > 0) {
			return 0, tooFew
		}
		b.SetVec(i, u[i]/math.Sqrt(v.At(i, i)))
		for j := i; j < n; j++ {
			unit.SetSym(i, j, v.At(i, j)/math.Sqrt(v.At(i, i)*v.At(j, j)))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(unit) || chol.Cond() > 1e12 {
		return 0, tooFew
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, b); err != nil {
		return 0, tooFew
	}
	return mat.Dot(b, &x), nil
}
