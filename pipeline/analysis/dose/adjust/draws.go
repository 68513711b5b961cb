package adjust

import (
	"context"
	"errors"
	"math"
	"sync"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/resample"
)

// room is what one goroutine works in.
type room struct {
	weight  []float64 // of each episode
	y       []float64 // pseudo-values
	share   float64   // returned by the horizon, of all
	steps   *steps
	gram    []float64
	moments []float64
	factor  []float64
	coef    []float64
	kept    []bool
	extra   []float64 // of each episode
}

func newRoom(least *squares, back *pseudo) *room {
	return &room{
		weight: make([]float64, least.n), y: make([]float64, least.n), extra: make([]float64, least.n), steps: back.steps(),
		gram: make([]float64, least.p*(least.p+1)/2), moments: make([]float64, least.p),
		factor: make([]float64, least.p*least.p), coef: make([]float64, least.p), kept: make([]bool, least.p),
	}
}

// fit makes the pseudo-values and the sums of products under the weights.
func (r *room) fit(least *squares, back *pseudo, weight []float64) {
	r.share = back.values(weight, r.y, r.steps)
	least.gram(weight, r.gram)
	least.moments(weight, r.y, r.moments)
}

// solve fits the chosen columns to the sums of fit. The slices are the room's
// own and hold until the next fit.
func (r *room) solve(chosen []int) (coef []float64, kept []bool) {
	n := len(chosen)
	solve(r.gram, r.moments, chosen, r.factor[:n*n], r.coef[:n], r.kept[:n])
	return r.coef[:n], r.kept[:n]
}

// mostFailed is the share of draws of persons that may fail, such as those in
// which nobody had the one or the other dose.
const mostFailed = 0.5

// draw computes the statistic of everybody as they are and of draws of persons.
func (s Sample) draw(ctx context.Context, least *squares, back *pseudo, opt Options, statistic func(weight []float64, r *room) ([]float64, error)) (*resample.Draws, error) {
	person, persons := people(s.Person)
	rooms := sync.Pool{New: func() any { return newRoom(least, back) }}
	return resample.Bootstrap(ctx, persons, func(draw []int) ([]float64, error) {
		r := rooms.Get().(*room)
		defer rooms.Put(r)
		times := make([]float64, persons)
		for _, p := range draw {
			times[p]++
		}
		for i, p := range person {
			r.weight[i] = times[p]
		}
		return statistic(r.weight, r)
	}, resample.Options{Replicates: opt.Replicates, Seed: opt.Seed, MaxFailed: mostFailed})
}

// contrast is the k-th number of the draws with its percentile interval.
func contrast(draws *resample.Draws, k int, level float64) (Contrast, error) {
	e, err := draws.Percentile(k, level)
	if errors.Is(err, stats.ErrNoVariation) {
		return Contrast{Estimate: stats.Estimate{Value: draws.Point[k], N: draws.Persons, Method: "of all as they are"}}, nil
	}
	return Contrast{Estimate: e, HasInterval: err == nil}, err
}

// settled drops what lies below the twelfth decimal of a difference of shares:
// two equal ones, reached by other sums, differ there by rounding.
func settled(x float64) float64 { return math.Round(1e12*x)/1e12 + 0 }
