package rates

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// ShareByPerson estimates the share of trials that had an outcome, such as
// bouts that were ended early, when the same person has several: trials of one
// person resemble each other, and say less than as many of different persons.
//
// Input: with and of per person, of one length, in any order; with from 0 to of.
// Persons without a trial are left out. Output: Value, Low, High and SE are
// shares from 0 to 1; N is the persons, Events the trials with the outcome.
//
// Errors: stats.ErrEmpty without a trial; ErrLength; ErrRange for counts out of
// range or a level outside (0, 1); ErrTooFew for fewer than two persons. The
// warning "all-or-none" says that all or none of the trials had it: one limit
// equals the value, and the other counts persons as trials.
//
// Method: the variance of a ratio of sums over persons with the factor G/(G-1);
// score limits (Wilson) of as many independent trials as carry that variance,
// never more than there are, with the quantile of t(G-1) in place of the normal
// one (after Korn and Graubard, Survey Methodology 1998;24:193). SE agrees with
// sandwich::vcovCL of lm(outcome ~ 1) in R, type HC0 with its default factor.
//
// Cost: linear in persons.
func ShareByPerson(with, of []int, level float64) (stats.Estimate, error) {
	e, err := shareByPerson(with, of, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("share by person: %w", err)
	}
	return e, nil
}

func shareByPerson(with, of []int, level float64) (stats.Estimate, error) {
	if err := stats.CheckLength("of", len(of), len(with)); err != nil {
		return stats.Estimate{}, err
	}
	k, n, persons := 0, 0, 0
	for i := range of {
		if with[i] < 0 || with[i] > of[i] {
			return stats.Estimate{}, fmt.Errorf("person %d has %d of %d: %w", i, with[i], of[i], stats.ErrRange)
		}
		k, n = k+with[i], n+of[i]
		if of[i] > 0 {
			persons++
		}
	}
	e, err := share(k, n, level)
	if err != nil {
		return stats.Estimate{}, err
	}
	if persons < 2 {
		return stats.Estimate{}, fmt.Errorf("%d person: %w", persons, stats.ErrTooFew)
	}
	e.N = persons
	size := float64(persons)
	if len(e.Warnings) == 0 {
		var squares float64
		for i := range of {
			score := float64(with[i]) - e.Value*float64(of[i])
			squares += score * score
		}
		variance := squares * float64(persons) / float64(persons-1) / float64(n) / float64(n)
		size = float64(n) / math.Max(1, variance*float64(n)/(e.Value*(1-e.Value)))
		e.SE = math.Sqrt(variance)
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(persons - 1)}.Quantile((1 + level) / 2)
	e.Low, e.High = scoreLimits(e.Value*size, size, t)
	e.Method = "Wilson limits, clustered on persons"
	return e, nil
}

// RatioByPerson estimates a sum over another, such as what was done over what
// was intended, when both come in persons.
//
// Input: above and below per person, of one length, in any order, from 0.
// Persons with 0 in both are left out. Output: the ratio of the sums; N is the
// persons.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrRange for a negative
// value, when all below are 0, or a level outside (0, 1); ErrTooFew for fewer
// than two persons. The warning "no-interval" says that the ratio is 0 or does
// not vary between persons: both limits equal it.
//
// Method: the variance of a ratio of sums over persons with the factor G/(G-1);
// limits on the logarithm, t(G-1). SE agrees with sandwich::vcovCL of
// lm(above ~ 0 + below, weights = 1/below) in R, type HC0 with its default
// factor.
//
// Cost: linear in persons.
func RatioByPerson(above, below []float64, level float64) (stats.Estimate, error) {
	e, err := ratioByPerson(above, below, level)
	if err != nil {
		return stats.Estimate{}, fmt.Errorf("ratio by person: %w", err)
	}
	return e, nil
}

func ratioByPerson(above, below []float64, level float64) (stats.Estimate, error) {
	if err := stats.CheckLength("below", len(below), len(above)); err != nil {
		return stats.Estimate{}, err
	}
	if err := stats.CheckFinite("above", above); err != nil {
		return stats.Estimate{}, err
	}
	if err := stats.CheckFinite("below", below); err != nil {
		return stats.Estimate{}, err
	}
	if err := stats.CheckLevel(level); err != nil {
		return stats.Estimate{}, err
	}
	var top, bottom float64
	persons := 0
	for i := range above {
		if above[i] < 0 || below[i] < 0 {
			return stats.Estimate{}, fmt.Errorf("person %d has %v over %v: %w", i, above[i], below[i], stats.ErrRange)
		}
		top, bottom = top+above[i], bottom+below[i]
		if above[i] > 0 || below[i] > 0 {
			persons++
		}
	}
	switch {
	case persons == 0:
		return stats.Estimate{}, stats.ErrEmpty
	case bottom == 0:
		return stats.Estimate{}, fmt.Errorf("all below are 0: %w", stats.ErrRange)
	case persons < 2:
		return stats.Estimate{}, fmt.Errorf("%d person: %w", persons, stats.ErrTooFew)
	}
	e := stats.Estimate{Value: top / bottom, Level: level, N: persons, Method: "ratio of sums, limits on the logarithm, clustered on persons"}
	var squares float64
	for i := range above {
		score := above[i] - e.Value*below[i]
		squares += score * score
	}
	e.SE = math.Sqrt(squares*float64(persons)/float64(persons-1)) / bottom
	if e.SE <= 1e-12*e.Value {
		e.SE, e.Low, e.High = 0, e.Value, e.Value
		e.Warnings = []stats.Warning{{Code: "no-interval", Text: "The ratio is 0 or does not vary between persons; it has no interval."}}
		return e, nil
	}
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(persons - 1)}.Quantile((1+level)/2) * e.SE / e.Value
	e.Low, e.High = e.Value*math.Exp(-half), e.Value*math.Exp(half)
	return e, nil
}
