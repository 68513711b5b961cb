package regress_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"
)

// tolerance is what coefficients and errors agree to; degrees of freedom,
// which the reference takes from differences of large sums, to a tenth of it.
const (
	tolerance   = 1e-9
	dfTolerance = 1e-7
)

type set struct {
	name    string
	columns int
	fit     func(regress.Data) (*regress.Model, error)
	weights bool
	offset  bool
}

func load(a *testkit.Answers, s set) (d regress.Data, cluster []int) {
	file := "models_" + s.name + ".csv"
	d.Y = a.Column(file, "y")
	for j := range s.columns {
		name := fmt.Sprintf("x%d", j+1)
		d.Names = append(d.Names, name)
		d.Columns = append(d.Columns, a.Column(file, name))
	}
	if s.weights {
		d.Weights = a.Column(file, "w")
	}
	if s.offset {
		d.Offset = a.Column(file, "o")
	}
	for _, c := range a.Column(file, "cluster") {
		cluster = append(cluster, int(c))
	}
	return d, cluster
}

func TestModelsAgreeWithReference(t *testing.T) {
	a := testkit.Reference(t, "regress/models")
	for _, s := range []set{
		{name: "orthodont", columns: 4, fit: regress.LeastSquares},
		{name: "warpbreaks", columns: 4, fit: regress.LeastSquares},
		{name: "swiss", columns: 4, fit: regress.LeastSquares, weights: true},
		{name: "chicks", columns: 3, fit: regress.LeastSquares},
		{name: "birthwt", columns: 5, fit: regress.Logistic},
		{name: "bacteria", columns: 3, fit: regress.Logistic},
		{name: "infert", columns: 4, fit: regress.Logistic, weights: true},
		{name: "epil", columns: 4, fit: regress.Poisson},
		{name: "quine", columns: 4, fit: regress.Poisson},
		{name: "insurance", columns: 4, fit: regress.Poisson, offset: true},
	} {
		t.Run(s.name, func(t *testing.T) {
			d, cluster := load(a, s)
			m, err := s.fit(d)
			if err != nil {
				t.Fatal(err)
			}
			compareModel(t, a, s.name, m, d)
			for kind := regress.HC0; kind <= regress.HC3; kind++ {
				c, err := m.Heteroscedastic(kind)
				if err != nil {
					t.Fatal(err)
				}
				compareMatrix(t, fmt.Sprintf("HC%d", kind), c.Matrix, a.Floats(fmt.Sprintf("%s.HC%d", s.name, kind)))
				if kind == regress.HC3 {
					compareStandardised(t, a, s.name+".plain", m, c, d, int(a.Float(s.name+".binary"))-1)
				}
			}
			for kind := regress.CR0; kind <= regress.CR2; kind++ {
				c, err := m.Clustered(kind, cluster)
				if err != nil {
					t.Fatal(err)
				}
				compareClustered(t, a, s.name, kind, m, c)
				if kind == regress.CR2 {
					compareStandardised(t, a, s.name+".clustered", m, c, d, int(a.Float(s.name+".binary"))-1)
				}
			}
		})
	}
}

func compareModel(t *testing.T, a *testkit.Answers, name string, m *regress.Model, d regress.Data) {
	t.Helper()
	testkit.AllAlmostEqual(t, "coefficients", m.Coef, a.Floats(name+".coef"), tolerance)
	testkit.AllAlmostEqual(t, "errors", m.SE, a.Floats(name+".se"), tolerance)
	compareMatrix(t, "covariance", m.Covariance, a.Floats(name+".vcov"))
	testkit.AlmostEqual(t, "residual", m.ResidualSD, a.Float(name+".sigma"), tolerance)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, a.Float(name+".loglik"), 1e-11)
	testkit.AlmostEqual(t, "AIC", m.AIC(), a.Float(name+".aic"), 1e-11)
	testkit.AlmostEqual(t, "rows", float64(m.N), a.Float(name+".rows"), 0)
	fitted, err := m.Predict(d.Columns, d.Offset)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "fitted", fitted, a.Floats(name+".fitted"), tolerance)
	c := m.ModelBased()
	compareMatrix(t, "model-based", c.Matrix, a.Floats(name+".vcov"))
	testkit.AllAlmostEqual(t, "model-based errors", c.SE, a.Floats(name+".se"), tolerance)
}

