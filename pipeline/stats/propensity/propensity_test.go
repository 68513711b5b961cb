package propensity

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

// Four mild persons, one of whom was treated; four severe ones, three treated.
func eight() ([]bool, Covariates) {
	treated := []bool{true, false, false, false, true, true, true, false}
	return treated, Covariates{Names: []string{"severe"}, Columns: [][]float64{{0, 0, 0, 0, 1, 1, 1, 1}}}
}

func TestBinaryByHand(t *testing.T) {
	treated, c := eight()
	w, err := Binary(treated, c)
	must(t, err)
	// Probabilities 1/4 and 3/4, half treated in all: the treated mild counts
	// 0.5/0.25 = 2, the untreated mild 0.5/0.75 = 2/3, and the other way round.
	testkit.AllAlmostEqual(t, "weights", w.Weights, []float64{2, 2. / 3, 2. / 3, 2. / 3, 2. / 3, 2. / 3, 2. / 3, 2}, 1e-10)
	// Each group: (2+2)^2/(4 + 3 x 4/9) = 16/(16/3) = 3 of 4.
	for _, g := range w.Groups {
		testkit.AlmostEqual(t, "effective", g.Effective, 3, 1e-10)
		if g.Persons != 4 {
			t.Errorf("%d persons", g.Persons)
		}
	}
	testkit.AlmostEqual(t, "all effective", w.Effective(), 6, 1e-10)
	// Shares severe 3/4 and 1/4, variances 1/4 each: difference 0.5/0.5 = 1;
	// weighted 2/4 and 2/4.
	testkit.AlmostEqual(t, "before", w.Balance[0].Before, 1, 1e-12)
	testkit.AlmostEqual(t, "weighted", w.Balance[0].Weighted, 0, 1e-9)

	// Both groups keep 3/4, six persons in effect, no imbalance.
	if reasons := w.Withheld(Limits{MinShare: 0.74, MinPersons: 5.9, MaxImbalance: 0.1}); len(reasons) != 0 {
		t.Errorf("withheld: %v", reasons)
	}
	w.Balance[0].Weighted = 0.2
	var codes []string
	for _, r := range w.Withheld(Limits{MinShare: 0.76, MinPersons: 6.1, MaxImbalance: 0.1}) {
		codes = append(codes, r.Code)
	}
	if want := []string{"effective-share", "effective-share", "effective-persons", "imbalance"}; !reflect.DeepEqual(codes, want) {
		t.Errorf("reasons %v, want %v", codes, want)
	}
}

func TestMultinomialOfTwoIsBinary(t *testing.T) {
	treated, c := eight()
	kind := make([]int, len(treated))
	for i, v := range treated {
		if v {
			kind[i] = 1
		}
	}
	a, err := Binary(treated, c)
	must(t, err)
	b, err := Multinomial(kind, c)
	must(t, err)
	testkit.AllAlmostEqual(t, "weights", b.Weights, a.Weights, 1e-9)
	testkit.AlmostEqual(t, "effective", b.Groups[1].Effective, a.Groups[1].Effective, 1e-9)
}

func TestContinuousByHand(t *testing.T) {
	// Doses 1, 3, 5, 7 with the covariate 0, 0, 1, 1: fitted 2, 2, 6, 6,
	// residuals -1, 1, -1, 1 with SD sqrt(4/2) = sqrt 2; about the mean 4 the
	// deviations -3, -1, 1, 3 have SD sqrt(20/3). The weight of the first is
	// sqrt(2)/sqrt(20/3) x exp((1/2 - 9 x 3/20)/2) = sqrt(0.3) exp(-0.425).
	w, err := Continuous([]float64{1, 3, 5, 7}, Covariates{Names: []string{"x"}, Columns: [][]float64{{0, 0, 1, 1}}})
	must(t, err)
	outer, inner := math.Sqrt(0.3)*math.Exp(-0.425), math.Sqrt(0.3)*math.Exp(0.175)
	testkit.AllAlmostEqual(t, "weights", w.Weights, []float64{outer, inner, inner, outer}, 1e-12)
	testkit.AllAlmostEqual(t, "residuals", w.Residuals, []float64{-math.Sqrt(0.5), math.Sqrt(0.5), -math.Sqrt(0.5), math.Sqrt(0.5)}, 1e-12)
	// Two values, equally often: no skewness, kurtosis 1 - 3.
	testkit.AlmostEqual(t, "skewness", w.Skewness, 0, 1e-12)
	testkit.AlmostEqual(t, "kurtosis", w.Kurtosis, -2, 1e-12)
	// Correlation before: 8/sqrt(20 x 4 x 1/4 ...) = 4/sqrt(20).
	testkit.AlmostEqual(t, "before", w.Balance[0].Before, 4/math.Sqrt(20), 1e-12)
}

