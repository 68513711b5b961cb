package rates

import (
	"math"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

// Exact limits are held to 1e-9 against R, which itself keeps about 12 digits.
const exact = 1e-9

func TestCountsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "rates/counts")
	for _, set := range []string{"ships", "insurance", "epil", "quine", "aids", "sprays", "pyears"} {
		t.Run(set, func(t *testing.T) {
			file := "counts_" + set + ".csv"
			counts := counts(a.Column(file, "events"), a.Column(file, "exposure"))
			each := func(path string, rate func(int, float64, float64) (stats.Estimate, error), level float64) {
				low, high := a.Floats(set+"."+path+".low"), a.Floats(set+"."+path+".high")
				for i, c := range counts {
					e, err := rate(c.Events, c.Exposure, level)
					must(t, err)
					testkit.AlmostEqual(t, path+" low", e.Low, low[i], exact)
					testkit.AlmostEqual(t, path+" high", e.High, high[i], exact)
				}
			}
			each("garwood95", Garwood, 0.95)
			each("garwood998", Garwood, 0.998)
			each("midp", MidP, 0.95)
			ratiosAgree(t, a, set, counts)
			spreadAgrees(t, a, set, counts)
		})
	}
}

func ratiosAgree(t *testing.T, a *testkit.Answers, set string, counts []Count) {
	t.Helper()
	var value, low, high, p []float64
	for i := range counts[1:] {
		if counts[i+1].Events == 0 {
			continue
		}
		r, err := Ratio(counts[i], counts[i+1], 0.95)
		must(t, err)
		value, low, high, p = append(value, r.Value), append(low, r.Low), append(high, r.High), append(p, r.P)
	}
	testkit.AllAlmostEqual(t, "ratio", value, a.Floats(set+".ratio.value"), exact)
	testkit.AllAlmostEqual(t, "ratio low", low, a.Floats(set+".ratio.low"), exact)
	testkit.AllAlmostEqual(t, "ratio high", high, a.Floats(set+".ratio.high"), exact)
	testkit.AllAlmostEqual(t, "ratio p", p, a.Floats(set+".ratio.p"), exact)
}

func spreadAgrees(t *testing.T, a *testkit.Answers, set string, counts []Count) {
	t.Helper()
	expected := a.Floats(set + ".against.expected")
	p := a.Floats(set + ".against.p")
	low, high := a.Floats(set+".funnel.low"), a.Floats(set+".funnel.high")
	observed := make([]int, len(counts))
	for i, c := range counts {
		observed[i] = c.Events
		r, err := ObservedExpected(c.Events, expected[i], 0.95)
		must(t, err)
		testkit.AlmostEqual(t, "observed/expected p", r.P, p[i], exact)
	}
	s, err := Funnel(observed, expected, FunnelOptions{Winsor: 0.1})
	must(t, err)
	testkit.AllAlmostEqual(t, "z", s.Z, a.Floats(set+".funnel.z"), exact)
	testkit.AlmostEqual(t, "phi", s.Phi, a.Float(set+".funnel.phi"), exact)
	testkit.AlmostEqual(t, "tau", s.Tau, a.Float(set+".funnel.tau"), exact)
	for i, e := range expected {
		l, err := s.Limits(e, 0.998)
		must(t, err)
		testkit.AlmostEqual(t, "funnel low", float64(l.Low), low[i], 0)
		testkit.AlmostEqual(t, "funnel high", float64(l.High), high[i], 0)
	}
	checkLimitsAndNone(t, a)
}

func checkLimitsAndNone(t *testing.T, a *testkit.Answers) {
	t.Helper()
	for i, e := range a.Floats("limits.expected") {
		for _, c := range []struct {
			path          string
			level, spread float64
		}{{"95", 0.95, 0}, {"998", 0.998, 0}, {"", 0.95, 0.2}} {
			name := "limits.low" + c.path
			l, err := PoissonLimits(e, c.level)
			high := "limits.high" + c.path
			if c.spread > 0 {
				l, err = GammaPoissonLimits(e, c.spread, c.level)
				name, high = "limits.spread_low", "limits.spread_high"
			}
			must(t, err)
			testkit.AlmostEqual(t, name, float64(l.Low), a.Floats(name)[i], 0)
			testkit.AlmostEqual(t, high, float64(l.High), a.Floats(high)[i], 0)
		}
	}
	for i, level := range a.Floats("none.level") {
		u, err := UpperWhenNone(level)
		must(t, err)
		testkit.AlmostEqual(t, "upper when none", u, a.Floats("none.upper")[i], exact)
	}
}

func TestSharesAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "rates/shares")
	for _, set := range []string{"esoph", "admissions", "bacteria", "lung", "titanic", "nodal", "menarche", "large"} {
		file := "shares_" + set + ".csv"
		with, n := a.Column(file, "with"), a.Column(file, "n")
		for _, c := range []struct {
			path  string
			share func(int, int, float64) (stats.Estimate, error)
			level float64
		}{{"wilson", Wilson, 0.95}, {"exact95", ClopperPearson, 0.95}, {"exact99", ClopperPearson, 0.99}} {
			low, high := a.Floats(set+"."+c.path+".low"), a.Floats(set+"."+c.path+".high")
			for i := range with {
				e, err := c.share(int(with[i]), int(n[i]), c.level)
				must(t, err)
				testkit.AlmostEqual(t, set+" "+c.path+" low", e.Low, low[i], exact)
				testkit.AlmostEqual(t, set+" "+c.path+" high", e.High, high[i], exact)
			}
		}
	}
}

func TestClusteredAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "rates/clustered")
	for _, set := range []string{"epil", "cgd", "bladder", "insurance", "ships", "sprays", "alone"} {
		file := "clustered_" + set + ".csv"
		events := whole(a.Column(file, "events"))
		r, err := Clustered(events, a.Column(file, "exposure"), ClusterOptions{Level: 0.95, WidenAbove: 1.2})
		must(t, err)
		testkit.AlmostEqual(t, set+" ratio", r.VarianceRatio, a.Float(set+".ratio"), exact)
		testkit.AlmostEqual(t, set+" low", r.Low, a.Float(set+".low"), exact)
		testkit.AlmostEqual(t, set+" high", r.High, a.Float(set+".high"), exact)
		testkit.AlmostEqual(t, set+" se", r.SE, a.Float(set+".se"), exact)
		if r.Widened != (r.VarianceRatio > 1.2) {
			t.Errorf("%s: ratio %v, widened %v", set, r.VarianceRatio, r.Widened)
		}
	}
}

func counts(events, exposure []float64) []Count {
	out := make([]Count, len(events))
	for i, k := range whole(events) {
		out[i] = Count{Events: k, Exposure: exposure[i]}
	}
	return out
}

func whole(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(math.Round(x))
	}
	return out
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
