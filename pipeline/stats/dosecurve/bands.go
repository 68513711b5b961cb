// Package dosecurve describes how a response differs with dose: plainly by
// bands and thirds of dose, then by a smooth curve and an Emax curve. It
// describes who had which dose and how they fared; it says nothing about what
// dose anyone needs.
package dosecurve

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/stats"
)

// Quantile gives the dose below which a share of the persons lie.
//
// dose has a value per person in any order; share lies between 0 and 1. The
// result is in the unit of dose.
//
// Errors: stats.ErrEmpty, stats.ErrNotFinite, stats.ErrRange for share.
//
// Method: linear interpolation between order statistics, the first at share 0
// and the last at 1 (type 7 of Hyndman and Fan, The American Statistician 50,
// 1996); agrees with quantile of R (decision: quantiles of dose). Cost: one sort.
func Quantile(dose []float64, share float64) (float64, error) {
	if len(dose) == 0 {
		return 0, fmt.Errorf("dose: %w", stats.ErrEmpty)
	}
	if err := stats.CheckFinite("dose", dose); err != nil {
		return 0, err
	}
	if !(share >= 0 && share <= 1) {
		return 0, fmt.Errorf("share %v: %w", share, stats.ErrRange)
	}
	sorted := slices.Sorted(slices.Values(dose))
	at := share * float64(len(sorted)-1)
	// The rounding of share must not move an exact position to its neighbour.
	below := math.Floor(at + 4e-16*at)
	part := math.Max(0, at-below)
	k := int(below)
	if k+1 >= len(sorted) {
		return sorted[len(sorted)-1], nil
	}
	return sorted[k] + part*(sorted[k+1]-sorted[k]), nil
}

// Band is the persons of a range of dose.
type Band struct {
	From, To   float64        // From is in the band, To in the next; in the last band To is in too
	MedianDose float64        // 0 without persons
	Mean       stats.Estimate // of the response; N is 0 without persons
}

// Bands shows the mean response of the persons in each band of dose: the raw
// result that any curve is held against.
//
// dose and response have a value per person; edges are strictly increasing, in
// the unit of dose, one more than there are bands. Persons outside the edges are
// counted as Missing in every band.
//
// Errors: stats.ErrEmpty, stats.ErrLength, stats.ErrNotFinite, stats.ErrTooFew
// for fewer than two edges, stats.ErrRange for edges out of order or level.
// Warnings: "one-person" for a band of one person and "no-spread" for a band
// in which all have the same response; both have no interval: Low and High are
// the value.
//
// Method: mean and t interval within the band; agrees with t.test of R. Cost:
// linear but for the medians.
func Bands(dose, response, edges []float64, level float64) ([]Band, error) {
	if err := checkPair(dose, response, level); err != nil {
		return nil, err
	}
	if len(edges) < 2 {
		return nil, fmt.Errorf("edges: %w", stats.ErrTooFew)
	}
	if err := stats.CheckFinite("edges", edges); err != nil {
		return nil, err
	}
	for k := 1; k < len(edges); k++ {
		if edges[k] <= edges[k-1] {
			return nil, fmt.Errorf("edges[%d] = %v does not increase: %w", k, edges[k], stats.ErrRange)
		}
	}
	last := len(edges) - 1
	doses, responses := make([][]float64, last), make([][]float64, last)
	outside := 0
	for i, d := range dose {
		k, exact := slices.BinarySearch(edges, d)
		if !exact || k == last {
			k--
		}
		if k < 0 || d > edges[last] {
			outside++
			continue
		}
		doses[k], responses[k] = append(doses[k], d), append(responses[k], response[i])
	}
	out := make([]Band, last)
	for k := range out {
		out[k] = Band{From: edges[k], To: edges[k+1]}
		out[k].Mean = meanEstimate(responses[k], level)
		out[k].Mean.Missing = outside
		if len(doses[k]) > 0 {
			median, err := Quantile(doses[k], 0.5)
			if err != nil {
				return nil, err
			}
			out[k].MedianDose = median
		}
	}
	return out, nil
}

