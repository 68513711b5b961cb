package control

import (
	"math"
	"testing"

	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/testkit"
)

func TestChartsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "control/charts")
	for _, set := range []string{"discoveries", "aids", "coal", "vans", "sprays", "epil"} {
		file := "charts_u_" + set + ".csv"
		events, exposure := whole(a.Column(file, "events")), a.Column(file, "exposure")
		var baseline rates.Count
		for i := range len(events) / 2 {
			baseline.Events += events[i]
			baseline.Exposure += exposure[i]
		}
		points, err := U(events, exposure, baseline, 0.99)
		must(t, err)
		agree(t, a, "u."+set, points)
	}
	for _, set := range []string{"esoph", "menarche", "bacteria", "admissions", "lung", "budworm"} {
		file := "charts_p_" + set + ".csv"
		with, n := whole(a.Column(file, "with")), whole(a.Column(file, "n"))
		var k, size int
		for i := range len(n) / 2 {
			k += with[i]
			size += n[i]
		}
		points, err := P(with, n, float64(k)/float64(size), 0.99)
		must(t, err)
		agree(t, a, "p."+set, points)
	}
	for _, set := range []string{"coal", "aircondit", "aircondit7", "rivers", "precip", "remission"} {
		gaps := whole(a.Column("charts_g_"+set+".csv", "gap"))
		baseline := rates.Count{Events: int(a.Float("g." + set + ".events")), Exposure: a.Float("g." + set + ".sessions")}
		points, err := G(gaps, baseline, 0.95)
		must(t, err)
		agree(t, a, "g."+set, points[:1])
	}
}

func agree(t *testing.T, a *testkit.Answers, path string, points []Point) {
	t.Helper()
	low, high, centre := a.Floats(path+".low"), a.Floats(path+".high"), a.Float(path+".centre")
	for i, p := range points {
		testkit.AlmostEqual(t, path+" low", p.Low, low[i], 1e-12)
		testkit.AlmostEqual(t, path+" high", p.High, high[i], 1e-12)
		testkit.AlmostEqual(t, path+" centre", p.Centre, centre, 1e-12)
	}
}

func TestRunLengthAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "control/runlength")
	for _, name := range []string{"known", "changed", "uneven", "fewer", "learnt", "learnt_fewer"} {
		c := CUSUM{Ratio: a.Float(name + ".ratio"), Threshold: a.Float(name + ".threshold")}
		w := Watch{
			Expected:       a.Floats(name + ".expected"),
			BaselineEvents: int(a.Float(name + ".events")),
			TrueRatio:      a.Float(name + ".true"),
		}
		by := a.Floats(name + ".by")
		r, err := c.RunLength(w, len(by))
		must(t, err)
		testkit.AllAlmostEqual(t, name+" by", r.By, by, 1e-8)
		testkit.AlmostEqual(t, name+" alarms", r.AlarmsPerCycle, a.Float(name+".alarms"), 1e-7)
		testkit.AlmostEqual(t, name+" mean", r.Mean, a.Float(name+".mean"), 1e-7)
	}
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
