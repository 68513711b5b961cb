// Package adjust sets the return after the landmark against the work before it
// among people who were alike when care began: whether any was done with the
// cuff inflated, and how much.
//
// The response is the share returned by a horizon, in the presence of competing
// ends and of people whose watching ends before it. Every person gets a
// pseudo-value of that share, and least squares of the pseudo-values on the dose
// and the covariates tells differences of shares. Every step is made again in
// every draw of persons; so that thousands of draws cost little, what does not
// depend on the draw is computed once and a draw is a set of whole weights.
package adjust

import (
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/propensity"
)

// Sample is the episodes compared, by columns. The covariates of an episode are
// all known. Nothing in it is changed.
type Sample struct {
	Person     []int     // of each episode, any codes
	Dose       []float64 // per week; 0: none
	Day        []int     // of the return, the competing end or the end of watching
	Event      []int     // 0 none, 1 return, 2 competing end
	Horizon    int       // the day by whose end a return counts
	Severity   [][]float64
	Covariates []Covariate
	Clinician  []int // of most of the work, any codes; below 0: not known
}

// Covariate is something known when care began: a column of one value an
// episode, with its name in words.
type Covariate struct {
	Name   string
	Values []float64
}

// Options says how persons are drawn for intervals, and where the curve is told.
type Options struct {
	Replicates int
	Seed       uint64
	Level      float64
	Reference  float64   // dose that the curve is told against
	Grid       []float64 // doses at which it is told

	Limits          propensity.Limits // of the weights
	LeastClinicians int               // for an interval clustered on them
}

// Contrast is a difference of shares with its interval. HasInterval is false
// where the draws do not differ.
type Contrast struct {
	stats.Estimate
	HasInterval bool
}

// people numbers the persons from 0 in order of appearance.
func people(codes []int) (person []int, persons int) {
	index := map[int]int{}
	person = make([]int, len(codes))
	for i, code := range codes {
		if _, ok := index[code]; !ok {
			index[code] = len(index)
		}
		person[i] = index[code]
	}
	return person, len(index)
}
