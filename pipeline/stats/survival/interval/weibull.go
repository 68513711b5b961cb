package interval

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/rows"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Regression is a fitted Weibull model: log time = intercept + columns x
// coefficients + scale x noise, the noise having the extreme value distribution.
type Regression struct {
	Coef     []float64     // intercept, then a coefficient a column
	LogScale float64       // log of the scale
	Cov      *mat.SymDense // of Coef and LogScale, in this order
	ModelCov *mat.SymDense // inverse information
	LogLik   float64
	Steps    int
	N        int // rows
	Persons  int
	Events   int // rows whose event was seen
	Level    float64
	Method   string
	Warnings []stats.Warning
}

// Options of a regression; the zero value is 95 % and the automatic variance.
type Options struct {
	Level float64 // two-sided confidence level; 0 is 0.95
}

const (
	mostNewton  = 60
	smallestLog = -15 // of the scale: all times are then fitted exactly
)

// Weibull estimates how the time to an event depends on the columns of x, when
// the event is known exactly, only up to now, or only between two visits.
//
// Input: Data, with exact times above 0; x[j][i] column j of row i, may be
// empty. Output: a Regression; exp of a coefficient is the factor by which times
// grow with one unit of its column. Read shares by a time with Share and times
// by a share with Quantile.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite, ErrRange, ErrNoEvents;
// ErrNoVariation for a column with one value and when the model fits all times
// exactly; ErrCollinear; ErrNotConverged, also when the likelihood rises
// without end (all events before the first visit).
//
// Variance: inverse information; where a person has two rows or a weight is not
// 1, the sandwich summed over persons.
//
// Method: maximum likelihood by Newton's method with step halving. Agrees with
// survival::survreg(dist = "weibull").
//
// Cost: p^2 a row and step; five to ten steps.
func Weibull(in Data, x [][]float64, opt Options) (*Regression, error) {
	r, err := fitWeibull(in, x, opt)
	if err != nil {
		return nil, fmt.Errorf("Weibull regression: %w", err)
	}
	return r, nil
}

func fitWeibull(in Data, x [][]float64, opt Options) (*Regression, error) {
	if opt.Level == 0 {
		opt.Level = 0.95
	}
	if err := stats.CheckLevel(opt.Level); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	for i, low := range in.Lower {
		if low == 0 && in.Upper[i] == 0 {
			return nil, fmt.Errorf("lower[%d] and upper are 0, an exact time must be above 0: %w", i, stats.ErrRange)
		}
	}
	if in.seen() == 0 {
		return nil, stats.ErrNoEvents
	}
	w, err := newDesign(in, x)
	if err != nil {
		return nil, err
	}
	theta, top, steps, err := w.newton()
	if err != nil {
		return nil, err
	}
	p := w.p
	r := &Regression{
		LogLik: top.loglik, Steps: steps, N: len(in.Lower), Events: in.seen(), Level: opt.Level,
		Coef: make([]float64, p), LogScale: theta[p], Method: "Weibull regression, model-based variance",
	}
	back := w.back()
	var natural mat.VecDense
	natural.MulVec(back, mat.NewVecDense(p+1, theta))
	copy(r.Coef, natural.RawVector().Data[:p])
	inverse := mat.NewSymDense(p+1, nil)
	if err := top.chol.InverseTo(inverse); err != nil {
		return nil, fmt.Errorf("information not invertible: %w", stats.ErrNotConverged)
	}
	r.ModelCov = through(back, inverse)
	r.Cov = r.ModelCov
	codes, persons := in.persons()
	r.Persons = persons
	if persons < r.N || rows.Weighted(in.Weight) {
		if persons < 2 {
			return nil, fmt.Errorf("%d person; a variance over persons needs two: %w", persons, stats.ErrTooFew)
		}
		r.Cov = through(back, through(inverse, w.spread(theta, codes, persons)))
		r.Method = "Weibull regression, variance clustered on the person"
	}
	return r, nil
}

