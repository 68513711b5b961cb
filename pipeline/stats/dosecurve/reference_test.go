package dosecurve_test

import (
	"fmt"
	"slices"
	"testing"

	"evenlimb/pipeline/stats/dosecurve"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"
)

const (
	tolerance = 1e-9
	// nls stops within 1e-8 of its convergence criterion.
	emaxTolerance = 1e-7
)

type set struct {
	dose, response []float64
	names          []string
	columns        [][]float64
}

func load(a *testkit.Answers, name string, columns int) set {
	file := "curves_" + name + ".csv"
	s := set{dose: a.Column(file, "dose"), response: a.Column(file, "y")}
	for j := range columns {
		column := fmt.Sprintf("x%d", j+1)
		s.names, s.columns = append(s.names, column), append(s.columns, a.Column(file, column))
	}
	return s
}

func TestCurvesAgreeWithReference(t *testing.T) {
	a := testkit.Reference(t, "dosecurve/curves")
	for _, c := range []struct {
		name         string
		columns      int
		smooth, emax bool
		beyond       bool
	}{
		{name: "puromycin", columns: 2, emax: true},
		{name: "dnase", columns: 1, emax: true},
		{name: "loblolly", columns: 1, emax: true, beyond: true},
		{name: "bod", columns: 1, emax: true},
		{name: "airquality", columns: 2, smooth: true, emax: true},
		{name: "iris", columns: 2, smooth: true, emax: true, beyond: true},
		{name: "mtcars", columns: 1, smooth: true, emax: true},
		{name: "wtloss", columns: 1, smooth: true, emax: true, beyond: true},
		{name: "faithful", columns: 1, smooth: true},
		{name: "trees", columns: 2, smooth: true},
		{name: "cars", columns: 1, smooth: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := load(a, c.name, c.columns)
			compareBands(t, a, c.name, s)
			if c.smooth {
				compareSmooth(t, a, c.name, s)
			}
			if c.emax {
				e := compareEmax(t, a, c.name+".emax", s)
				if got := len(e.Warnings) > 0; got != c.beyond {
					t.Errorf("warnings %v, want one: %v", e.Warnings, c.beyond)
				}
			}
		})
	}
}

func compareBands(t *testing.T, a *testkit.Answers, name string, s set) {
	t.Helper()
	var quantiles []float64
	for _, share := range []float64{0, 0.1, 0.25, 1.0 / 3, 0.5, 2.0 / 3, 0.75, 0.9, 1} {
		q, err := dosecurve.Quantile(s.dose, share)
		if err != nil {
			t.Fatal(err)
		}
		quantiles = append(quantiles, q)
	}
	testkit.AllAlmostEqual(t, "quantiles", quantiles, a.Floats(name+".quantile"), 1e-14)

	edges := a.Floats(name + ".edges")
	bands, err := dosecurve.Bands(s.dose, s.response, edges, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	fields := map[string][]float64{}
	for k, b := range bands {
		testkit.AllAlmostEqual(t, "edges", []float64{b.From, b.To}, edges[k:k+2], 0)
		for field, v := range map[string]float64{
			"n": float64(b.Mean.N), "mean": b.Mean.Value, "se": b.Mean.SE, "low": b.Mean.Low, "high": b.Mean.High, "median": b.MedianDose,
		} {
			fields[field] = append(fields[field], v)
		}
	}
	for field, got := range fields {
		testkit.AllAlmostEqual(t, "bands "+field, got, a.Floats(name+".bands."+field), tolerance)
	}

	e, err := dosecurve.Thirds(s.dose, s.response, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "thirds", []float64{e.Value, e.SE, e.Low, e.High, float64(e.N)}, a.Floats(name+".thirds"), tolerance)
}

func compareSmooth(t *testing.T, a *testkit.Answers, name string, s set) {
	t.Helper()
	curve, err := dosecurve.NewSmooth(s.dose)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "knots", curve.Knots, a.Floats(name+".smooth.knots"), 1e-14)
	testkit.AllAlmostEqual(t, "boundary", []float64{curve.Low, curve.High}, a.Floats(name+".smooth.boundary"), 0)
	columns, err := curve.Columns(s.dose)
	if err != nil {
		t.Fatal(err)
	}
	m, err := regress.LeastSquares(regress.Data{
		Y: s.response, Columns: append(slices.Clone(s.columns), columns...), Names: append(slices.Clone(s.names), "d1", "d2", "d3", "d4"),
	})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "AIC", m.AIC(), a.Float(name+".smooth.aic"), tolerance)
	pad := func(weights []float64) []float64 { return append(make([]float64, len(s.columns)), weights...) }
	weights, err := curve.Contrast(curve.ThirdQ, curve.FirstQ)
	if err != nil {
		t.Fatal(err)
	}
	c, err := m.Combine(pad(weights), m.ModelBased(), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "quartile contrast", []float64{c.Value, c.SE}, []float64{a.Float(name + ".smooth.quartiles"), a.Float(name + ".smooth.error")}, tolerance)
	for field, rows := range map[string][][]float64{"relation": curve.Relation(), "curvature": curve.Curvature()} {
		for k := range rows {
			rows[k] = pad(rows[k])
		}
		w, err := m.Wald(rows, m.ModelBased())
		if err != nil {
			t.Fatal(err)
		}
		// A tiny p-value is compared on the scale of p-values.
		testkit.AllAlmostEqual(t, field, []float64{w.Statistic, w.DF1, w.DF2, w.P}, a.Floats(name+".smooth."+field), 1e-7)
	}
}

func compareEmax(t *testing.T, a *testkit.Answers, name string, s set) *dosecurve.Emax {
	t.Helper()
	e, err := dosecurve.FitEmax(dosecurve.EmaxData{Response: s.response, Dose: s.dose, Columns: s.columns, Names: s.names})
	if err != nil {
		t.Fatal(err)
	}
	want, p := a.Floats(name+".coef"), len(s.columns)
	testkit.AllAlmostEqual(t, "coefficients", e.Model.Coef, want, emaxTolerance)
	testkit.AllAlmostEqual(t, "Emax and ED50", []float64{e.Emax, e.ED50}, want[p:], emaxTolerance)
	testkit.AllAlmostEqual(t, "errors", e.Model.SE, a.Floats(name+".se"), emaxTolerance)
	for j, se := range e.Model.SE {
		testkit.AlmostEqual(t, "variance", e.Model.Covariance[j][j], se*se, 1e-12)
	}
	testkit.AlmostEqual(t, "residual", e.Model.ResidualSD, a.Float(name+".sigma"), tolerance)
	testkit.AlmostEqual(t, "AIC", e.AIC, a.Float(name+".aic"), tolerance)
	testkit.AlmostEqual(t, "log-likelihood", e.Model.LogLik, a.Float(name+".loglik"), tolerance)
	robust, err := e.Model.Heteroscedastic(regress.HC3)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "robust errors", robust.SE, a.Floats(name+".hc3"), emaxTolerance)
	d, err := e.Difference(a.Float(name+".d1"), a.Float(name+".d2"), e.Model.ModelBased(), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "difference", []float64{d.Value, d.SE, d.Low, d.High},
		[]float64{a.Float(name + ".value"), a.Float(name + ".error"), a.Float(name + ".low"), a.Float(name + ".high")}, emaxTolerance)
	return e
}