// compareMatrix measures each covariance against the errors of its pair:
// many of them are zero.
func compareMatrix(t *testing.T, what string, got [][]float64, want []float64) {
	t.Helper()
	p := len(got)
	if len(want) != p*p {
		t.Fatalf("%s: %d values, want %d", what, p*p, len(want))
	}
	for i := range p {
		for j := range p {
			if scale := math.Sqrt(want[i*p+i] * want[j*p+j]); !(math.Abs(got[i][j]-want[i*p+j]) <= tolerance*scale) {
				t.Errorf("%s[%d][%d] = %v, want %v", what, i, j, got[i][j], want[i*p+j])
			}
		}
	}
}

func compareClustered(t *testing.T, a *testkit.Answers, name string, kind regress.CR, m *regress.Model, c *regress.Covariance) {
	t.Helper()
	what := fmt.Sprintf("CR%d ", kind)
	at := fmt.Sprintf("%s.CR%d.", name, kind)
	compareMatrix(t, what+"covariance", c.Matrix, a.Floats(at+"vcov"))
	testkit.AllAlmostEqual(t, what+"errors", c.SE, a.Floats(at+"se"), tolerance)
	df, p := a.Floats(at+"df"), a.Floats(at+"p")
	for j := range m.Coef {
		unit := make([]float64, len(m.Coef))
		unit[j] = 1
		e, err := m.Combine(unit, c, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, what+"degrees of freedom", e.DF, df[j], dfTolerance)
		testkit.AlmostEqual(t, what+"p", e.P, p[j], 1e-6)
	}
	e, err := m.Combine(a.Floats(name+".weights"), c, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, what+"value", e.Value, a.Float(at+"value"), tolerance)
	testkit.AlmostEqual(t, what+"error", e.SE, a.Float(at+"error"), tolerance)
	testkit.AlmostEqual(t, what+"df", e.DF, a.Float(at+"dof"), dfTolerance)
	testkit.AlmostEqual(t, what+"low", e.Low, a.Float(at+"low"), dfTolerance)
	testkit.AlmostEqual(t, what+"high", e.High, a.Float(at+"high"), dfTolerance)
	var rows [][]float64
	for _, j := range a.Floats(name + ".joint") {
		unit := make([]float64, len(m.Coef))
		unit[int(j)-1] = 1
		rows = append(rows, unit)
	}
	w, err := m.Wald(rows, c)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, what+"joint test", []float64{w.Statistic, w.DF1, w.DF2, w.P}, a.Floats(at+"wald"), dfTolerance)
}

func compareStandardised(t *testing.T, a *testkit.Answers, at string, m *regress.Model, c *regress.Covariance, d regress.Data, binary int) {
	t.Helper()
	scenario := func(value float64) regress.Scenario {
		columns := slices.Clone(d.Columns)
		columns[binary] = make([]float64, len(d.Y))
		for i := range d.Y {
			columns[binary][i] = value
		}
		return regress.Scenario{Columns: columns, Offset: d.Offset}
	}
	s, err := m.Standardise(c, 0.95, scenario(1), scenario(0))
	if err != nil {
		t.Fatal(err)
	}
	pick := func(f func(stats.Estimate) float64) []float64 { return []float64{f(s.Means[0]), f(s.Means[1])} }
	testkit.AllAlmostEqual(t, at+" means", pick(func(e stats.Estimate) float64 { return e.Value }), a.Floats(at+".means"), tolerance)
	testkit.AllAlmostEqual(t, at+" errors", pick(func(e stats.Estimate) float64 { return e.SE }), a.Floats(at+".se"), tolerance)
	difference, err := s.Difference(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	ratio, err := s.Ratio(0, 1)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, at+" difference", []float64{difference.Value, difference.SE}, []float64{a.Float(at + ".difference"), a.Float(at + ".dse")}, tolerance)
	testkit.AllAlmostEqual(t, at+" ratio", []float64{ratio.Value, ratio.SE}, []float64{a.Float(at + ".ratio"), a.Float(at + ".rse")}, tolerance)
}
