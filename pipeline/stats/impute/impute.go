// Package impute fills in missing covariates several times over, each time
// with values that could have been, so that results carry the uncertainty of
// what was not recorded.
package impute

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"evenlimb/pipeline/stats"
)

// Kind says how a variable is imputed.
type Kind int

// Measured values are numbers; Categorical ones are codes without an order, of
// which there are at most 50.
const (
	Measured Kind = iota
	Categorical
)

// Variable is one column of persons, covariate or outcome. NaN is missing.
type Variable struct {
	Name   string
	Kind   Kind
	Values []float64
}

// Options says how often to impute, how many rounds the chain runs each time
// (10 is usual), and from which seed. Workers is the number of goroutines,
// GOMAXPROCS when 0; it changes no result.
type Options struct {
	Imputations int
	Iterations  int
	Seed        uint64
	Workers     int
}

// Chained fills in missing values of persons from all else that is known of
// them, several times over.
//
// Input: variables with a value per person each, of one length; every variable
// of the later analysis is among them, the outcome too (for a time to an event:
// the event and the cumulative hazard at the time), else the filled-in values
// hide relations. Output: filled[m][j][i], imputation m, variable j, person i;
// recorded values are as they were, filled-in ones are values that occur.
//
// Errors: stats.ErrEmpty for no variables, no persons or a variable nobody has;
// ErrLength; ErrNotFinite for an infinite value; ErrNoVariation for an
// incomplete variable with one value only; ErrTooFew for fewer persons with a
// measured variable than columns to foretell it by; ErrRange for fewer than two
// imputations, fewer than one round, more than 50 categories, or a value beyond
// 1e100;
// ErrNotConverged; the context's error when it ends.
//
// Method: chained equations (van Buuren, Stat Methods Med 2007;16:219): each
// incomplete variable in turn is drawn given all others, parameters drawn from
// their approximate posterior. Measured: predictive mean matching with five
// donors; categorical: multinomial regression with a few added pseudo-persons
// against separation (White, Daniel & Royston, CSDA 2010;54:2267). Columns that
// repeat others are left out (decision: imputation). Imputation m takes its
// numbers from a PCG source seeded with (Seed, m), so the same seed gives the
// same values for any number of cores.
//
// Cost: imputations x rounds x incomplete variables fits.
func Chained(ctx context.Context, variables []Variable, opt Options) (filled [][][]float64, err error) {
	c, err := newChains(variables, opt)
	if err != nil {
		return nil, fmt.Errorf("imputation: %w", err)
	}
	filled = make([][][]float64, opt.Imputations)
	errs := make([]error, opt.Imputations)
	workers := opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, opt.Imputations) {
		wg.Go(func() {
			for {
				m := int(next.Add(1)) - 1
				if m >= opt.Imputations {
					return
				}
				r := rand.New(rand.NewPCG(opt.Seed, uint64(m))) //nolint:gosec // m counts from 0
				filled[m], errs[m] = c.run(ctx, r, opt.Iterations)
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("imputation: %w", err)
		}
	}
	return filled, nil
}

// chains is what all imputations share; nothing in it changes.
type chains struct {
	variables []Variable
	missing   [][]int     // persons without the variable
	recorded  [][]int     // persons with it
	codes     [][]float64 // its distinct recorded values, ascending, when categorical
}

func newChains(variables []Variable, opt Options) (*chains, error) {
	if opt.Imputations < 2 || opt.Iterations < 1 {
		return nil, fmt.Errorf("%d imputations of %d rounds: %w", opt.Imputations, opt.Iterations, stats.ErrRange)
	}
	if len(variables) == 0 || len(variables[0].Values) == 0 {
		return nil, stats.ErrEmpty
	}
	c := &chains{variables: variables}
	for _, v := range variables {
		if err := c.add(v); err != nil {
			return nil, fmt.Errorf("%s: %w", v.Name, err)
		}
	}
	return c, nil
}

func (c *chains) add(v Variable) error {
	if err := stats.CheckLength("it", len(v.Values), len(c.variables[0].Values)); err != nil {
		return err
	}
	var missing, recorded []int
	var values []float64
	for i, x := range v.Values {
		switch {
		case math.IsNaN(x):
			missing = append(missing, i)
		case math.IsInf(x, 0):
			return fmt.Errorf("person %d: %w", i, stats.ErrNotFinite)
		case math.Abs(x) > 1e100: // its square must not overflow
			return fmt.Errorf("person %d has %v: %w", i, x, stats.ErrRange)
		default:
			recorded, values = append(recorded, i), append(values, x)
		}
	}
	if len(recorded) == 0 {
		return fmt.Errorf("nobody has it: %w", stats.ErrEmpty)
	}
	slices.Sort(values)
	values = slices.Compact(values)
	if len(missing) > 0 && len(values) == 1 {
		return stats.ErrNoVariation
	}
	if v.Kind != Categorical {
		values = nil
	}
	if len(values) > 50 {
		return fmt.Errorf("%d categories: %w", len(values), stats.ErrRange)
	}
	c.missing, c.recorded, c.codes = append(c.missing, missing), append(c.recorded, recorded), append(c.codes, values)
	return nil
}

// run makes one imputation, beginning from random recorded values.
func (c *chains) run(ctx context.Context, r *rand.Rand, rounds int) ([][]float64, error) {
	now := make([][]float64, len(c.variables))
	for j, v := range c.variables {
		now[j] = slices.Clone(v.Values)
		for _, i := range c.missing[j] {
			now[j][i] = v.Values[c.recorded[j][r.IntN(len(c.recorded[j]))]]
		}
	}
	for range rounds {
		for j, v := range c.variables {
			if len(c.missing[j]) == 0 {
				continue
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			draw := c.match
			if v.Kind == Categorical {
				draw = c.classify
			}
			if err := draw(r, now, j); err != nil {
				return nil, fmt.Errorf("%s: %w", v.Name, err)
			}
		}
	}
	return now, nil
}
