// Package rows checks and numbers what the rows of all folders of survival may
// carry: weights and persons.
package rows

import (
	"fmt"

	"evenlimb/pipeline/stats"
)

// Check refuses weights and persons that do not fit n rows; nil is neither.
func Check(n int, weight []float64, person []int) error {
	if weight != nil {
		if err := stats.CheckLength("weight", len(weight), n); err != nil {
			return err
		}
		if err := stats.CheckFinite("weight", weight); err != nil {
			return err
		}
	}
	if person != nil {
		if err := stats.CheckLength("person", len(person), n); err != nil {
			return err
		}
	}
	for i, w := range weight {
		if w <= 0 {
			return fmt.Errorf("weight[%d] is %v, it must be above 0: %w", i, w, stats.ErrRange)
		}
	}
	return nil
}

// Weighted says whether a weight is not 1.
func Weighted(weight []float64) bool {
	for _, w := range weight {
		if w != 1 {
			return true
		}
	}
	return false
}

// Persons numbers the persons 0..m-1 in order of first appearance.
func Persons(person []int) (codes []int, m int) {
	codes = make([]int, len(person))
	seen := make(map[int]int, len(person))
	for i, p := range person {
		c, ok := seen[p]
		if !ok {
			c = len(seen)
			seen[p] = c
		}
		codes[i] = c
	}
	return codes, len(seen)
}