// A treatment that severity drives and that does nothing: the raw difference is
// large, the weighted one is about 0. 200 samples of 300.
func TestWeightsRemoveConfounding(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	const samples = 200
	var raw, weighted, doseRaw, doseWeighted float64
	for range samples {
		n := 300
		x, y, dose := make([]float64, n), make([]float64, n), make([]float64, n)
		treated := make([]bool, n)
		for i := range x {
			x[i] = r.NormFloat64()
			treated[i] = r.Float64() < 1/(1+math.Exp(-0.8*x[i]))
			dose[i] = 0.5*x[i] + r.NormFloat64()
			y[i] = x[i] + r.NormFloat64()
		}
		c := Covariates{Names: []string{"x"}, Columns: [][]float64{x}}
		b, err := Binary(treated, c)
		must(t, err)
		a0, a1, n0, n1 := 0.0, 0.0, 0.0, 0.0
		w0, w1, s0, s1 := 0.0, 0.0, 0.0, 0.0
		for i := range y {
			if treated[i] {
				a1, n1, w1, s1 = a1+y[i], n1+1, w1+b.Weights[i]*y[i], s1+b.Weights[i]
			} else {
				a0, n0, w0, s0 = a0+y[i], n0+1, w0+b.Weights[i]*y[i], s0+b.Weights[i]
			}
		}
		raw += (a1/n1 - a0/n0) / samples
		weighted += (w1/s1 - w0/s0) / samples
		d, err := Continuous(dose, c)
		must(t, err)
		ones := make([]float64, n)
		for i := range ones {
			ones[i] = 1
		}
		before, err := correlation(dose, y, ones)
		must(t, err)
		after, err := correlation(dose, y, d.Weights)
		must(t, err)
		doseRaw += before / samples
		doseWeighted += after / samples
	}
	// Monte Carlo SE about 0.015.
	if raw < 0.5 || math.Abs(weighted) > 0.08 {
		t.Errorf("two ways: raw %.3f, weighted %.3f", raw, weighted)
	}
	if doseRaw < 0.2 || math.Abs(doseWeighted) > 0.05 {
		t.Errorf("dose: raw %.3f, weighted %.3f", doseRaw, doseWeighted)
	}
}

func TestWeightsProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 8))
	n := 60
	kind, dose := make([]int, n), make([]float64, n)
	c := Covariates{Names: []string{"a", "b"}, Columns: [][]float64{make([]float64, n), make([]float64, n)}}
	for i := range kind {
		kind[i], dose[i] = r.IntN(3), r.NormFloat64()
		c.Columns[0][i], c.Columns[1][i] = r.NormFloat64(), float64(r.IntN(2))
	}
	kept := []any{slices.Clone(kind), slices.Clone(dose), slices.Clone(c.Columns[0]), slices.Clone(c.Columns[1])}
	w, err := Multinomial(kind, c)
	must(t, err)
	d, err := Continuous(dose, c)
	must(t, err)
	if !reflect.DeepEqual(kept, []any{kind, dose, c.Columns[0], c.Columns[1]}) {
		t.Error("the input was changed")
	}
	// A logistic model with a constant reproduces each group's size exactly,
	// and so do the weights: their sum by group is the group's share of n on
	// average; the number in effect never exceeds the number.
	for k, g := range w.Groups {
		if g.Effective > float64(g.Persons) || g.Effective <= 0 {
			t.Errorf("group %d: %+v", k, g)
		}
	}
	slices.Reverse(kind)
	slices.Reverse(dose)
	other := Covariates{Names: []string{"b", "a"}, Columns: [][]float64{slices.Clone(c.Columns[1]), slices.Clone(c.Columns[0])}}
	for _, column := range other.Columns {
		slices.Reverse(column)
		for i := range column {
			column[i] = 3 - 7*column[i] // another unit
		}
	}
	turned, err := Multinomial(kind, other)
	must(t, err)
	slices.Reverse(turned.Weights)
	testkit.AllAlmostEqual(t, "turned", turned.Weights, w.Weights, 1e-8)
	testkit.AlmostEqual(t, "turned balance", turned.Balance[1].Weighted, w.Balance[0].Weighted, 1e-7)
	turnedDose, err := Continuous(dose, other)
	must(t, err)
	slices.Reverse(turnedDose.Weights)
	testkit.AllAlmostEqual(t, "turned dose", turnedDose.Weights, d.Weights, 1e-8)
}

