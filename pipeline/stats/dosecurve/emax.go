package dosecurve

import (
	"errors"
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
)

// EmaxData is what an Emax curve is fitted to, n persons.
type EmaxData struct {
	Response []float64
	Dose     []float64   // not negative
	Columns  [][]float64 // the constant and the covariates, p columns of n values
	Names    []string    // of the columns

	// Bounds of the dose of half the effect; both zero: a hundredth of the
	// smallest positive dose to ten times the largest.
	ED50Low, ED50High float64
}

// Emax is a fitted curve: response = columns x coefficients + Emax dose /
// (ED50 + dose).
type Emax struct {
	Emax float64 // the largest effect, in the unit of the response
	ED50 float64 // the dose of half of it
	AIC  float64

	// Model is the curve made linear at its solution. Its coefficients are those
	// of the columns, then Emax, then ED50 (left out at a bound); its standard
	// errors, robust variances and tests are those of nonlinear least squares.
	Model    *regress.Model
	AtBound  bool // ED50 lies on a bound and is taken as known
	Warnings []stats.Warning
}

// starts is the number of values of ED50 from which the search begins.
const starts = 60

// FitEmax describes a response that rises or falls with dose and levels off.
//
// Inputs are described at EmaxData.
//
// Errors: stats.ErrEmpty, stats.ErrLength, stats.ErrNotFinite; stats.ErrRange for
// a negative dose or bounds that are not 0 < low < high; stats.ErrNoVariation
// when dose or the outcome does not vary; stats.ErrCollinear when the covariates tell the dose;
// stats.ErrTooFew. Warnings: "ed50-at-bound" when the best ED50 lies on a bound,
// where the data only say that the curve is nearly straight, or steep at once;
// "ed50-beyond-doses" when it is above the largest dose.
//
// Method: nonlinear least squares; for given ED50 the rest is linear (Golub and
// Pereyra, SIAM Journal on Numerical Analysis 10, 1973), so the sum of squares is
// profiled over 60 starts evenly spaced in log ED50, and the derivative's root
// bracketed by bisection around each of their minima. Agrees with nls(algorithm
// = "port") of R. Cost: about 60 to 500 linear fits.
func FitEmax(d EmaxData) (*Emax, error) {
	low, high, err := checkEmax(d)
	if err != nil {
		return nil, err
	}
	grid, profile := make([]float64, starts), make([]point, starts)
	solved := false
	for k := range grid {
		grid[k] = low * math.Pow(high/low, float64(k)/(starts-1))
		profile[k], err = d.at(grid[k])
		// Far below all doses the curve is a constant; the start is passed over.
		if errors.Is(err, stats.ErrCollinear) {
			profile[k] = point{rss: math.Inf(1), slope: math.NaN()}
			continue
		}
		if err != nil {
			return nil, err
		}
		solved = true
	}
	if !solved {
		return nil, err
	}
	best, at := profile[0], grid[0]
	for k := range grid {
		ed50 := grid[k]
		candidate := profile[k]
		// A minimum lies between two starts where the derivative turns from
		// falling to rising; at an end it is the end itself.
		if k+1 < starts && candidate.slope < 0 && profile[k+1].slope > 0 {
			if ed50, candidate, err = d.descend(grid[k], grid[k+1]); err != nil {
				return nil, err
			}
		}
		if candidate.rss < best.rss {
			best, at = candidate, ed50
		}
	}
	return d.finish(at, best, at == grid[0] || at == grid[starts-1])
}

