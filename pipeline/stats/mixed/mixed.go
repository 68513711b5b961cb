// Package mixed fits linear mixed models: regressions for measurements that
// come several to a person, where persons differ in level and in slope. The
// typical curve of symmetry or girth over the weeks of care is read from them.
package mixed

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// Random says which rows share random effects, and which effects.
type Random struct {
	// Group holds a code per row; rows with the same code belong to the same
	// person or episode. Any integers, in any order.
	Group []int
	// Slope holds the variable of the random slope per row, such as weeks; nil
	// gives a random intercept alone. Intercept and slope are correlated.
	Slope []float64
}

// Data is what a model is fitted to: n rows, one a measurement.
type Data struct {
	Y       []float64   // outcome, n values
	Columns [][]float64 // fixed effects: p columns of n values, the constant among them
	Names   []string    // names of the p columns, for errors and output
	Group   Random      // the random effects of each group, such as an episode
	Above   *Random     // random effects of what holds whole groups, such as a person; nil: none
}

// Options choose the criterion. The zero value is REML.
type Options struct {
	ML bool // maximum likelihood in place of restricted maximum likelihood
}

// Component is the spread of one set of random effects, in the unit of the
// outcome, and of the outcome per unit of the slope variable.
type Component struct {
	InterceptSD float64
	SlopeSD     float64 // 0 without a random slope
	Correlation float64 // between intercept and slope; 0 when either has no spread
}

// Model is a fitted model. The slices follow the columns of the data.
type Model struct {
	Names      []string
	Coef       []float64
	SE         []float64
	DF         []float64   // Satterthwaite degrees of freedom of each coefficient
	Covariance [][]float64 // of the coefficients, p rows of p

	ResidualSD float64
	Group      Component
	Above      Component // zero without a level above

	LogLik     float64 // restricted log-likelihood, or log-likelihood with ML
	N          int     // rows
	Groups     int
	AboveN     int // groups of the level above, 0 without
	Iterations int
	Method     string
	Warnings   []stats.Warning

	problem  *problem
	solution *solution
	vary     [][]float64 // change of the internal covariance with each parameter
	spread   []float64   // asymptotic covariance of the parameters, row-major
}

// Fit estimates how an outcome runs on average while persons differ around
// that average, without taking repeated measurements of one person for
// different persons.
//
// Inputs are described at Data. Groups may be unbalanced and rows in any order.
//
// Errors: stats.ErrEmpty, stats.ErrLength, stats.ErrNotFinite for the
// arguments; stats.ErrTooFew unless there are more rows than random effects
// and than columns; stats.ErrOneGroup with a single group; stats.ErrRange when a group
// lies in two groups of the level above; stats.ErrCollinear, naming the column;
// stats.ErrNoVariation when the slope variable is constant, or when the outcome
// does not vary around the columns, or not within groups; stats.ErrNotConverged.
//
// Warnings: "boundary-fit" when a variance is estimated as zero or a correlation
// as 1 or -1 (the relative standard deviation left below 1e-4); "flat-fit" when the data hardly say how
// a variance divides (an eigenvalue of the scaled Hessian below 1e-8 of the largest).
//
// Method: profiled deviance (Bates et al., Journal of Statistical Software 67,
// 2015) from sufficient statistics per group, minimised by Newton's method with
// exact first and second derivatives; Satterthwaite degrees of freedom as in
// Kuznetsova et al., Journal of Statistical Software 82, 2017. Agrees with lmer
// of the R packages lme4 and lmerTest. Cost: one pass over the rows, then per
// iteration linear in the groups and quadratic in the columns; with a level
// above cubic in the random effects of each of its groups.
func Fit(data Data, options Options) (*Model, error) {
	if err := check(data); err != nil {
		return nil, err
	}
	problem, err := prepare(data, options)
	if err != nil {
		return nil, err
	}
	solution, err := minimise(problem)
	if err != nil {
		return nil, err
	}
	return describe(data, options, problem, solution), nil
}

func check(data Data) error {
	n, p := len(data.Y), len(data.Columns)
	if n == 0 {
		return fmt.Errorf("outcome: %w", stats.ErrEmpty)
	}
	if p == 0 {
		return fmt.Errorf("columns: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("names", len(data.Names), p); err != nil {
		return err
	}
	if err := stats.CheckFinite("outcome", data.Y); err != nil {
		return err
	}
	for j, column := range data.Columns {
		if err := stats.CheckLength(data.Names[j], len(column), n); err != nil {
			return err
		}
		if err := stats.CheckFinite(data.Names[j], column); err != nil {
			return err
		}
	}
	if err := checkRandom("group", data.Group, n); err != nil {
		return err
	}
	if data.Above != nil {
		if err := checkRandom("level above", *data.Above, n); err != nil {
			return err
		}
	}
	if n <= p {
		return fmt.Errorf("%d rows for %d columns: %w", n, p, stats.ErrTooFew)
	}
	return nil
}

func checkRandom(name string, random Random, n int) error {
	if err := stats.CheckLength(name, len(random.Group), n); err != nil {
		return err
	}
	if random.Slope == nil {
		return nil
	}
	if err := stats.CheckLength("slope of "+name, len(random.Slope), n); err != nil {
		return err
	}
	return stats.CheckFinite("slope of "+name, random.Slope)
}

// describe turns the solution back into the units of the data.
func describe(data Data, options Options, pr *problem, s *solution) *Model {
	m := &Model{
		Names:      append([]string(nil), data.Names...),
		ResidualSD: math.Sqrt(s.sigma2) * pr.scale,
		LogLik:     pr.logLik(s),
		N:          pr.n,
		Groups:     pr.levels[0].groups,
		Iterations: s.iterations,
		Method:     "linear mixed model, REML, Satterthwaite",
		problem:    pr,
		solution:   s,
	}
	if options.ML {
		m.Method = "linear mixed model, ML, Satterthwaite"
	}
	m.Group = pr.component(0, s)
	if len(pr.levels) == 2 {
		m.Above = pr.component(1, s)
		m.AboveN = pr.levels[1].groups
	}
	m.Warnings = warnings(pr, s)
	m.infer()
	return m
}

// component gives the standard deviations and the correlation of a level in
// the units of the data.
func (pr *problem) component(k int, s *solution) Component {
	d := pr.covariance(k, s.theta)
	c := Component{InterceptSD: math.Sqrt(d[0] * s.sigma2)}
	if pr.levels[k].size == 2 {
		c.SlopeSD = math.Sqrt(d[2] * s.sigma2)
		if d[0] > 0 && d[2] > 0 {
			c.Correlation = math.Max(-1, math.Min(1, d[1]/math.Sqrt(d[0]*d[2])))
		}
	}
	return c
}

// covariance gives the relative covariance of a level's effects on the raw
// variables, in the unit of the outcome: intercept, both, slope.
func (pr *problem) covariance(k int, theta []float64) [3]float64 {
	l := &pr.levels[k]
	d := l.relative(theta)
	// Intercept at zero of the raw variable: b0 = c0 - c1 centre/spread.
	shift, stretch := -l.centre/l.spread, 1/l.spread
	y2 := pr.scale * pr.scale
	return [3]float64{
		math.Max(0, d[0]+2*shift*d[1]+shift*shift*d[2]) * y2,
		stretch * (d[1] + shift*d[2]) * y2,
		stretch * stretch * d[2] * y2,
	}
}
