// Package propensity weights persons so that those treated differently resemble
// one another in what was measured beforehand, and says when that cannot be
// done.
package propensity

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// Covariates are what was measured before the treatment: columns of one value
// per person, without a constant, with their names. A level for "missing" is a
// column of 0 and 1.
type Covariates struct {
	Names   []string
	Columns [][]float64
}

// Weighted is a weighting of persons and what it achieves.
type Weighted struct {
	Weights []float64 // per person, above 0, about 1 on average; stabilised, not truncated
	Groups  []Group   // by kind of treatment; one for a dose
	Balance []Balance // per covariate, in the order of the input
	Method  string
}

// Group is how many persons were treated one way, and how many the weights
// leave in effect: (sum of weights)^2 / sum of squared weights.
type Group struct {
	Persons   int
	Effective float64
}

// Balance is how unlike the groups are in one covariate: the largest difference
// of means between two groups in standard deviations, or for a dose the
// correlation with it; from 0.
type Balance struct {
	Name             string
	Before, Weighted float64
}

// Limits are what a weighting has to keep to be shown: the smallest share of
// effective persons in any group, the smallest number of effective persons in
// all, the largest weighted imbalance of any covariate.
type Limits struct {
	MinShare     float64
	MinPersons   float64
	MaxImbalance float64
}

// Effective is the number of persons that the weights leave in effect, all
// groups together.
//
// Output: from 1 to the number of persons. Method: Kish, the groups added.
// Agrees with the formula written in R. Cost: none.
func (w *Weighted) Effective() float64 {
	var sum float64
	for _, g := range w.Groups {
		sum += g.Effective
	}
	return sum
}

// Withheld gives the reasons why a result with these weights is not to be
// shown; none when it may be.
//
// Input: limits, of which none is checked. Output: a Warning per reason, with
// the codes "effective-share", "effective-persons" and "imbalance".
//
// Method: comparison with the limits; a value at a limit passes. Cost: none.
func (w *Weighted) Withheld(limits Limits) []stats.Warning {
	var out []stats.Warning
	for k, g := range w.Groups {
		if share := g.Effective / float64(g.Persons); share < limits.MinShare {
			out = append(out, stats.Warning{
				Code: "effective-share",
				Text: fmt.Sprintf("The weights leave %.0f %% of the persons of group %d in effect, fewer than %.0f %%: too few resemble those treated otherwise.", 100*share, k, 100*limits.MinShare),
			})
		}
	}
	if n := w.Effective(); n < limits.MinPersons {
		out = append(out, stats.Warning{
			Code: "effective-persons",
			Text: fmt.Sprintf("The weights leave %.1f persons in effect, fewer than %.0f.", n, limits.MinPersons),
		})
	}
	for _, b := range w.Balance {
		if b.Weighted > limits.MaxImbalance {
			out = append(out, stats.Warning{
				Code: "imbalance",
				Text: fmt.Sprintf("The groups still differ in %s after weighting: %.2f, more than %.2f.", b.Name, b.Weighted, limits.MaxImbalance),
			})
		}
	}
	return out
}

// check refuses what no model takes; the fits check the rest.
func check(persons int, c Covariates) error {
	if persons == 0 {
		return stats.ErrEmpty
	}
	if err := stats.CheckLength("names", len(c.Names), len(c.Columns)); err != nil {
		return err
	}
	if len(c.Columns) == 0 {
		return fmt.Errorf("covariates: %w", stats.ErrEmpty)
	}
	for j, column := range c.Columns {
		if err := stats.CheckLength(c.Names[j], len(column), persons); err != nil {
			return err
		}
		if err := stats.CheckFinite(c.Names[j], column); err != nil {
			return err
		}
	}
	return nil
}

// design puts a constant before the covariates.
func design(persons int, c Covariates) (columns [][]float64, names []string) {
	constant := make([]float64, persons)
	for i := range constant {
		constant[i] = 1
	}
	columns = append([][]float64{constant}, c.Columns...)
	return columns, append([]string{"constant"}, c.Names...)
}

// usable refuses weights that have no finite value above 0.
func usable(weights []float64) error {
	for i, w := range weights {
		if math.IsInf(w, 0) || math.IsNaN(w) || w <= 0 || w > 1e100 {
			return fmt.Errorf("the weight of person %d is beyond computing: nobody alike was treated otherwise: %w", i, stats.ErrSeparation)
		}
	}
	return nil
}

// effective is Kish's effective number of the persons that belong.
func effective(weights []float64, belongs func(i int) bool) Group {
	var g Group
	var sum, squares, largest float64
	for i, w := range weights {
		if belongs(i) {
			largest = math.Max(largest, w)
		}
	}
	for i, w := range weights {
		if belongs(i) {
			w /= largest
			g.Persons++
			sum += w
			squares += w * w
		}
	}
	g.Effective = sum * sum / squares
	return g
}
