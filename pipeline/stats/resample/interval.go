package resample

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Percentile is the interval between the quantiles of the draws: the plain
// reading of a bootstrap.
//
// Input: k, which number of the statistic; level, two-sided. Output: Value is
// the statistic of the persons as they are, Low and High its limits, SE the
// standard deviation of the draws, N persons; unit that of the statistic.
//
// Errors: stats.ErrRange for k or the level; ErrNoVariation when all draws are
// equal. Warnings: "few-draws" when a limit is the outermost draw, so that more
// replicates are needed; "failed-draws" when draws were left out.
//
// Method: quantiles interpolated on the normal scale (Davison & Hinkley 1997,
// eq. 5.8). Agrees with boot::boot.ci(type = "perc") of R.
//
// Cost: one sort of the draws.
func (d *Draws) Percentile(k int, level float64) (stats.Estimate, error) {
	e, sorted, err := d.estimate(k, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("percentile interval: %w", err)
	}
	e.Method = fmt.Sprintf("bootstrap over persons, %d draws, percentile", len(sorted))
	d.limits(&e, sorted, (1-level)/2, (1+level)/2)
	return e, nil
}

// BCa is the interval between quantiles of the draws that are shifted for bias
// and skewness, which keeps the level better in small samples.
//
// Input: k and level as Percentile; left, the k-th row of Jackknife, a value
// per person. Output and warnings: as Percentile.
//
// Errors: as Percentile; stats.ErrLength and ErrNotFinite for left;
// ErrNoVariation when leaving out any person changes nothing; ErrTooFew when
// all draws lie on one side of the value or the skewness is beyond what the
// correction can hold: use Percentile.
//
// Method: bias-corrected and accelerated (Efron, JASA 1987;82:171), the
// acceleration from the jackknife about the value (decision: acceleration).
// Agrees with boot::boot.ci(type = "bca") of R with L = empinf(type = "jack").
//
// Cost: one sort of the draws.
func (d *Draws) BCa(k int, level float64, left []float64) (stats.Estimate, error) {
	e, sorted, err := d.estimate(k, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("BCa interval: %w", err)
	}
	acceleration, err := d.acceleration(e.Value, left)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("BCa interval: %w", err)
	}
	below, _ := slices.BinarySearch(sorted, e.Value)
	if below == 0 || below == len(sorted) {
		return stats.Estimate{}, fmt.Errorf("BCa interval: all draws lie on one side of the value, use the percentile interval: %w", stats.ErrTooFew)
	}
	normal := distuv.UnitNormal
	bias := normal.Quantile(float64(below) / float64(len(sorted)))
	shifted := func(p float64) (float64, bool) {
		w := bias + normal.Quantile(p)
		stretch := 1 - acceleration*w
		return normal.CDF(bias + w/stretch), stretch > 0
	}
	low, okLow := shifted((1 - level) / 2)
	high, okHigh := shifted((1 + level) / 2)
	if !okLow || !okHigh {
		return stats.Estimate{}, fmt.Errorf("BCa interval: acceleration %.2f is too large, use the percentile interval: %w", acceleration, stats.ErrTooFew)
	}
	e.Method = fmt.Sprintf("bootstrap over persons, %d draws, bias-corrected and accelerated", len(sorted))
	d.limits(&e, sorted, low, high)
	return e, nil
}

// acceleration is a sixth of the skewness of the jackknife influences, which
// are taken about the statistic of all persons.
func (d *Draws) acceleration(point float64, left []float64) (float64, error) {
	if err := stats.CheckLength("left", len(left), d.Persons); err != nil {
		return 0, err
	}
	if err := stats.CheckFinite("left", left); err != nil {
		return 0, err
	}
	if slices.Min(left) == slices.Max(left) {
		return 0, fmt.Errorf("left: %w", stats.ErrNoVariation)
	}
	var squares, cubes float64
	for _, x := range left {
		influence := point - x
		squares += influence * influence
		cubes += influence * influence * influence
	}
	return cubes / (6 * math.Pow(squares, 1.5)), nil
}

// estimate fills in all but limits and method, and sorts the draws.
func (d *Draws) estimate(k int, level float64) (stats.Estimate, []float64, error) {
	if k < 0 || k >= len(d.Values) || k >= len(d.Point) {
		return stats.Estimate{}, nil, fmt.Errorf("number %d of %d: %w", k, len(d.Values), stats.ErrRange)
	}
	if err := stats.CheckLevel(level); err != nil {
		return stats.Estimate{}, nil, err
	}
	sorted := slices.Sorted(slices.Values(d.Values[k]))
	if len(sorted) == 0 || sorted[0] == sorted[len(sorted)-1] {
		return stats.Estimate{}, nil, fmt.Errorf("the draws: %w", stats.ErrNoVariation)
	}
	e := stats.Estimate{Value: d.Point[k], SE: stat.StdDev(d.Values[k], nil), Level: level, N: d.Persons}
	if d.Failed > 0 {
		e.Warnings = append(e.Warnings, stats.Warning{
			Code: "failed-draws",
			Text: fmt.Sprintf("%d of %d draws could not be computed and were left out.", d.Failed, d.Failed+len(sorted)),
		})
	}
	return e, sorted, nil
}

// limits sets Low and High to the quantiles of the draws.
func (d *Draws) limits(e *stats.Estimate, sorted []float64, low, high float64) {
	var outermost [2]bool
	e.Low, outermost[0] = quantile(sorted, low)
	e.High, outermost[1] = quantile(sorted, high)
	if outermost[0] || outermost[1] {
		e.Warnings = append(e.Warnings, stats.Warning{
			Code: "few-draws",
			Text: "A limit is the outermost draw; more draws are needed.",
		})
	}
}

// quantile interpolates between order statistics on the normal scale; outermost
// says that there was nothing to interpolate between.
func quantile(sorted []float64, p float64) (q float64, outermost bool) {
	n := len(sorted)
	rank := float64(n+1) * p
	k := int(rank)
	switch {
	case k < 1:
		return sorted[0], true
	case k >= n:
		return sorted[n-1], true
	case rank == float64(k):
		return sorted[k-1], k == 1
	}
	z := distuv.UnitNormal.Quantile
	from, to := z(float64(k)/float64(n+1)), z(float64(k+1)/float64(n+1))
	return sorted[k-1] + (z(p)-from)/(to-from)*(sorted[k]-sorted[k-1]), false
}
