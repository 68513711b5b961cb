package control

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// Run is a stretch of points on one side of the centre, First to Last counted
// from 0, both within.
type Run struct {
	First, Last int
	Side        Signal
}

// Runs finds the stretches of points that stay on one side of the centre for
// longer than chance lets expect: a lasting, perhaps small, change.
//
// Input: points in order of time; length, how many in a row make a run, from 2
// (8 is usual). A point on the centre belongs to neither side and ends a run.
// Output: each run once, at its full length, in order; none when there is none.
//
// Errors: stats.ErrEmpty for no points; ErrRange for a length below 2.
//
// Method: the plain count (decision: runs); RunsMean says how often chance alone
// gives one.
//
// Cost: linear in points.
func Runs(points []Point, length int) ([]Run, error) {
	if len(points) == 0 {
		return nil, fmt.Errorf("runs: %w", stats.ErrEmpty)
	}
	if length < 2 {
		return nil, fmt.Errorf("runs of %d: %w", length, stats.ErrRange)
	}
	var out []Run
	first, side := 0, Within
	for i := range len(points) + 1 {
		now := Within
		if i < len(points) {
			now = sideOf(points[i])
		}
		if now == side && i < len(points) {
			continue
		}
		if side != Within && i-first >= length {
			out = append(out, Run{First: first, Last: i - 1, Side: side})
		}
		first, side = i, now
	}
	return out, nil
}

func sideOf(p Point) Signal {
	switch {
	case p.Value > p.Centre:
		return Above
	case p.Value < p.Centre:
		return Below
	default:
		return Within
	}
}

// RunsMean is how many points chart readers wait on average for a run that
// chance alone brings.
//
// Input: length as Runs, at most 50; above and below, the probabilities that a
// point lies on either side of the centre, above 0, together at most 1. Output: points to the
// end of the first run.
//
// Errors: stats.ErrNotFinite; ErrRange.
//
// Method: the mean waiting time for the first of two runs (Feller, vol. 1,
// XIII.7-8); 255 points for runs of 8 at one half each.
//
// Cost: none.
func RunsMean(length int, above, below float64) (float64, error) {
	if err := stats.CheckFinite("probability", []float64{above, below}); err != nil {
		return 0, fmt.Errorf("mean wait for a run: %w", err)
	}
	if length < 2 || length > 50 || above <= 0 || below <= 0 || above+below > 1+1e-12 {
		return 0, fmt.Errorf("mean wait for a run of %d at %v and %v: %w", length, above, below, stats.ErrRange)
	}
	// With u(p) the long-run share of points that end a run of one side alone,
	// the first of both comes after 1/(u(above)+u(below)) points.
	share := func(p float64) float64 {
		runs := math.Pow(p, float64(length))
		return runs * (1 - p) / (1 - runs)
	}
	mean := 1 / (share(above) + share(below))
	if math.IsInf(mean, 0) {
		return 0, fmt.Errorf("mean wait for a run of %d at %v and %v is beyond counting: %w", length, above, below, stats.ErrRange)
	}
	return mean, nil
}
