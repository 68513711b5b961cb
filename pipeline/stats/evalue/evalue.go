// Package evalue says how strong an unmeasured cause of both the treatment and
// the outcome would have to be to explain a difference away.
package evalue

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// EValue is on the scale of risk ratios, from 1 (nothing is needed) upwards.
type EValue struct {
	Point float64 // to move the estimate to no difference
	Limit float64 // to move the limit nearer to 1 there; 1 when the interval holds 1
}

// RiskRatio gives the strength, as a risk ratio, that an unmeasured factor
// would need with both the treatment and the outcome, beyond all measured
// covariates, to explain the observed risk ratio away.
//
// Input: a risk ratio and its limits, above 0, low <= value <= high; other
// scales are converted first (HazardToRisk, OddsToRisk, DifferenceToRisk).
// Output: the e-value of the estimate and of its nearer limit.
//
// Errors: stats.ErrNotFinite; ErrRange for a ratio not above 0 or limits that
// do not hold the value.
//
// Method: RR + sqrt(RR (RR-1)), ratios below 1 inverted (VanderWeele & Ding,
// Ann Intern Med 2017;167:268), whose examples it reproduces.
//
// Cost: none.
func RiskRatio(value, low, high float64) (EValue, error) {
	for _, r := range []float64{value, low, high} {
		if err := checkRatio(r); err != nil {
			return EValue{}, fmt.Errorf("e-value: %w", err)
		}
	}
	if low > value || high < value {
		return EValue{}, fmt.Errorf("e-value: %v is outside %v to %v: %w", value, low, high, stats.ErrRange)
	}
	nearer := 1.0
	switch {
	case low > 1:
		nearer = low
	case high < 1:
		nearer = high
	}
	return EValue{Point: strength(value), Limit: strength(nearer)}, nil
}

// HazardToRisk turns a hazard ratio of a common event, one that more than
// about 15 % have by the end, into an approximate risk ratio.
//
// Input: a hazard ratio above 0. Output: a risk ratio. Errors:
// stats.ErrNotFinite, ErrRange. Method: (1-0.5^sqrt(HR))/(1-0.5^sqrt(1/HR))
// (VanderWeele, Biometrics 2017;73:395). For a rare event the hazard ratio
// itself stands for the risk ratio. Cost: none.
func HazardToRisk(ratio float64) (float64, error) {
	if err := checkRatio(ratio); err != nil {
		return 0, fmt.Errorf("hazard ratio: %w", err)
	}
	root := math.Sqrt(ratio)
	return math.Expm1(-math.Ln2*root) / math.Expm1(-math.Ln2/root), nil
}

// OddsToRisk turns an odds ratio of a common event into an approximate risk
// ratio.
//
// Input: an odds ratio above 0. Output: a risk ratio. Errors:
// stats.ErrNotFinite, ErrRange. Method: the square root (VanderWeele,
// Biometrics 2017;73:395). Cost: none.
func OddsToRisk(ratio float64) (float64, error) {
	if err := checkRatio(ratio); err != nil {
		return 0, fmt.Errorf("odds ratio: %w", err)
	}
	return math.Sqrt(ratio), nil
}

// DifferenceToRisk turns a difference of means into an approximate risk ratio.
//
// Input: the difference in standard deviations of the outcome, within -100 to
// 100. Output: a risk ratio. Errors: stats.ErrNotFinite, ErrRange. Method:
// exp(0.91 d) (Chinn, Stat Med 2000;19:3127; VanderWeele & Ding 2017). Cost:
// none.
func DifferenceToRisk(difference float64) (float64, error) {
	if err := stats.CheckFinite("difference", []float64{difference}); err != nil {
		return 0, err
	}
	if math.Abs(difference) > 100 {
		return 0, fmt.Errorf("difference of %v standard deviations: %w", difference, stats.ErrRange)
	}
	return math.Exp(0.91 * difference), nil
}

// Covariate is how strongly one measured covariate goes with the treatment and
// with the outcome, as risk ratios above 0; below 1 they are inverted.
type Covariate struct {
	Name      string
	Treatment float64
	Outcome   float64
}

// Measured is the covariate that could distort most.
type Measured struct {
	Name     string
	Factor   float64 // the largest factor by which it can move a risk ratio
	Strength float64 // the e-value of Factor: what to hold an EValue against
}

// Yardstick finds the measured covariate that could distort the comparison
// most, so that a reader can hold the e-value against something real: "an
// unmeasured factor would have to be stronger than severity is".
//
// Input: at least one covariate. Output: the strongest; of equal ones the
// first. Strength is on the scale of EValue.
//
// Errors: stats.ErrEmpty; ErrNotFinite; ErrRange for a ratio not above 0.
//
// Method: bounding factor RT RO/(RT+RO-1) (Ding & VanderWeele, Epidemiology
// 2016;27:368).
//
// Cost: linear in covariates.
func Yardstick(covariates []Covariate) (Measured, error) {
	if len(covariates) == 0 {
		return Measured{}, fmt.Errorf("yardstick: %w", stats.ErrEmpty)
	}
	var best Measured
	for _, c := range covariates {
		for _, r := range []float64{c.Treatment, c.Outcome} {
			if err := checkRatio(r); err != nil {
				return Measured{}, fmt.Errorf("yardstick: %s: %w", c.Name, err)
			}
		}
		rt, ro := awayFrom1(c.Treatment), awayFrom1(c.Outcome)
		// RT RO/(RT+RO-1), written so that large ratios do not overflow.
		if factor := rt / (1 + (rt-1)/ro); factor > best.Factor {
			best = Measured{Name: c.Name, Factor: factor, Strength: strength(factor)}
		}
	}
	return best, nil
}

func strength(ratio float64) float64 {
	r := awayFrom1(ratio)
	return r + math.Sqrt(r)*math.Sqrt(r-1)
}

func awayFrom1(ratio float64) float64 { return math.Max(ratio, 1/ratio) }

// checkRatio refuses what is not a ratio; the bounds keep every result finite.
func checkRatio(r float64) error {
	if err := stats.CheckFinite("ratio", []float64{r}); err != nil {
		return err
	}
	if r < 1e-300 || r > 1e300 {
		return fmt.Errorf("ratio %v: %w", r, stats.ErrRange)
	}
	return nil
}