func checkEmax(d EmaxData) (low, high float64, err error) {
	n := len(d.Response)
	if n == 0 {
		return 0, 0, fmt.Errorf("response: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("dose", len(d.Dose), n); err != nil {
		return 0, 0, err
	}
	if err := stats.CheckFinite("dose", d.Dose); err != nil {
		return 0, 0, err
	}
	smallest, largest := math.Inf(1), 0.0
	for i, x := range d.Dose {
		if x < 0 {
			return 0, 0, fmt.Errorf("dose[%d] = %v is negative: %w", i, x, stats.ErrRange)
		}
		if x > 0 {
			smallest = math.Min(smallest, x)
		}
		largest = math.Max(largest, x)
	}
	if largest == 0 {
		return 0, 0, fmt.Errorf("dose: %w", stats.ErrNoVariation)
	}
	low, high = d.ED50Low, d.ED50High
	if low == 0 && high == 0 {
		low, high = smallest/100, 10*largest
	}
	if !(low > 0 && low < high) || math.IsInf(high, 0) {
		return 0, 0, fmt.Errorf("bounds of ED50 %v to %v: %w", low, high, stats.ErrRange)
	}
	return low, high, nil
}

// point is the best fit for one ED50.
type point struct {
	rss   float64
	slope float64 // of the sum of squares by ED50
	emax  float64
	model *regress.Model
}

// at fits the linear part for one ED50.
func (d EmaxData) at(ed50 float64) (point, error) {
	linear := regress.Data{Y: d.Response, Names: d.named("dose"), Columns: d.with(func(x float64) float64 { return x / (ed50 + x) })}
	m, err := regress.LeastSquares(linear)
	if err != nil {
		return point{}, fmt.Errorf("emax curve: %w", err)
	}
	fitted, err := m.Predict(linear.Columns, nil)
	if err != nil {
		return point{}, err
	}
	p := point{emax: m.Coef[len(d.Columns)], model: m}
	for i, y := range d.Response {
		r := y - fitted[i]
		p.rss += r * r
		// By the envelope theorem only ED50 itself has to be varied.
		p.slope += 2 * r * p.emax * d.Dose[i] / ((ed50 + d.Dose[i]) * (ed50 + d.Dose[i]))
	}
	return p, nil
}

// descend halves a bracket of the derivative's root until rounding ends it.
func (d EmaxData) descend(low, high float64) (float64, point, error) {
	for {
		middle := math.Sqrt(low * high)
		p, err := d.at(middle)
		if err != nil || middle <= low || middle >= high || p.slope == 0 || high-low < 4e-16*high {
			return middle, p, err
		}
		if p.slope < 0 {
			low = middle
		} else {
			high = middle
		}
	}
}

func (d EmaxData) named(extra ...string) []string {
	return append(append([]string(nil), d.Names...), extra...)
}

func (d EmaxData) with(functions ...func(x float64) float64) [][]float64 {
	columns := append([][]float64(nil), d.Columns...)
	for _, f := range functions {
		column := make([]float64, len(d.Dose))
		for i, x := range d.Dose {
			column[i] = f(x)
		}
		columns = append(columns, column)
	}
	return columns
}

// finish makes the curve linear at its solution.
func (d EmaxData) finish(ed50 float64, p point, bound bool) (*Emax, error) {
	e := &Emax{Emax: p.emax, ED50: ed50, AtBound: bound, Model: p.model, AIC: p.model.AIC() + 2}
	share := func(x float64) float64 { return x / (ed50 + x) }
	if bound {
		e.Warnings = append(e.Warnings, stats.Warning{Code: "ed50-at-bound", Text: "The dose of half the effect lies on the bound of its search: the data do not show where the curve levels off."})
		return e, nil
	}
	bend := func(x float64) float64 { return -p.emax * x / ((ed50 + x) * (ed50 + x)) }
	tangent := regress.Data{Names: d.named("Emax", "ED50"), Columns: d.with(share, bend), Y: make([]float64, len(d.Response))}
	// What is linear in ED50 goes to the left, so that its coefficient is ED50.
	for i, y := range d.Response {
		tangent.Y[i] = y + ed50*bend(d.Dose[i])
	}
	var err error
	if e.Model, err = regress.LeastSquares(tangent); err != nil {
		return nil, fmt.Errorf("emax curve at its solution: %w", err)
	}
	e.Model.Method = "Emax curve, nonlinear least squares"
	largest := 0.0
	for _, x := range d.Dose {
		largest = math.Max(largest, x)
	}
	if ed50 > largest {
		e.Warnings = append(e.Warnings, stats.Warning{Code: "ed50-beyond-doses", Text: "The dose of half the effect lies above all doses seen: the curve is drawn from its lower part alone."})
	}
	return e, nil
}

// Difference is the response at one dose less that at another, covariates equal.
//
// Doses are not negative, in the unit of the data; covariance comes from Model;
// level lies between 0 and 1.
//
// Errors: stats.ErrRange for a negative dose or level, stats.ErrNotFinite,
// stats.ErrNoVariation for two equal doses. Warnings: those of the fit and the
// covariance.
//
// Method: delta method, t interval as in regress.Model.Combine. Cost: none.
func (e *Emax) Difference(dose, reference float64, covariance *regress.Covariance, level float64) (regress.Combination, error) {
	if err := stats.CheckFinite("dose", []float64{dose, reference}); err != nil {
		return regress.Combination{}, err
	}
	if dose < 0 || reference < 0 {
		return regress.Combination{}, fmt.Errorf("dose %v against %v: %w", dose, reference, stats.ErrRange)
	}
	share := func(x float64) float64 { return x / (e.ED50 + x) }
	bend := func(x float64) float64 { return -e.Emax * x / ((e.ED50 + x) * (e.ED50 + x)) }
	weights := make([]float64, len(e.Model.Coef))
	last := len(weights) - 1
	if e.AtBound {
		weights[last] = share(dose) - share(reference)
	} else {
		weights[last-1], weights[last] = share(dose)-share(reference), bend(dose)-bend(reference)
	}
	c, err := e.Model.Combine(weights, covariance, level)
	if err != nil {
		return regress.Combination{}, err
	}
	// The tangent has the right slope; the value is the curve's own.
	value := e.Emax * (share(dose) - share(reference))
	return c.Around(value, append(append([]stats.Warning(nil), e.Warnings...), c.Warnings...)), nil
}
