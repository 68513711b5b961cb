package interval

import (
	"math"
	"testing"

	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/mat"
)

const tolerance = 1e-6 // of coefficients, errors and what rests on them

func ints(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(x)
	}
	return out
}

// read takes an empty upper end as not seen.
func read(a *testkit.Answers, file string) Data {
	in := Data{Lower: a.Column(file, "low"), Upper: a.Column(file, "high")}
	for i, high := range in.Upper {
		if math.IsNaN(high) {
			in.Upper[i] = math.Inf(1)
		}
	}
	return in
}

func flat(m *mat.SymDense) []float64 {
	var out []float64
	for a := range m.SymmetricDim() {
		for b := range m.SymmetricDim() {
			out = append(out, m.At(a, b))
		}
	}
	return out
}

func TestIntervalAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "survival/interval")
	for _, c := range []struct {
		name            string
		columns         []string
		person, weights string
	}{
		{"lung", []string{"age", "sex"}, "", ""},
		{"veteran", []string{"karno", "trt"}, "", ""},
		{"ovarian", []string{"age", "rx"}, "", ""},
		{"bladder", []string{"rx", "number"}, "id", ""},
		{"kidney", []string{"age", "sex"}, "id", ""},
		{"turbine", nil, "", ""},
		{"pbc", []string{"age", "edema"}, "", "w"},
	} {
		file := "interval_" + c.name + ".csv"
		in := read(a, file)
		compareTurnbull(t, a, c.name, in)
		if c.person != "" {
			in.Person = ints(a.Column(file, c.person))
		}
		if c.weights != "" {
			in.Weight = a.Column(file, c.weights)
		}
		var x [][]float64
		for _, column := range c.columns {
			x = append(x, a.Column(file, column))
		}
		r, err := Weibull(in, x, Options{})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		compareWeibull(t, a, c.name, r, c.person != "" || c.weights != "")
	}
}

func compareWeibull(t *testing.T, a *testkit.Answers, name string, r *Regression, robust bool) {
	t.Helper()
	get := func(field string) []float64 { return a.Floats(name + "." + field) }
	testkit.AllAlmostEqual(t, name+" coefficients", r.Coef, get("coef"), tolerance)
	testkit.AlmostEqual(t, name+" log scale", r.LogScale, a.Float(name+".log_scale"), tolerance)
	testkit.AllAlmostEqual(t, name+" covariance", flat(r.Cov), get("var"), tolerance)
	testkit.AlmostEqual(t, name+" likelihood", r.LogLik, a.Float(name+".loglik"), 1e-9)
	if robust {
		testkit.AllAlmostEqual(t, name+" model covariance", flat(r.ModelCov), get("naive"), tolerance)
	}
	x := get("x")
	for i, p := range []float64{0.25, 0.5, 0.75} {
		q, err := r.Quantile(x, p)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, name+" quantile", q.Value, get("quantile")[i], tolerance)
		testkit.AlmostEqual(t, name+" its error", q.SE, get("quantile_se")[i], tolerance)
		if !(q.Low < q.Value && q.Value < q.High) {
			t.Errorf("%s: quantile %v outside %v to %v", name, q.Value, q.Low, q.High)
		}
	}
	for i, day := range get("times") {
		e, err := r.Share(x, day)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, name+" share", e.Value, get("share")[i], tolerance)
		testkit.AlmostEqual(t, name+" its error", e.SE, get("share_se")[i], tolerance)
		if !(e.Low < e.Value && e.Value < e.High) {
			t.Errorf("%s: share %v outside %v to %v", name, e.Value, e.Low, e.High)
		}
	}
}

// compareTurnbull judges the curve by its optimality conditions, recomputed
// here from the curve alone, and asks for a likelihood at least the reference's.
func compareTurnbull(t *testing.T, a *testkit.Answers, name string, in Data) {
	t.Helper()
	c, err := Turnbull(in)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if want := a.Float("turnbull." + name + ".loglik"); c.LogLik < want-1e-9*math.Abs(want) {
		t.Errorf("%s: log-likelihood %.12g, the reference reaches %.12g", name, c.LogLik, want)
	}
	testkit.AlmostEqual(t, name+" rows", float64(c.N), a.Float("turnbull."+name+".n"), 0)
	checkOptimal(t, name, in, c)
}

// checkOptimal works the conditions out in the plain way: for each mass and
// row, is the mass inside the row's interval?
func checkOptimal(t *testing.T, name string, in Data, c *Curve) {
	t.Helper()
	inside := func(i int, from, to float64) bool {
		if in.Lower[i] == in.Upper[i] {
			return from == to && to == in.Lower[i]
		}
		if from == to {
			return in.Lower[i] < from && to <= in.Upper[i]
		}
		return in.Lower[i] <= from && to <= in.Upper[i]
	}
	total, loglik := 0.0, 0.0
	cover := make([]float64, len(in.Lower))
	for i := range cover {
		total += in.weight(i)
		for j, p := range c.Mass {
			if inside(i, c.From[j], c.To[j]) {
				cover[i] += p
			}
		}
		loglik += in.weight(i) * math.Log(cover[i])
	}
	testkit.AlmostEqual(t, name+" likelihood of the masses", c.LogLik, loglik, 1e-9)
	slope := func(from, to float64) float64 {
		g := 0.0
		for i := range cover {
			if inside(i, from, to) {
				g += in.weight(i) / cover[i] / total
			}
		}
		return g
	}
	sum := 0.0
	for j, p := range c.Mass {
		sum += p
		if g := slope(c.From[j], c.To[j]); math.Abs(g-1) > 1e-6 && p > 1e-6 {
			t.Errorf("%s: gradient %.12g at a mass of %g, 1 expected", name, g, p)
		}
	}
	testkit.AlmostEqual(t, name+" sum of masses", sum, 1, 1e-9)
	// Between any two ends of intervals no place is better than the masses.
	for _, from := range in.Lower {
		for _, to := range in.Upper {
			if to < from {
				continue
			}
			if g := slope(from, to); g > 1+1e-8 {
				t.Fatalf("%s: gradient %.12g between %v and %v", name, g, from, to)
			}
		}
	}
}
