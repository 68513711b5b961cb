package impute

import (
	"testing"

	"evenlimb/pipeline/testkit"
)

func TestPoolAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "impute/rubin")
	for _, set := range []string{"airquality", "lung", "pima", "pbc", "survey", "cars", "large"} {
		p, err := Pool(a.Floats(set+".values"), a.Floats(set+".variances"), a.Float(set+".complete"), 0.95)
		must(t, err)
		testkit.AlmostEqual(t, set+" mean", p.Value, a.Float(set+".mean"), 1e-12)
		testkit.AlmostEqual(t, set+" se", p.SE, a.Float(set+".se"), 1e-12)
		testkit.AlmostEqual(t, set+" df", p.DegreesOfFreedom, a.Float(set+".df"), 1e-9)
		testkit.AlmostEqual(t, set+" low", p.Low, a.Float(set+".low"), 1e-8)
		testkit.AlmostEqual(t, set+" high", p.High, a.Float(set+".high"), 1e-8)
		testkit.AlmostEqual(t, set+" lost", p.Lost, a.Float(set+".lost"), 1e-9)
	}
	for i, df := range a.Floats("t.df") {
		testkit.AlmostEqual(t, "t quantile", tQuantile(0.975, df), a.Floats("t.quantile")[i], 1e-9)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
