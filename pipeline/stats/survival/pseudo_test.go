package survival

import (
	"errors"
	"math"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"
)

func TestPseudoValuesAgreeWithReference(t *testing.T) {
	a := testkit.Reference(t, "survival/pseudo")
	const file = "pseudo_mgus2.csv"
	in := Data{Time: a.Column(file, "etime"), Event: ints(a.Column(file, "cause"))}
	curves, err := AalenJohansen(in, 2, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for name, horizon := range map[string]float64{"month120": 120, "month240": 240} {
		share, without, err := curves[1].PseudoValues(horizon)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, name+" share", share, a.Floats(name+".share1"), testTolerance)
		testkit.AllAlmostEqual(t, name+" without", without, a.Floats(name+".without1"), testTolerance)
		compareRegression(t, a, name+".share1_lm", share)
		compareRegression(t, a, name+".without1_lm", without)
		free, spent, err := curves[0].PseudoValues(horizon)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, name+" free", free, a.Floats(name+".free"), testTolerance)
		testkit.AllAlmostEqual(t, name+" spent", spent, a.Floats(name+".spent0"), testTolerance)
	}
}

// compareRegression regresses pseudo-values on three columns.
func compareRegression(t *testing.T, a *testkit.Answers, name string, y []float64) {
	t.Helper()
	d := regress.Data{Y: y, Names: []string{"constant", "male", "old", "high"}, Columns: [][]float64{slices.Repeat([]float64{1}, len(y))}}
	for _, column := range d.Names[1:] {
		d.Columns = append(d.Columns, a.Column("pseudo_mgus2.csv", column))
	}
	m, err := regress.LeastSquares(d)
	if err != nil {
		t.Fatal(err)
	}
	c, err := m.Heteroscedastic(regress.HC0)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, name+" coefficients", m.Coef, a.Floats(name+".coef"), testTolerance)
	var errors []float64
	for j, row := range c.Matrix {
		errors = append(errors, math.Sqrt(row[j]))
	}
	testkit.AllAlmostEqual(t, name+" errors", errors, a.Floats(name+".se"), testTolerance)
}

// Without censoring a pseudo-value is what was seen: 1 or 0, and the time itself.
// By hand with one censored of three, at days 1 (event), 2 (censored) and 3: the
// share by day 2 is 1/3; without the first 0, without the others 1/2 each, so the
// delete-one values are 1, 0, 0. Their infinitesimal form is the same here.
func TestPseudoValuesByHand(t *testing.T) {
	for _, c := range []struct {
		in             Data
		share, without []float64
	}{
		{Data{Time: []float64{1, 4, 2, 6}, Event: []int{1, 1, 2, 0}}, []float64{1, 1, 0, 0}, []float64{1, 4, 5, 5}},
		{Data{Time: []float64{1, 2, 3}, Event: []int{1, 0, 0}}, []float64{1, 0, 0}, nil},
	} {
		horizon := 5.0
		if c.without == nil {
			horizon = 2
		}
		curves, err := AalenJohansen(c.in, 2, Options{})
		if err != nil {
			t.Fatal(err)
		}
		share, without, err := curves[1].PseudoValues(horizon)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, "share", share, c.share, 1e-12)
		if c.without != nil {
			testkit.AllAlmostEqual(t, "without", without, c.without, 1e-12)
		}
	}
}

func TestPseudoValuesRefuse(t *testing.T) {
	in := Data{Time: []float64{1, 2}, Event: []int{1, 0}}
	for _, change := range []func(*Data){func(d *Data) { d.Person = []int{1, 1} }, func(d *Data) { d.Weight = []float64{1, 2} }} {
		with := in
		change(&with)
		c, err := KaplanMeier(with, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := c.PseudoValues(2); !errors.Is(err, stats.ErrRange) {
			t.Errorf("%+v: %v", with, err)
		}
	}
	c, err := KaplanMeier(in, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, horizon := range []float64{0, -1, math.Inf(1), math.NaN()} {
		if _, _, err := c.PseudoValues(horizon); !errors.Is(err, stats.ErrRange) {
			t.Errorf("horizon %v: %v", horizon, err)
		}
	}
}