// through is b v b', symmetric.
func through(b, v mat.Matrix) *mat.SymDense {
	var half, full mat.Dense
	half.Mul(b, v)
	full.Mul(&half, b.T())
	n, _ := full.Dims()
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, (full.At(i, j)+full.At(j, i))/2)
		}
	}
	return out
}

// linear is the log time of a person at noise w, with its slope in the
// parameters.
func (r *Regression) linear(x []float64) (eta float64, slope []float64, err error) {
	if err := stats.CheckLength("covariates", len(x), len(r.Coef)-1); err != nil {
		return 0, nil, err
	}
	if err := stats.CheckFinite("covariates", x); err != nil {
		return 0, nil, err
	}
	slope = make([]float64, len(r.Coef)+1)
	slope[0] = 1
	copy(slope[1:], x)
	for j, b := range r.Coef {
		eta += b * slope[j]
	}
	return eta, slope, nil
}

func (r *Regression) errorOf(slope []float64) float64 {
	v := mat.NewVecDense(len(slope), slope)
	return math.Sqrt(math.Max(0, mat.Inner(v, r.Cov, v)))
}

func (r *Regression) estimate() stats.Estimate {
	return stats.Estimate{
		Level: r.Level, N: r.Persons, Events: r.Events, Method: r.Method,
		Warnings: append([]stats.Warning(nil), r.Warnings...),
	}
}

// Share is the share of persons with covariates x who have had the event by
// time t, with a log-log interval. Errors: stats.ErrLength, ErrNotFinite, and
// ErrRange unless t is above 0.
func (r *Regression) Share(x []float64, t float64) (stats.Estimate, error) {
	eta, slope, err := r.linear(x)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("share by a time: %w", err)
	}
	if !(t > 0) || math.IsInf(t, 0) {
		return stats.Estimate{}, fmt.Errorf("share by time %v, a time above 0 expected: %w", t, stats.ErrRange)
	}
	scale := math.Exp(r.LogScale)
	z := (math.Log(t) - eta) / scale
	for j := range r.Coef {
		slope[j] /= -scale
	}
	slope[len(r.Coef)] = -z
	se := r.errorOf(slope)
	q := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
	by := func(z float64) float64 { return -math.Expm1(-math.Exp(z)) }
	e := r.estimate()
	e.Value, e.Low, e.High = by(z), by(z-q*se), by(z+q*se)
	e.SE = se * math.Exp(z-math.Exp(z))
	return e, nil
}

// Quantile is the time by which a share p of persons with covariates x have had
// the event; the interval is symmetric in log time. Errors: stats.ErrLength,
// ErrNotFinite, and ErrRange unless p lies between 0 and 1.
func (r *Regression) Quantile(x []float64, p float64) (stats.Estimate, error) {
	eta, slope, err := r.linear(x)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("time by a share: %w", err)
	}
	if !(p > 0 && p < 1) {
		return stats.Estimate{}, fmt.Errorf("time by a share of %v, between 0 and 1 expected: %w", p, stats.ErrRange)
	}
	scale := math.Exp(r.LogScale)
	noise := math.Log(-math.Log1p(-p))
	slope[len(r.Coef)] = noise * scale
	se := r.errorOf(slope)
	q := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
	at := func(y float64) float64 { return math.Exp(math.Max(-300, math.Min(300, y))) }
	e := r.estimate()
	y := eta + noise*scale
	e.Value, e.Low, e.High = at(y), at(y-q*se), at(y+q*se)
	e.SE = math.Min(e.Value*se, math.MaxFloat64)
	return e, nil
}

// Factor is exp of the coefficient of column j: by how much times grow with one
// unit. It panics unless j is a column.
func (r *Regression) Factor(j int) stats.Estimate {
	se := math.Sqrt(r.Cov.At(j+1, j+1))
	q := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
	at := func(y float64) float64 { return math.Exp(math.Max(-300, math.Min(300, y))) }
	e := r.estimate()
	b := r.Coef[j+1]
	e.Value, e.Low, e.High = at(b), at(b-q*se), at(b+q*se)
	e.SE = e.Value * se
	return e
}
