package evalue

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

func TestRiskRatioByHand(t *testing.T) {
	for _, c := range []struct{ value, low, high, point, limit float64 }{
		// 2 + sqrt(2 x 1); the limit 1.25 gives 1.25 + sqrt(0.3125).
		{2, 1.25, 3.2, 2 + math.Sqrt2, 1.25 + math.Sqrt(0.3125)},
		// The same below 1: 1/0.5 and 1/0.8.
		{0.5, 0.3125, 0.8, 2 + math.Sqrt2, 1.25 + math.Sqrt(0.3125)},
		// The interval holds 1: nothing is needed to move its limit there.
		{1.5, 0.9, 2.5, 1.5 + math.Sqrt(0.75), 1},
		{1, 1, 1, 1, 1},
	} {
		e, err := RiskRatio(c.value, c.low, c.high)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, "point", e.Point, c.point, 1e-14)
		testkit.AlmostEqual(t, "limit", e.Limit, c.limit, 1e-14)
	}
	// The example of the paper: risk ratio 3.9 (1.8 to 8.7), e-values 7.26 and 3.0.
	e, err := RiskRatio(3.9, 1.8, 8.7)
	if err != nil || math.Abs(e.Point-7.26) > 0.005 || math.Abs(e.Limit-3.0) > 0.005 {
		t.Errorf("paper's example: %+v, %v", e, err)
	}
}

func TestConversionsByHand(t *testing.T) {
	// Hazard ratio 4: (1 - 0.5^2)/(1 - 0.5^0.5) = 0.75/(1 - 0.70710678...).
	hazard, err := HazardToRisk(4)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "hazard ratio 4", hazard, 0.75/(1-math.Sqrt(0.5)), 1e-14)
	odds, err := OddsToRisk(2.25)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "odds ratio 2.25", odds, 1.5, 1e-15)
	// Half a standard deviation: exp(0.455) = 1.576173...
	d, err := DifferenceToRisk(0.5)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "difference 0.5", d, 1.5761734, 1e-7)
}

func TestYardstickByHand(t *testing.T) {
	// Severity 3 and 2: 6/4 = 1.5, strength 1.5 + sqrt(0.75); age 1.5 and 4:
	// 6/4.5 = 1.333; sex 1/10 and 1: 10/10 = 1.
	m, err := Yardstick([]Covariate{{"age", 1.5, 4}, {"severity", 3, 2}, {"sex", 0.1, 1}})
	if err != nil {
		t.Fatal(err)
	}
	if m.Name != "severity" {
		t.Errorf("strongest is %q", m.Name)
	}
	testkit.AlmostEqual(t, "factor", m.Factor, 1.5, 1e-14)
	testkit.AlmostEqual(t, "strength", m.Strength, 1.5+math.Sqrt(0.75), 1e-14)
}

func TestEValueProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 9))
	for range 200 {
		ratio := math.Exp(3 * r.NormFloat64())
		e, err := RiskRatio(ratio, ratio, ratio)
		if err != nil {
			t.Fatal(err)
		}
		// A covariate as strong as the e-value on both sides moves a risk
		// ratio by exactly the ratio.
		m, err := Yardstick([]Covariate{{"u", e.Point, 1 / e.Point}})
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, "factor of the e-value", m.Factor, math.Max(ratio, 1/ratio), 1e-10)
		testkit.AlmostEqual(t, "strength of the e-value", m.Strength, e.Point, 1e-7)
		h, err := HazardToRisk(ratio)
		if err != nil {
			t.Fatal(err)
		}
		back, err := HazardToRisk(1 / ratio)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, "inverted hazard ratio", back, 1/h, 1e-12)
		if math.Abs(math.Log(h)) > math.Abs(math.Log(ratio)) {
			t.Errorf("hazard ratio %v became risk ratio %v, farther from 1", ratio, h)
		}
	}
}

func TestEValueRefusesBadInput(t *testing.T) {
	for name, c := range map[string]struct {
		want error
		call func() error
	}{
		"NaN":           {stats.ErrNotFinite, func() error { _, err := RiskRatio(math.NaN(), 1, 1); return err }},
		"zero limit":    {stats.ErrRange, func() error { _, err := RiskRatio(1, 0, 2); return err }},
		"outside":       {stats.ErrRange, func() error { _, err := RiskRatio(3, 1, 2); return err }},
		"hazard":        {stats.ErrRange, func() error { _, err := HazardToRisk(-1); return err }},
		"odds":          {stats.ErrNotFinite, func() error { _, err := OddsToRisk(math.Inf(1)); return err }},
		"difference":    {stats.ErrRange, func() error { _, err := DifferenceToRisk(101); return err }},
		"no covariates": {stats.ErrEmpty, func() error { _, err := Yardstick(nil); return err }},
		"covariate":     {stats.ErrRange, func() error { _, err := Yardstick([]Covariate{{"x", 1, 0}}); return err }},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	m, err := Yardstick([]Covariate{{"x", 1e300, 1e-300}})
	if err != nil || math.IsInf(m.Strength, 0) || math.IsNaN(m.Strength) {
		t.Errorf("largest ratios: %+v, %v", m, err)
	}
}
