package cox

import (
	"testing"

	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/mat"
)

const (
	fitTolerance   = 1e-6 // coefficients, errors and tests
	curveTolerance = 1e-8
)

// columns reads columns of a data file.
func columns(a *testkit.Answers, file string, names ...string) [][]float64 {
	out := make([][]float64, len(names))
	for j, name := range names {
		out[j] = a.Column(file, name)
	}
	return out
}

func ints(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(x)
	}
	return out
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

func mustFit(t *testing.T, in Data, opt Options) *Model {
	t.Helper()
	m, err := Fit(in, opt)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// asked says what beyond coefficients and tests an answer holds.
type asked struct{ zph, curve, robust bool }

func compare(t *testing.T, a *testkit.Answers, name string, m *Model, q asked) {
	t.Helper()
	get := func(field string) []float64 { return a.Floats(name + "." + field) }
	one := func(field string, got, tolerance float64) {
		t.Helper()
		testkit.AlmostEqual(t, name+" "+field, got, a.Float(name+"."+field), tolerance)
	}
	testkit.AllAlmostEqual(t, name+" coefficients", m.Coef, get("coef"), fitTolerance)
	testkit.AllAlmostEqual(t, name+" covariance", flat(m.Cov), get("var"), fitTolerance)
	testkit.AllAlmostEqual(t, name+" likelihood", []float64{m.LogLik0, m.LogLik}, get("loglik"), 1e-9)
	one("n", float64(m.Rows), 0)
	one("nevent", float64(m.Events), 0)
	wald, err := m.Wald()
	if err != nil {
		t.Fatal(err)
	}
	one("wald", wald.Statistic, fitTolerance)
	score, err := m.Score()
	if err != nil {
		t.Fatal(err)
	}
	if q.robust {
		testkit.AllAlmostEqual(t, name+" model covariance", flat(m.ModelCov), get("naive"), fitTolerance)
		one("rscore", score.Statistic, fitTolerance)
		x, err := quadratic(m.start.score, symmetric(m.start.info, m.layout.p))
		if err != nil {
			t.Fatal(err)
		}
		one("score", x, fitTolerance)
	} else {
		one("score", score.Statistic, fitTolerance)
	}
	c, err := m.Concordance()
	if err != nil {
		t.Fatal(err)
	}
	one("concordance", c.Value, curveTolerance)
	one("concordance_se", c.SE, fitTolerance)
	if q.zph {
		compareClock(t, a, name+".zph_km", m, EventShare)
		compareClock(t, a, name+".zph_identity", m, Identity)
	}
	if q.curve {
		curve, err := m.Survival(get("x"), 0, get("at"))
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range curve {
			// A fit agrees to 1e-6, and so can a curve that rests on it.
			testkit.AlmostEqual(t, name+" survival", e.Value, get("surv")[i], fitTolerance)
			testkit.AlmostEqual(t, name+" its error", e.SE, get("se")[i], fitTolerance)
			testkit.AlmostEqual(t, name+" low", e.Low, get("lower")[i], fitTolerance)
			testkit.AlmostEqual(t, name+" high", e.High, get("upper")[i], fitTolerance)
		}
	}
}

func compareClock(t *testing.T, a *testkit.Answers, path string, m *Model, clock Clock) {
	t.Helper()
	each, joint, err := m.Proportionality(clock)
	if err != nil {
		t.Fatal(err)
	}
	each = append(each, joint)
	for i, test := range each {
		testkit.AlmostEqual(t, path, test.Statistic, a.Floats(path)[i], fitTolerance)
		testkit.AlmostEqual(t, path+" p", test.P, a.Floats(path + "_p")[i], fitTolerance)
	}
}

func TestCoxAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "survival/cox")

	const lungFile = "cox_lung.csv"
	lung := Data{
		Data: survival.Data{Time: a.Column(lungFile, "time"), Event: ints(a.Column(lungFile, "status"))},
		X:    columns(a, lungFile, "age", "sex", "ph.ecog"),
	}
	m := mustFit(t, lung, Options{})
	compare(t, a, "lung_efron", m, asked{zph: true, curve: true})
	compareBaseline(t, a, m)
	m = mustFit(t, lung, Options{Ties: Breslow})
	compare(t, a, "lung_breslow", m, asked{zph: true, curve: true})
	testkit.AllAlmostEqual(t, "Breslow baseline", cumulativeAt(t, m, a.Floats("lung_efron.base_time")),
		a.Floats("lung_breslow.base"), fitTolerance)

	const veteranFile = "cox_veteran.csv"
	compare(t, a, "veteran", mustFit(t, Data{
		Data:   survival.Data{Time: a.Column(veteranFile, "time"), Event: ints(a.Column(veteranFile, "status"))},
		X:      columns(a, veteranFile, "trt", "karno", "age", "prior"),
		Strata: ints(a.Column(veteranFile, "cell")),
	}, Options{}), asked{zph: true})

	const ovarianFile = "cox_ovarian.csv"
	compare(t, a, "ovarian", mustFit(t, Data{
		Data: survival.Data{Time: a.Column(ovarianFile, "futime"), Event: ints(a.Column(ovarianFile, "fustat"))},
		X:    columns(a, ovarianFile, "age", "rx"),
	}, Options{}), asked{zph: true, curve: true})

	const heartFile = "cox_heart.csv"
	heart := Data{
		Data: survival.Data{
			Time: a.Column(heartFile, "stop"), Entry: a.Column(heartFile, "start"),
			Event: ints(a.Column(heartFile, "event")),
		},
		X: columns(a, heartFile, "age", "year", "surgery", "transplant"),
	}
	compare(t, a, "heart", mustFit(t, heart, Options{}), asked{zph: true, curve: true})
	heart.Person = ints(a.Column(heartFile, "id"))
	compare(t, a, "heart_cluster", mustFit(t, heart, Options{}), asked{curve: true, robust: true})

	const bladderFile = "cox_bladder2.csv"
	bladder := Data{
		Data: survival.Data{
			Time: a.Column(bladderFile, "stop"), Entry: a.Column(bladderFile, "start"),
			Event: ints(a.Column(bladderFile, "event")), Person: ints(a.Column(bladderFile, "id")),
		},
		X:      columns(a, bladderFile, "rx", "number", "size"),
		Strata: ints(a.Column(bladderFile, "enum")),
	}
	compare(t, a, "bladder_efron", mustFit(t, bladder, Options{}), asked{robust: true})
	compare(t, a, "bladder_breslow", mustFit(t, bladder, Options{Ties: Breslow}), asked{robust: true})

	const pbcFile = "cox_pbc.csv"
	pbc := Data{
		Data: survival.Data{
			Time: a.Column(pbcFile, "time"), Event: ints(a.Column(pbcFile, "dead")),
			Weight: a.Column(pbcFile, "w"),
		},
		X:      columns(a, pbcFile, "age", "logbili", "edema"),
		Offset: a.Column(pbcFile, "off"),
	}
	compare(t, a, "pbc", mustFit(t, pbc, Options{}), asked{robust: true})
	compare(t, a, "pbc_breslow", mustFit(t, pbc, Options{Ties: Breslow}), asked{robust: true})

	const colonFile = "cox_colon.csv"
	compare(t, a, "colon", mustFit(t, Data{
		Data: survival.Data{
			Time: a.Column(colonFile, "time"), Event: ints(a.Column(colonFile, "status")),
			Person: ints(a.Column(colonFile, "id")),
		},
		X:      columns(a, colonFile, "lev", "lev5fu", "age"),
		Strata: ints(a.Column(colonFile, "etype")),
	}, Options{}), asked{robust: true})

	compareFewClusters(t, a)
}

