package rates

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
)

// FunnelOptions says how the spread between units is judged. Winsor is the
// share of the most extreme z-scores at each end that is pulled in (0.1 in
// Spiegelhalter's paper; 0 pulls in none), below 0.5. Fewer units than MinUnits
// draw a warning.
type FunnelOptions struct {
	Winsor   float64
	MinUnits int
}

// Spread is how much more units differ than chance explains.
type Spread struct {
	Z        []float64 // per unit, in the order of the input, not pulled in
	Phi      float64   // mean square of the pulled-in z-scores; about 1 when chance explains all
	Tau      float64   // standard deviation of the true ratios to expected, from 0
	Warnings []stats.Warning
}

// Funnel measures how much units such as sites differ in observed against
// expected counts beyond chance, so that the limits of a funnel plot call a
// unit out of the ordinary only when it stands out from that spread too.
//
// Input: observed, whole numbers from 0, and expected above 0, per unit, of one
// length, in any order. Output: Spread; its Limits draw the funnel.
//
// Errors: stats.ErrEmpty, ErrOneGroup for one unit, ErrLength, ErrNotFinite;
// ErrRange for a negative count, an expected count not above 0, or Winsor
// outside [0, 0.5). Warnings: "few-units" below MinUnits; "small-expected" when
// a unit's expected count is below 5, where z-scores are rough.
//
// Method: z-scores on the square-root scale, the most extreme pulled in to the
// quantiles at Winsor and 1-Winsor (linear between order statistics), and the
// additive moment estimate of the variance between units (Spiegelhalter, Qual
// Saf Health Care 2005;14:347), doubled on leaving the square-root scale
// (decision: funnel spread). Agrees with the formulas written in R.
//
// Cost: one sort of the units.
func Funnel(observed []int, expected []float64, opt FunnelOptions) (Spread, error) {
	if err := checkFunnel(observed, expected, opt); err != nil {
		return Spread{}, fmt.Errorf("funnel: %w", err)
	}
	out := Spread{Z: make([]float64, len(observed))}
	var w, ww float64 // sums of weights on the square-root scale, 4 x expected, and of their squares
	small := 0
	for i, e := range expected {
		out.Z[i] = 2 * (math.Sqrt(float64(observed[i])) - math.Sqrt(e))
		w += 4 * e
		ww += 16 * e * e
		if e < 5 {
			small++
		}
	}
	sorted := slices.Sorted(slices.Values(out.Z))
	low, high := quantile(sorted, opt.Winsor), quantile(sorted, 1-opt.Winsor)
	for _, z := range out.Z {
		z = math.Min(math.Max(z, low), high)
		out.Phi += z * z
	}
	units := float64(len(observed))
	out.Phi /= units
	if excess := units*out.Phi - (units - 1); excess > 0 {
		out.Tau = 2 * math.Sqrt(excess/(w-ww/w))
	}
	if len(observed) < opt.MinUnits {
		out.Warnings = append(out.Warnings, stats.Warning{
			Code: "few-units",
			Text: fmt.Sprintf("Only %d units: how much they differ beyond chance is known roughly.", len(observed)),
		})
	}
	if small > 0 {
		out.Warnings = append(out.Warnings, stats.Warning{
			Code: "small-expected",
			Text: fmt.Sprintf("Fewer than 5 events are expected in %d of %d units; the spread beyond chance is rough.", small, len(observed)),
		})
	}
	return out, nil
}

// Limits gives the range of counts of a unit that chance and the spread
// between units explain, which at a row of expected counts draws the funnel.
//
// Input: expected and level as PoissonLimits. Output: whole counts; divide by
// expected for the scale of ratios. Errors, method and cost: as
// GammaPoissonLimits, with Tau for its spread.
func (s Spread) Limits(expected, level float64) (CountLimits, error) {
	return GammaPoissonLimits(expected, s.Tau, level)
}

func checkFunnel(observed []int, expected []float64, opt FunnelOptions) error {
	if len(observed) == 0 {
		return stats.ErrEmpty
	}
	if err := stats.CheckLength("expected", len(expected), len(observed)); err != nil {
		return err
	}
	if len(observed) == 1 {
		return stats.ErrOneGroup
	}
	if err := stats.CheckFinite("expected", expected); err != nil {
		return err
	}
	for i, k := range observed {
		if k < 0 || expected[i] <= 0 {
			return fmt.Errorf("unit %d: observed %d, expected %v: %w", i, k, expected[i], stats.ErrRange)
		}
	}
	if !(opt.Winsor >= 0 && opt.Winsor < 0.5) {
		return fmt.Errorf("winsor %v: %w", opt.Winsor, stats.ErrRange)
	}
	return nil
}

// quantile is the p-quantile of sorted values, linear between them (type 7).
func quantile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
