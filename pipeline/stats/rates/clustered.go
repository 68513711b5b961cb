package rates

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// ClusterOptions says how a rate with repeated events in the same person is
// given its limits. Level is two-sided; limits are widened when the variance
// ratio exceeds WidenAbove (1.2 for 20 % above Poisson), which is at least 1.
type ClusterOptions struct {
	Level      float64
	WidenAbove float64
}

// ClusteredRate is a rate per unit of exposure whose events come in persons.
type ClusteredRate struct {
	stats.Estimate
	VarianceRatio float64 // cluster-robust variance over the Poisson one; 1 when it cannot be judged
	Widened       bool    // the limits and SE were widened by VarianceRatio
}

// Clustered estimates how often an event happens per unit of exposure when the
// same person may have several: events that come in few persons say less than
// as many in different persons.
//
// Input: events and exposure per person, of one length, in any order; counts
// and exposures from 0, at least one exposure above 0. Output: a rate per unit
// of exposure; N persons with exposure or events, Events in all.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrRange for a negative
// count or exposure, no exposure at all, a level outside (0, 1) or WidenAbove
// below 1. Warnings: "no-events" as Garwood; "one-person" when fewer than two
// persons had exposure or events, so that the ratio cannot be judged;
// "widened" when the limits were widened; "few-events" when that left fewer
// than one event's worth of information, where the limits are rough.
//
// Method: the variance of a ratio of sums over persons with the factor
// G/(G-1), over the Poisson variance. Widened limits are Garwood's for counts
// and exposure divided by the ratio (decision: widened rates). Agrees with
// sandwich::vcovCL of a Poisson model in R, type HC0 with its default factor.
//
// Cost: linear in persons.
func Clustered(events []int, exposure []float64, opt ClusterOptions) (ClusteredRate, error) {
	out, err := clustered(events, exposure, opt)
	if err != nil {
		return ClusteredRate{}, fmt.Errorf("rate by person: %w", err)
	}
	return out, nil
}

func clustered(events []int, exposure []float64, opt ClusterOptions) (ClusteredRate, error) {
	count, persons, err := sumByPerson(events, exposure)
	if err != nil {
		return ClusteredRate{}, err
	}
	if !(opt.WidenAbove >= 1) {
		return ClusteredRate{}, fmt.Errorf("WidenAbove %v is below 1: %w", opt.WidenAbove, stats.ErrRange)
	}
	e, err := Garwood(count.Events, count.Exposure, opt.Level)
	if err != nil {
		return ClusteredRate{}, err
	}
	e.N = persons
	out := ClusteredRate{Estimate: e, VarianceRatio: 1}
	if persons < 2 {
		out.Warnings = append(out.Warnings, stats.Warning{
			Code: "one-person",
			Text: "Fewer than two persons: whether events come in clusters cannot be judged.",
		})
		return out, nil
	}
	if count.Events == 0 {
		return out, nil
	}
	out.VarianceRatio = clusterVariance(events, exposure, e.Value, persons) / float64(count.Events)
	if out.VarianceRatio > opt.WidenAbove {
		out.widen(count)
	}
	return out, nil
}

// clusterVariance is the cluster-robust variance of the count.
func clusterVariance(events []int, exposure []float64, rate float64, persons int) float64 {
	var sum float64
	for i, k := range events {
		score := float64(k) - rate*exposure[i]
		sum += score * score
	}
	return sum * float64(persons) / float64(persons-1)
}

func (c *ClusteredRate) widen(count Count) {
	ratio, tail := c.VarianceRatio, (1-c.Level)/2
	k := float64(count.Events) / ratio
	c.Low = poissonMeanBelow(k, tail) * ratio / count.Exposure
	c.High = poissonMeanAbove(k, tail) * ratio / count.Exposure
	c.SE *= math.Sqrt(ratio)
	c.Widened = true
	c.Method = "exact Poisson limits (Garwood), widened for events in the same person"
	c.Warnings = append(c.Warnings, stats.Warning{
		Code: "widened",
		Text: fmt.Sprintf("Events come in the same persons; the variance is %.2f times that of independent events and the limits were widened by it.", ratio),
	})
	if k < 1 {
		c.Warnings = append(c.Warnings, stats.Warning{
			Code: "few-events",
			Text: "The events come in so few persons that the limits are rough.",
		})
	}
}

// sumByPerson checks the input and returns its sums and the number of persons
// who contribute to them.
func sumByPerson(events []int, exposure []float64) (Count, int, error) {
	if len(events) == 0 {
		return Count{}, 0, stats.ErrEmpty
	}
	if err := stats.CheckLength("exposure", len(exposure), len(events)); err != nil {
		return Count{}, 0, err
	}
	if err := stats.CheckFinite("exposure", exposure); err != nil {
		return Count{}, 0, err
	}
	var sum Count
	persons := 0
	for i, k := range events {
		if k < 0 || exposure[i] < 0 {
			return Count{}, 0, fmt.Errorf("person %d has %d events in exposure %v: %w", i, k, exposure[i], stats.ErrRange)
		}
		sum.Events += k
		sum.Exposure += exposure[i]
		if k > 0 || exposure[i] > 0 {
			persons++
		}
	}
	return sum, persons, nil
}
