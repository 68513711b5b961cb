package adjust

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/dosecurve"
	"evenlimb/pipeline/stats/propensity"
	"evenlimb/pipeline/stats/regress"
)

// Amount is how the share returned by the horizon goes with dose among those
// with some work.
type Amount struct {
	From, To float64 // first and third quartile of dose, which the contrasts compare

	Raw          Contrast  // third less first quartile, by the curve of dose alone
	Standardised Contrast  // the same with the covariates, averaged over the persons
	Low          float64   // standardised share at the first quartile
	Ratio        Contrast  // standardised share at the third quartile over that at the first
	Grid         []float64 // doses of the curves, as asked for
	Curve        []Contrast
	RawCurve     []float64 // both less the share at the reference

	Relation  regress.Test // whether share and dose are related at all
	Curvature regress.Test // whether other than by a straight line

	Weighted Weighted

	// ByClinician is Standardised with the interval clustered on the clinician of
	// most of the work; HasInterval is false where it cannot be judged.
	ByClinician Contrast
	Clinicians  int
}

// CompareAmounts tells how the share returned by the horizon differs with dose
// among those with some work, had those with another dose been alike in the
// covariates.
//
// Sample: those with some work alone. Estimand of the contrast: the mean, over
// these persons, of the share back by the horizon at the third quartile of their
// dose less that at the first, as far as the covariates tell apart who had which.
//
// Errors: dosecurve.NewSmooth's where too many had the same dose; those of
// resample.Bootstrap; stats.ErrCollinear where the covariates tell the dose.
//
// Method: least squares of pseudo-values on a natural spline of dose (knots at
// the 10th, 50th and 90th percentile, boundary at the extremes, all of everybody
// as they are), the covariates, and the products of log dose with severity;
// quartiles, pseudo-values, coefficients and weights made again in every draw of
// persons. Tests: F of the coefficients over their covariance over the draws.
func CompareAmounts(ctx context.Context, s Sample, opt Options) (*Amount, error) {
	a, err := compareAmounts(ctx, s, opt)
	if err != nil {
		return nil, fmt.Errorf("amounts of work: %w", err)
	}
	return a, nil
}

// amounts is the design of one comparison: the constant, the columns of dose, the
// covariates, the products with severity, and last the dose on the scale of the
// weights.
type amounts struct {
	Sample
	opt        Options
	smooth     *dosecurve.Smooth
	atLow      []float64   // columns of dose at the smallest dose
	grid       [][]float64 // their contrasts with the reference
	covariates []Covariate
	middle     float64   // mean of log dose
	means      []float64 // of severity
	least      *squares
	back       *pseudo
	byDose     []int

	raw, full, foretold []int // columns of the three fits
	products            int   // first of the products with severity

	scaled   []float64 // dose on the scale of the weights
	scale    string
	balanced *propensity.WeightedDose // of everybody as they are; nil where it cannot be made
	unmade   string                   // why
	weights  Weighted                 // what they achieve
}

const doseColumns = 4

// curveFrom is the first number of a draw that belongs to the curve.
const (
	rawAt = iota
	standardisedAt
	lowAt
	ratioAt
	weightedAt
	differenceAt
	coefAt
	curveFrom = coefAt + doseColumns
)

func compareAmounts(ctx context.Context, s Sample, opt Options) (*Amount, error) {
	d, err := newAmounts(s, opt)
	if err != nil {
		return nil, err
	}
	draws, err := d.draw(ctx, d.least, d.back, opt, d.statistic)
	if err != nil {
		return nil, err
	}
	a := &Amount{Grid: opt.Grid}
	once := ones(len(s.Dose))
	a.From, a.To = d.quartiles(once)
	a.Low = draws.Point[lowAt]
	for k, into := range map[int]*Contrast{rawAt: &a.Raw, standardisedAt: &a.Standardised, ratioAt: &a.Ratio} {
		if *into, err = contrast(draws, k, opt.Level); err != nil {
			return nil, err
		}
	}
	for k := range opt.Grid {
		point, err := contrast(draws, curveFrom+k, opt.Level)
		if err != nil {
			return nil, err
		}
		a.Curve = append(a.Curve, point)
	}
	if err := d.test(a, draws); err != nil {
		return nil, err
	}
	if err := d.asTheyAre(a, once); err != nil {
		return nil, err
	}
	return a, d.weigh(a, draws)
}

