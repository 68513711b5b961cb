package mixed_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"evenlimb/pipeline/stats/mixed"
	"evenlimb/pipeline/testkit"
)

// What the fits agree to. The coefficients owe 1e-5 and the variance
// components 1e-3; what the reference itself leaves undecided when its
// optimiser stops and its derivatives are numerical is smaller than these.
const (
	coefTolerance   = 1e-8
	spreadTolerance = 1e-6
	dfTolerance     = 1e-5
)

// load gives a data set as the reference script wrote it.
func load(a *testkit.Answers, name string, columns int, slope, above, aboveSlope bool) mixed.Data {
	file := "models_" + name + ".csv"
	d := mixed.Data{Y: a.Column(file, "y"), Group: mixed.Random{Group: codes(a.Column(file, "g"))}}
	for j := range columns {
		column := fmt.Sprintf("x%d", j+1)
		d.Columns = append(d.Columns, a.Column(file, column))
		d.Names = append(d.Names, column)
	}
	if slope {
		d.Group.Slope = a.Column(file, "s")
	}
	if above {
		d.Above = &mixed.Random{Group: codes(a.Column(file, "above"))}
		if aboveSlope {
			d.Above.Slope = a.Column(file, "aboves")
		}
	}
	return d
}

func codes(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(x)
	}
	return out
}

func TestFitAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "mixed/models")
	for _, c := range []struct {
		answer, data             string
		columns                  int
		slope, above, aboveSlope bool
		boundary                 bool
	}{
		{answer: "sleepstudy", data: "sleepstudy", columns: 2, slope: true},
		{answer: "sleepstudy_ml", data: "sleepstudy", columns: 2, slope: true},
		{answer: "sleepstudy_intercept", data: "sleepstudy", columns: 2},
		{answer: "sleepspline", data: "sleepspline", columns: 4, slope: true},
		{answer: "orthodont", data: "orthodont", columns: 4, slope: true},
		{answer: "orthodont_ml", data: "orthodont", columns: 4, slope: true},
		{answer: "oxboys", data: "oxboys", columns: 3, slope: true},
		{answer: "bodyweight", data: "bodyweight", columns: 6, slope: true},
		{answer: "chickweight", data: "chickweight", columns: 7, slope: true},
		{answer: "rail", data: "rail", columns: 1},
		{answer: "rail_ml", data: "rail", columns: 1},
		{answer: "dyestuff2", data: "dyestuff2", columns: 1, boundary: true},
		{answer: "igf", data: "igf", columns: 2, slope: true, boundary: true},
		{answer: "cake", data: "cake", columns: 4},
		{answer: "pastes", data: "pastes", columns: 1, above: true},
		{answer: "pastes_ml", data: "pastes", columns: 1, above: true},
		{answer: "oats", data: "oats", columns: 2, above: true},
		{answer: "pixel", data: "pixel", columns: 3, above: true, aboveSlope: true},
		{answer: "episodes", data: "episodes", columns: 2, slope: true, above: true, aboveSlope: true},
	} {
		t.Run(c.answer, func(t *testing.T) {
			data := load(a, c.data, c.columns, c.slope, c.above, c.aboveSlope)
			m, err := mixed.Fit(data, mixed.Options{ML: a.Float(c.answer+".reml") == 0})
			if err != nil {
				t.Fatal(err)
			}
			compareModel(t, a, c.answer, m, c.above)
			if got := len(m.Warnings) > 0; got != c.boundary {
				t.Errorf("warnings %v, want one on the boundary: %v", m.Warnings, c.boundary)
			}
		})
	}
}

