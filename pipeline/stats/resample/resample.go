// Package resample draws persons again and again, with replacement, to see how
// much a result moves when other persons of the same kind had come.
package resample

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"evenlimb/pipeline/stats"
)

// Statistic computes one or more numbers from a draw of persons: indices from
// 0 to persons-1, as many as there are persons, some of them more than once. It
// takes all rows of a drawn person, is called from several goroutines at once,
// may keep or change draw, and returns the same number of values each time. An
// error, such as stats.ErrNotConverged, or a value that is not finite counts
// as a failed draw.
type Statistic func(draw []int) ([]float64, error)

// Options says how often and from which seed persons are drawn. MaxFailed is
// the largest share of draws that may fail (0: none). Workers is the number of
// goroutines, GOMAXPROCS when 0; it changes no result.
type Options struct {
	Replicates int
	Seed       uint64
	MaxFailed  float64
	Workers    int
}

// Draws are the values of a statistic over the draws. Values[k] holds the k-th
// number of the statistic, one per draw that did not fail, in the order of the
// draws.
type Draws struct {
	Point   []float64   // the statistic of the persons as they are
	Values  [][]float64 // per number of the statistic
	Persons int
	Failed  int // draws left out
}

// Bootstrap draws whole persons with replacement and computes the statistic of
// each draw; from these come intervals that assume nothing about its
// distribution, with every step of the calculation repeated.
//
// Input: persons, 2 or more; statistic, see there; Replicates, 2 or more
// (2,000 for an interval that is printed). Output: Draws; for the same seed the
// same numbers whatever the number of cores.
//
// Errors: stats.ErrTooFew for fewer than two persons or replicates; ErrRange
// for MaxFailed outside [0, 1); the statistic's own error when it fails on the
// persons as they are; ErrLength when it changes its number of values;
// ErrNotConverged when more than MaxFailed of the draws fail; the context's
// error when it ends.
//
// Method: Efron (Ann Stat 1979;7:1), clusters drawn as wholes. Draw b takes its
// numbers from a PCG source seeded with (Seed, b).
//
// Cost: Replicates+1 calls of statistic.
func Bootstrap(ctx context.Context, persons int, statistic Statistic, opt Options) (*Draws, error) {
	if persons < 2 || opt.Replicates < 2 {
		return nil, fmt.Errorf("bootstrap: %d persons, %d replicates: %w", persons, opt.Replicates, stats.ErrTooFew)
	}
	if !(opt.MaxFailed >= 0 && opt.MaxFailed < 1) {
		return nil, fmt.Errorf("bootstrap: MaxFailed %v: %w", opt.MaxFailed, stats.ErrRange)
	}
	point, err := pointOf(persons, statistic)
	if err != nil {
		return nil, fmt.Errorf("bootstrap: %w", err)
	}
	results, err := inParallel(ctx, opt.Replicates, opt.Workers, func(b int) []float64 {
		r := rand.New(rand.NewPCG(opt.Seed, uint64(b))) //nolint:gosec // b counts from 0
		draw := make([]int, persons)
		for i := range draw {
			draw[i] = r.IntN(persons)
		}
		return valuesOf(statistic, draw)
	})
	if err != nil {
		return nil, fmt.Errorf("bootstrap: %w", err)
	}
	d := &Draws{Point: point, Values: make([][]float64, len(point)), Persons: persons}
	for _, values := range results {
		if values == nil {
			d.Failed++
			continue
		}
		if err := stats.CheckLength("the statistic of a draw", len(values), len(point)); err != nil {
			return nil, fmt.Errorf("bootstrap: %w", err)
		}
		for k, v := range values {
			d.Values[k] = append(d.Values[k], v)
		}
	}
	if used := opt.Replicates - d.Failed; used < 2 || float64(d.Failed) > opt.MaxFailed*float64(opt.Replicates) {
		return nil, fmt.Errorf("bootstrap: %d of %d draws failed: %w", d.Failed, opt.Replicates, stats.ErrNotConverged)
	}
	return d, nil
}

// Jackknife computes the statistic with each person left out in turn, which is
// what BCa needs to allow for skewness.
//
// Input: as Bootstrap, 3 persons or more; workers as Options.Workers. Output:
// left[k][i], the k-th number of the statistic without person i.
//
// Errors: as Bootstrap, with no failure allowed.
//
// Method: delete-one jackknife by person (Efron & Tibshirani 1993, ch. 11).
//
// Cost: persons+1 calls of statistic.
func Jackknife(ctx context.Context, persons int, statistic Statistic, workers int) (left [][]float64, err error) {
	if persons < 3 {
		return nil, fmt.Errorf("jackknife: %d persons: %w", persons, stats.ErrTooFew)
	}
	point, err := pointOf(persons, statistic)
	if err != nil {
		return nil, fmt.Errorf("jackknife: %w", err)
	}
	results, err := inParallel(ctx, persons, workers, func(out int) []float64 {
		draw := make([]int, 0, persons-1)
		for i := range persons {
			if i != out {
				draw = append(draw, i)
			}
		}
		return valuesOf(statistic, draw)
	})
	if err != nil {
		return nil, fmt.Errorf("jackknife: %w", err)
	}
	left = make([][]float64, len(point))
	for i, values := range results {
		if values == nil {
			return nil, fmt.Errorf("jackknife: without person %d: %w", i, stats.ErrNotConverged)
		}
		if err := stats.CheckLength("the statistic", len(values), len(point)); err != nil {
			return nil, fmt.Errorf("jackknife: %w", err)
		}
		for k, v := range values {
			left[k] = append(left[k], v)
		}
	}
	return left, nil
}

// pointOf is the statistic of the persons as they are.
func pointOf(persons int, statistic Statistic) ([]float64, error) {
	all := make([]int, persons)
	for i := range all {
		all[i] = i
	}
	point, err := statistic(all)
	if err != nil {
		return nil, err
	}
	if len(point) == 0 {
		return nil, fmt.Errorf("the statistic: %w", stats.ErrEmpty)
	}
	if err := stats.CheckFinite("the statistic", point); err != nil {
		return nil, err
	}
	return point, nil
}

// valuesOf is nil when the statistic fails.
func valuesOf(statistic Statistic, draw []int) []float64 {
	values, err := statistic(draw)
	if err != nil {
		return nil
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	}
	return values
}

// inParallel runs task 0..n-1 and returns the results by task, whichever
// goroutine ran it.
func inParallel(ctx context.Context, n, workers int, task func(i int) []float64) ([][]float64, error) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	results := make([][]float64, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, n) {
		wg.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				results[i] = task(i)
			}
		})
	}
	wg.Wait()
	return results, ctx.Err()
}