func checkPair(dose, response []float64, level float64) error {
	if len(dose) == 0 {
		return fmt.Errorf("dose: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("response", len(response), len(dose)); err != nil {
		return err
	}
	if err := stats.CheckFinite("dose", dose); err != nil {
		return err
	}
	if err := stats.CheckFinite("response", response); err != nil {
		return err
	}
	return stats.CheckLevel(level)
}

// moments gives mean and squared standard error of the mean.
func moments(xs []float64) (mean, variance float64) {
	n := float64(len(xs))
	for i, x := range xs {
		mean += (x - mean) / float64(i+1)
	}
	for _, x := range xs {
		variance += (x - mean) * (x - mean) / (n - 1) / n
	}
	return mean, variance
}

func meanEstimate(xs []float64, level float64) stats.Estimate {
	e := stats.Estimate{Level: level, N: len(xs), Method: "mean, t interval"}
	if len(xs) == 0 {
		return e
	}
	if len(xs) == 1 {
		e.Value, e.Low, e.High = xs[0], xs[0], xs[0]
		e.Warnings = []stats.Warning{{Code: "one-person", Text: "One person: no interval can be given."}}
		return e
	}
	mean, variance := moments(xs)
	e.Value, e.SE = mean, math.Sqrt(variance)
	half := e.SE * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(xs) - 1)}.Quantile((1+level)/2)
	e.Low, e.High = mean-half, mean+half
	if variance == 0 {
		e.Warnings = []stats.Warning{{Code: "no-spread", Text: "All persons have the same response: no interval can be given."}}
	}
	return e
}

// Thirds compares the mean response of the upper third of dose with that of
// the lower third, before any model.
//
// dose and response have a value per person. The lower third are the doses up
// to and with the quantile of 1/3, the upper third those above the quantile of
// 2/3. The difference is upper less lower, in the unit of the response; N
// counts the persons compared, Missing those of the middle third.
//
// Errors: stats.ErrEmpty, stats.ErrLength, stats.ErrNotFinite, stats.ErrRange
// for level; stats.ErrTooFew when a third has fewer than two persons, as when
// most have the same dose; stats.ErrNoVariation when neither third varies.
//
// Method: Welch's t interval, Biometrika 34, 1947; agrees with t.test of R.
// Cost: one sort.
func Thirds(dose, response []float64, level float64) (stats.Estimate, error) {
	if err := checkPair(dose, response, level); err != nil {
		return stats.Estimate{}, err
	}
	lower, err := Quantile(dose, 1.0/3)
	if err != nil {
		return stats.Estimate{}, err
	}
	upper, err := Quantile(dose, 2.0/3)
	if err != nil {
		return stats.Estimate{}, err
	}
	var low, high []float64
	for i, d := range dose {
		switch {
		case d <= lower:
			low = append(low, response[i])
		case d > upper:
			high = append(high, response[i])
		}
	}
	if len(low) < 2 || len(high) < 2 {
		return stats.Estimate{}, fmt.Errorf("thirds of dose hold %d and %d persons: %w", len(low), len(high), stats.ErrTooFew)
	}
	lowMean, lowVariance := moments(low)
	highMean, highVariance := moments(high)
	variance := lowVariance + highVariance
	if variance == 0 {
		return stats.Estimate{}, fmt.Errorf("response within thirds of dose: %w", stats.ErrNoVariation)
	}
	df := variance * variance / (lowVariance*lowVariance/float64(len(low)-1) + highVariance*highVariance/float64(len(high)-1))
	e := stats.Estimate{
		Value: highMean - lowMean, SE: math.Sqrt(variance), Level: level,
		N: len(low) + len(high), Missing: len(dose) - len(low) - len(high),
		Method: "upper less lower third of dose, Welch",
	}
	half := e.SE * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1+level)/2)
	e.Low, e.High = e.Value-half, e.Value+half
	return e, nil
}
