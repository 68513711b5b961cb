// Package multiple adjusts p-values when several questions are asked at once:
// by chance alone one in twenty unadjusted ones falls below 0.05.
package multiple

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
)

// Holm adjusts p-values so that all those below 0.05 together carry at most a
// 5 % risk of even one false finding.
//
// Input: p-values from 0 to 1, in any order, not changed. Output: the adjusted
// ones in the order of the input, from 0 to 1.
//
// Errors: stats.ErrEmpty; ErrNotFinite; ErrRange for a p outside 0 to 1.
//
// Method: step-down Bonferroni (Holm, Scand J Stat 1979;6:65); holds under any
// dependence. Agrees with p.adjust of R.
//
// Cost: one sort.
func Holm(p []float64) ([]float64, error) {
	order, err := ascending(p)
	if err != nil {
		return nil, fmt.Errorf("Holm: %w", err)
	}
	out := make([]float64, len(p))
	highest := 0.0
	for rank, i := range order {
		highest = math.Max(highest, p[i]*float64(len(p)-rank))
		out[i] = math.Min(1, highest)
	}
	return out, nil
}

// BenjaminiHochberg adjusts p-values so that of all those below 0.05 about one
// in twenty is expected to be a false finding.
//
// Input, output and errors: as Holm.
//
// Method: false discovery rate, step-up (Benjamini & Hochberg, JRSS B
// 1995;57:289); holds for independent or positively dependent tests. Agrees
// with p.adjust of R.
//
// Cost: one sort.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	order, err := ascending(p)
	if err != nil {
		return nil, fmt.Errorf("Benjamini-Hochberg: %w", err)
	}
	out := make([]float64, len(p))
	lowest := 1.0
	for rank, i := range slices.Backward(order) {
		lowest = math.Min(lowest, float64(len(p))/float64(rank+1)*p[i])
		out[i] = lowest
	}
	return out, nil
}

// ascending checks p and returns its indices from the smallest p on.
func ascending(p []float64) ([]int, error) {
	if len(p) == 0 {
		return nil, stats.ErrEmpty
	}
	if err := stats.CheckFinite("p", p); err != nil {
		return nil, err
	}
	order := make([]int, len(p))
	for i, x := range p {
		if x < 0 || x > 1 {
			return nil, fmt.Errorf("p[%d] is %v: %w", i, x, stats.ErrRange)
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		default:
			return 0
		}
	})
	return order, nil
}