func compareModel(t *testing.T, a *testkit.Answers, name string, m *mixed.Model, above bool) {
	t.Helper()
	testkit.AllAlmostEqual(t, "coefficients", m.Coef, a.Floats(name+".coef"), coefTolerance)
	testkit.AllAlmostEqual(t, "standard errors", m.SE, a.Floats(name+".se"), spreadTolerance)
	testkit.AllAlmostEqual(t, "degrees of freedom", m.DF, a.Floats(name+".df"), dfTolerance)
	testkit.AllAlmostEqual(t, "covariance", slices.Concat(m.Covariance...), a.Floats(name+".vcov"), spreadTolerance)
	testkit.AlmostEqual(t, "residual", m.ResidualSD, a.Float(name+".sigma"), spreadTolerance)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, a.Float(name+".loglik"), 1e-10)
	testkit.AlmostEqual(t, "rows", float64(m.N), a.Float(name+".rows"), 0)
	testkit.AlmostEqual(t, "groups", float64(m.Groups), a.Float(name+".groups"), 0)
	compareComponent(t, a, name+".component", m.Group)
	groups, upper := m.Effects()
	compareEffects(t, a, name+".effects", groups)
	if above {
		testkit.AlmostEqual(t, "groups above", float64(m.AboveN), a.Float(name+".above.groups"), 0)
		compareComponent(t, a, name+".above.component", m.Above)
		compareEffects(t, a, name+".above.effects", upper)
	}

	weights, p := a.Floats(name+".weights"), len(m.Coef)
	fields := map[string][]float64{}
	for at := 0; at < len(weights); at += p {
		c, err := m.Combine(weights[at:at+p], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		for field, v := range map[string]float64{
			"value": c.Value, "error": c.SE, "dof": c.DF, "low": c.Low, "high": c.High, "t": c.T, "p": c.P,
		} {
			fields[field] = append(fields[field], v)
		}
	}
	testkit.AllAlmostEqual(t, "value", fields["value"], a.Floats(name+".value"), coefTolerance)
	testkit.AllAlmostEqual(t, "error", fields["error"], a.Floats(name+".error"), spreadTolerance)
	testkit.AllAlmostEqual(t, "dof", fields["dof"], a.Floats(name+".dof"), dfTolerance)
	for _, field := range []string{"low", "high", "t"} {
		testkit.AllAlmostEqual(t, field, fields[field], a.Floats(name+"."+field), spreadTolerance)
	}
	testkit.AllAlmostEqual(t, "p", fields["p"], a.Floats(name+".p"), 1e-4)
}

func compareComponent(t *testing.T, a *testkit.Answers, name string, c mixed.Component) {
	t.Helper()
	testkit.AllAlmostEqual(t, name+" sd", []float64{c.InterceptSD, c.SlopeSD}, a.Floats(name+".sd"), spreadTolerance)
	// A correlation lives on the scale of 1, also where it is near zero.
	testkit.AlmostEqual(t, name+" 1 + correlation", 1+c.Correlation, 1+a.Float(name+".corr"), spreadTolerance)
}

// compareEffects measures a difference against the largest effect of its kind:
// the effects scatter around zero.
func compareEffects(t *testing.T, a *testkit.Answers, name string, effects []mixed.GroupEffect) {
	t.Helper()
	slices.SortFunc(effects, func(x, y mixed.GroupEffect) int { return x.Group - y.Group })
	want, sd := a.Floats(name+".value"), a.Floats(name+".sd")
	terms := len(want) / len(effects)
	code := a.Floats(name + ".code")
	largest := make([]float64, terms)
	for i, w := range want {
		largest[i%terms] = max(largest[i%terms], math.Abs(w))
	}
	for i, e := range effects {
		testkit.AlmostEqual(t, "group", float64(e.Group), code[i], 0)
		for k, got := range []float64{e.Intercept, e.Slope}[:terms] {
			if w := want[i*terms+k]; !(math.Abs(got-w) <= spreadTolerance*largest[k]) {
				t.Errorf("effect %d of group %v = %v, want %v", k, code[i], got, w)
			}
		}
		testkit.AllAlmostEqual(t, "its spread", []float64{e.InterceptSD, e.SlopeSD}[:terms], sd[i*terms:(i+1)*terms], spreadTolerance)
	}
}