// cumulativeAt reads the baseline at all columns 0.
func cumulativeAt(t *testing.T, m *Model, times []float64) []float64 {
	t.Helper()
	zero := Data{Data: survival.Data{Time: times, Event: make([]int, len(times))}}
	for range m.Coef {
		zero.X = append(zero.X, make([]float64, len(times)))
	}
	out, err := m.Expected(zero)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func compareBaseline(t *testing.T, a *testkit.Answers, m *Model) {
	t.Helper()
	testkit.AllAlmostEqual(t, "baseline", cumulativeAt(t, m, a.Floats("lung_efron.base_time")), a.Floats("lung_efron.base"), fitTolerance)
	expected, err := m.Expected(m.in)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "expected events", expected, a.Floats("lung_efron.expected"), fitTolerance)
	shares, err := Standardise([]*Model{m}, m.in.X, nil, nil, []float64{100, 365, 700})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "standardised", shares[0], a.Floats("lung_efron.standard"), fitTolerance)
	for i := range shares[0] {
		testkit.AlmostEqual(t, "shares sum", shares[0][i]+shares[1][i], 1, 1e-12)
	}
}

func compareFewClusters(t *testing.T, a *testkit.Answers) {
	t.Helper()
	const file = "cox_lung_sites.csv"
	in := Data{
		Data: survival.Data{
			Time: a.Column(file, "time"), Event: ints(a.Column(file, "status")), Person: ints(a.Column(file, "inst")),
		},
		X: columns(a, file, "age", "sex", "ph.ecog"),
	}
	for name, ties := range map[string]Ties{"few_lung": Efron, "few_lung_breslow": Breslow} {
		m := mustFit(t, in, Options{Variance: CR2, Ties: ties})
		testkit.AllAlmostEqual(t, name+" covariance", flat(m.Cov), a.Floats(name+".var"), fitTolerance)
		testkit.AllAlmostEqual(t, name+" degrees of freedom", m.DF, a.Floats(name+".df"), fitTolerance)
	}
}