func newAmounts(s Sample, opt Options) (*amounts, error) {
	d := &amounts{Sample: s, opt: opt, covariates: independent(s.Covariates)}
	var err error
	if d.smooth, err = dosecurve.NewSmooth(s.Dose); err != nil {
		return nil, err
	}
	curve, err := d.smooth.Columns(s.Dose)
	if err != nil {
		return nil, err
	}
	lowest, err := d.smooth.Columns([]float64{d.smooth.Low})
	if err != nil {
		return nil, err
	}
	for _, column := range lowest {
		d.atLow = append(d.atLow, column[0])
	}
	for _, dose := range opt.Grid {
		weights, err := d.smooth.Contrast(dose, opt.Reference)
		if err != nil {
			return nil, err
		}
		d.grid = append(d.grid, weights)
	}
	columns := append([][]float64{ones(len(s.Dose))}, curve...)
	for _, c := range d.covariates {
		columns = append(columns, c.Values)
	}
	logs := make([]float64, len(s.Dose))
	for i, dose := range s.Dose {
		if dose <= 0 {
			return nil, fmt.Errorf("dose[%d] = %v among those with some work: %w", i, dose, stats.ErrRange)
		}
		logs[i] = math.Log(dose)
	}
	d.middle = weightedMean(logs, ones(len(logs)))
	d.products = len(columns)
	var products [][]float64
	products, d.means = interactions(logs, s.Severity)
	columns = append(columns, products...)
	d.chooseScale(logs)
	d.weights = d.achieve()
	columns = append(columns, d.scaled)
	d.raw, d.full = span(0, 1+doseColumns), span(0, len(columns)-1)
	d.foretold = append([]int{0}, span(1+doseColumns, d.products)...)
	d.least, d.back = newSquares(columns), newPseudo(s.Day, s.Event, s.Horizon)
	d.byDose = span(0, len(s.Dose))
	slices.SortStableFunc(d.byDose, func(i, j int) int { return cmp.Compare(s.Dose[i], s.Dose[j]) })
	return d, nil
}

func (d *amounts) quartiles(weight []float64) (from, to float64) {
	return quantile(d.Dose, d.byDose, weight, 0.25), quantile(d.Dose, d.byDose, weight, 0.75)
}

// statistic is all numbers of one draw.
func (d *amounts) statistic(weight []float64, r *room) ([]float64, error) {
	out := make([]float64, curveFrom+len(d.opt.Grid))
	from, to := d.quartiles(weight)
	apart, err := d.smooth.Contrast(to, from)
	if err != nil {
		return nil, err
	}
	r.fit(d.least, d.back, weight)
	coef, kept := r.solve(d.raw)
	if slices.Contains(kept, false) {
		return nil, fmt.Errorf("curve of dose: %w", stats.ErrCollinear)
	}
	out[rawAt] = settled(dot(apart, coef[1:]))
	coef, kept = r.solve(d.full)
	if slices.Contains(kept[:1+doseColumns], false) {
		return nil, fmt.Errorf("curve of dose beside the covariates: %w", stats.ErrCollinear)
	}
	copy(out[coefAt:], coef[1:1+doseColumns])
	steeper := d.steeper(coef, weight)
	between := func(weights []float64, to, from float64) float64 {
		return dot(weights, coef[1:]) + steeper*math.Log(to/from)
	}
	out[standardisedAt] = settled(between(apart, to, from))
	for k, dose := range d.opt.Grid {
		out[curveFrom+k] = settled(between(d.grid[k], dose, d.opt.Reference))
	}
	if out[lowAt], err = d.shareAt(from, coef, steeper, r); err != nil {
		return nil, err
	}
	out[ratioAt] = 1 + out[standardisedAt]/out[lowAt]
	if len(d.weights.Withheld) == 0 { // else nobody is told it, and it is spared
		out[weightedAt] = settled(d.contrastWeighted(weight, r, apart))
		out[differenceAt] = settled(out[standardisedAt] - out[weightedAt])
	}
	return out, nil
}

// steeper is how much steeper in log dose the mean person of a draw is than that
// of everybody as they are.
func (d *amounts) steeper(coef, weight []float64) float64 {
	sum := 0.0
	for k, severity := range d.Severity {
		sum += coef[d.products+k] * (weightedMean(severity, weight) - d.means[k])
	}
	return sum
}

// leastShare keeps the ratio of two shares finite in draws whose straight lines
// leave the share at the lower dose at nothing or below.
const leastShare = 0.01

// shareAt is the standardised share at a dose: that of all, less what their own
// doses add to it, plus what this dose adds.
func (d *amounts) shareAt(dose float64, coef []float64, steeper float64, r *room) (float64, error) {
	row, err := d.smooth.Contrast(dose, d.smooth.Low)
	if err != nil {
		return 0, err
	}
	share := r.share + dot(row, coef[1:]) + steeper*(math.Log(dose)-d.middle)
	mean := func(column int) float64 { return r.gram[column*(column+1)/2] / r.gram[0] }
	for j := 1; j <= doseColumns; j++ {
		share -= coef[j] * (mean(j) - d.atLow[j-1])
	}
	for k := range d.Severity {
		share -= coef[d.products+k] * mean(d.products+k)
	}
	return math.Max(leastShare, share), nil
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}
