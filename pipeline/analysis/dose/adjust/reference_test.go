package adjust

import (
	"testing"

	"evenlimb/pipeline/stats/propensity"
	"evenlimb/pipeline/testkit"
)

// sampleOf reads one of the data sets of the reference: severity as in the
// analysis, from 1 to 3, two covariates beside it.
func sampleOf(a *testkit.Answers, set string) Sample {
	file := "compare_" + set + ".csv"
	s := Sample{Dose: a.Column(file, "dose"), Horizon: int(a.Float(set + ".by"))}
	mild, severe := make([]float64, len(s.Dose)), make([]float64, len(s.Dose))
	for i, level := range a.Column(file, "severity") {
		s.Person = append(s.Person, i)
		s.Clinician = append(s.Clinician, -1)
		switch level {
		case 1:
			mild[i] = 1
		case 3:
			severe[i] = 1
		}
	}
	for i, day := range a.Column(file, "day") {
		s.Day, s.Event = append(s.Day, int(day)), append(s.Event, int(a.Column(file, "event")[i]))
	}
	s.Severity = [][]float64{mild, severe}
	s.Covariates = []Covariate{{"mild", mild}, {"severe", severe}, {"x1", a.Column(file, "x1")}, {"x2", a.Column(file, "x2")}}
	return s
}

// Everybody as they are, and a draw in which persons repeat, agree with R step
// by step: pseudo-values, quartiles, curve, and contrasts raw, standardised and
// weighted; and so does some dose less none.
func TestContrastsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "adjust/compare")
	for _, set := range []string{"pbc", "mgus"} {
		s := sampleOf(a, set)
		d, err := newAmounts(s, Options{Level: 0.95, Reference: a.Float(set + ".reference"), Grid: a.Floats(set + ".grid"), Limits: propensity.Limits{MaxImbalance: 1}})
		if err != nil {
			t.Fatal(err)
		}
		if cube := d.scale != "log dose"; cube != (a.Float(set+".cuberoot") == 1) {
			t.Errorf("%s: the weights take the %s", set, d.scale)
		}
		for _, draw := range []struct {
			name   string
			weight []float64
		}{{"amounts", ones(len(s.Dose))}, {"drawn", a.Floats(set + ".times")}} {
			name := set + "." + draw.name
			r := newRoom(d.least, d.back)
			got, err := d.statistic(draw.weight, r)
			if err != nil {
				t.Fatal(err)
			}
			var y []float64 // in the order of R's rows, in which those drawn twice stand twice
			for i, w := range draw.weight {
				for range int(w) {
					y = append(y, r.y[i])
				}
			}
			testkit.AllAlmostEqual(t, name+" pseudo-values", y, a.Floats(name+".pseudo"), 1e-8)
			from, to := d.quartiles(draw.weight)
			testkit.AllAlmostEqual(t, name+" quartiles", []float64{from, to}, []float64{a.Float(name + ".from"), a.Float(name + ".to")}, 0)
			for k, answer := range map[int]string{rawAt: "raw", standardisedAt: "standardised", lowAt: "low", weightedAt: "weighted"} {
				testkit.AlmostEqual(t, name+" "+answer, got[k], a.Float(name+"."+answer), 1e-8)
			}
			testkit.AllAlmostEqual(t, name+" curve", got[curveFrom:], a.Floats(name+".curve"), 1e-8)
			testkit.AlmostEqual(t, name+" share", r.share, a.Float(name+".share"), 1e-8)
		}
		out := Amount{}
		if err := d.asTheyAre(&out, ones(len(s.Dose))); err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, set+" raw curve", out.RawCurve, a.Floats(set+".amounts.rawcurve"), 1e-8)

		cut := a.Float(set + ".cut")
		for i, dose := range s.Dose {
			if dose <= cut {
				s.Dose[i] = 0
			}
		}
		one, err := CompareAny(t.Context(), s, Options{Replicates: 2, Seed: 1, Level: 0.95})
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, set, one.Standardised.Value, a.Float(set+".any.standardised"), 1e-8)
	}
}