func TestPropensityRefusesBadInput(t *testing.T) {
	treated, good := eight()
	alike := make([]bool, len(treated))
	with := func(columns ...[]float64) Covariates {
		return Covariates{Names: []string{"a", "b"}[:len(columns)], Columns: columns}
	}
	severe := good.Columns[0]
	constant := []float64{1, 1, 1, 1, 1, 1, 1, 1}
	apart := []float64{9, 1, 2, 1, 8, 9, 8, 2}
	unknown := []float64{0, 0, 0, 0, 1, 1, 1, math.NaN()}
	binary := func(treated []bool, c Covariates) func() error {
		return func() error { _, err := Binary(treated, c); return err }
	}
	several := func(kind []int, c Covariates) func() error {
		return func() error { _, err := Multinomial(kind, c); return err }
	}
	dose := func(dose []float64, c Covariates) func() error {
		return func() error { _, err := Continuous(dose, c); return err }
	}
	for name, c := range map[string]struct {
		want error
		call func() error
	}{
		"nobody":             {stats.ErrEmpty, binary(nil, good)},
		"no covariates":      {stats.ErrEmpty, binary(treated, Covariates{})},
		"names":              {stats.ErrLength, binary(treated, Covariates{Columns: good.Columns})},
		"length":             {stats.ErrLength, binary(treated, with(severe[:7]))},
		"NaN":                {stats.ErrNotFinite, binary(treated, with(unknown))},
		"all alike":          {stats.ErrOneGroup, binary(alike, good)},
		"constant":           {stats.ErrCollinear, binary(treated, with(constant))},
		"twice the same":     {stats.ErrCollinear, binary(treated, with(severe, severe))},
		"separated":          {stats.ErrSeparation, binary(treated, with(apart))},
		"negative kind":      {stats.ErrRange, several([]int{0, 1, -1, 0, 1, 0, 1, 0}, good)},
		"empty kind":         {stats.ErrNoEvents, several([]int{0, 2, 2, 0, 2, 0, 2, 0}, good)},
		"one kind":           {stats.ErrOneGroup, several(make([]int, 8), good)},
		"kinds nobody":       {stats.ErrEmpty, several(nil, good)},
		"kinds separated":    {stats.ErrSeparation, several([]int{1, 0, 0, 0, 1, 1, 1, 0}, with(apart))},
		"dose nobody":        {stats.ErrEmpty, dose(nil, good)},
		"dose constant":      {stats.ErrNoVariation, dose(constant, good)},
		"dose foretold":      {stats.ErrNoVariation, dose(severe, good)},
		"dose NaN":           {stats.ErrNotFinite, dose(unknown, good)},
		"dose covariate NaN": {stats.ErrNotFinite, dose(apart, with(unknown))},
		"dose collinear":     {stats.ErrCollinear, dose(apart, with(constant))},
		"dose of two":        {stats.ErrTooFew, dose([]float64{1, 2}, with([]float64{0, 1}))},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if err := usable([]float64{1, math.Inf(1)}); !errors.Is(err, stats.ErrSeparation) {
		t.Errorf("infinite weight: %v", err)
	}
	// A dose far from all others is weighted, not truncated, and finite.
	far := []float64{1, 2, 1.5, 2.5, 2, 1, 3, 1e6}
	w, err := Continuous(far, good)
	must(t, err)
	must(t, stats.CheckFinite("weights", w.Weights))
}
