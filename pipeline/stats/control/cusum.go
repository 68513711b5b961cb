package control

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// grid is the number of steps in one event: scores move on whole steps, so that
// their distribution is computed exactly and sums carry no rounding.
const grid = 32

// CUSUM is a cumulative sum of events beyond what is expected. It is tuned to
// find quickly that events have become Ratio times as frequent as expected
// (above 1: more; below 1: fewer), and raises an alarm when its score reaches
// Threshold, in events, a multiple of 1/32 (Threshold finds it).
type CUSUM struct {
	Ratio     float64
	Threshold float64
}

// Step is the score after one period; after an alarm the score begins anew.
type Step struct {
	Score float64 // events
	Alarm bool
}

// Path follows the score period by period.
//
// Input: observed, whole numbers from 0, and expected, from 0 to 1e5, per period, of
// one length, in order of time. Output: a Step per period.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrRange for a count,
// expected count, Ratio (0.05 to 20, not 1) or Threshold (above 0 to 1e4) out
// of range.
//
// Method: the likelihood-ratio score for a Poisson count, in units of events:
// observed less expected x (Ratio-1)/log(Ratio), not below 0 (Lucas,
// Technometrics 1985;27:129; risk-adjusted as Steiner et al., Biostatistics
// 2000;1:441). Expected counts make it fair to sites that see other people.
// The reference value of each period is rounded to 1/32 event (decision: CUSUM
// grid).
//
// Cost: linear in periods.
func (c CUSUM) Path(observed []int, expected []float64) ([]Step, error) {
	if err := c.check(expected); err != nil {
		return nil, fmt.Errorf("CUSUM: %w", err)
	}
	if err := stats.CheckLength("observed", len(observed), len(expected)); err != nil {
		return nil, fmt.Errorf("CUSUM: %w", err)
	}
	top := c.steps()
	score := 0
	out := make([]Step, len(observed))
	for i, k := range observed {
		if k < 0 || k > 1e9 {
			return nil, fmt.Errorf("CUSUM: observed[%d] is %d: %w", i, k, stats.ErrRange)
		}
		score = max(0, score+c.direction()*(k*grid-c.reference(expected[i])))
		out[i] = Step{Score: float64(score) / grid, Alarm: score >= top}
		if out[i].Alarm {
			score = 0
		}
	}
	return out, nil
}

// reference is the number of steps by which a period's events are lowered.
func (c CUSUM) reference(expected float64) int {
	return int(math.Round(grid * expected * (c.Ratio - 1) / math.Log(c.Ratio)))
}

func (c CUSUM) direction() int {
	if c.Ratio > 1 {
		return 1
	}
	return -1
}

func (c CUSUM) steps() int { return int(math.Round(c.Threshold * grid)) }

func (c CUSUM) check(expected []float64) error {
	if len(expected) == 0 {
		return stats.ErrEmpty
	}
	if err := stats.CheckFinite("expected", append([]float64{c.Ratio, c.Threshold}, expected...)); err != nil {
		return err
	}
	if c.Ratio < 0.05 || c.Ratio > 20 || math.Abs(c.Ratio-1) < 1e-3 {
		return fmt.Errorf("ratio %v: %w", c.Ratio, stats.ErrRange)
	}
	if c.Threshold > 1e4 || c.steps() < 1 {
		return fmt.Errorf("threshold %v: %w", c.Threshold, stats.ErrRange)
	}
	for i, e := range expected {
		if e < 0 || e > 1e5 {
			return fmt.Errorf("expected[%d] is %v: %w", i, e, stats.ErrRange)
		}
	}
	return nil
}
