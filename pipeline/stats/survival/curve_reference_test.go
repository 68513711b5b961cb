package survival

import (
	"math"
	"testing"

	"evenlimb/pipeline/testkit"
)

// curveTolerance is the agreement that curves owe the reference package.
const curveTolerance = 1e-8

func ints(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(x)
	}
	return out
}

// compareCurve holds a Kaplan-Meier curve against all that the reference says.
// Where the reference has no limit ours is the value.
func compareCurve(t *testing.T, a *testkit.Answers, name string, c *Curve) {
	t.Helper()
	get := func(field string) []float64 { return a.Floats(name + "." + field) }
	testkit.AllAlmostEqual(t, name+" time", c.Time, get("time"), 0)
	testkit.AllAlmostEqual(t, name+" risk", c.Risk, get("risk"), curveTolerance)
	testkit.AllAlmostEqual(t, name+" event", c.Event, get("event"), curveTolerance)
	testkit.AllAlmostEqual(t, name+" censored", c.Censored, get("censor"), curveTolerance)
	testkit.AllAlmostEqual(t, name+" survival", c.Value, get("surv"), curveTolerance)
	compareBand(t, name, c, get("se"), get("lower"), get("upper"))
	for i, p := range []float64{0.25, 0.5, 0.75} {
		q, err := c.Quantile(p)
		if err != nil {
			t.Fatal(err)
		}
		compareTime(t, name+" quantile", q.Value, q.Reached, get("quantile")[i])
		compareTime(t, name+" quantile low", q.Low, q.LowReached, get("qlower")[i])
		compareTime(t, name+" quantile high", q.High, q.HighReached, get("qupper")[i])
	}
	e, err := c.MeanWithout(a.Float(name + ".tau"))
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, name+" restricted mean", e.Value, a.Float(name+".rmean"), curveTolerance)
	testkit.AlmostEqual(t, name+" its error", e.SE, a.Float(name+".rse"), curveTolerance)
}

// compareBand takes null from the reference as: no interval exists there.
func compareBand(t *testing.T, name string, c *Curve, se, low, high []float64) {
	t.Helper()
	fill := func(xs []float64, with []float64) []float64 {
		out := append([]float64(nil), xs...)
		for i, x := range out {
			if math.IsNaN(x) {
				out[i] = with[i]
			}
		}
		return out
	}
	testkit.AllAlmostEqual(t, name+" error", c.SE, fill(se, make([]float64, len(se))), curveTolerance)
	testkit.AllAlmostEqual(t, name+" low", c.Low, fill(low, c.Value), curveTolerance)
	testkit.AllAlmostEqual(t, name+" high", c.High, fill(high, c.Value), curveTolerance)
}

func compareTime(t *testing.T, what string, got float64, reached bool, want float64) {
	t.Helper()
	if reached == math.IsNaN(want) {
		t.Errorf("%s: reached %v at %v, reference %v", what, reached, got, want)
	}
	if reached {
		testkit.AlmostEqual(t, what, got, want, curveTolerance)
	}
}

func TestKaplanMeierAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "survival/curves")
	read := func(file, time, event string) Data {
		return Data{Time: a.Column(file, time), Event: ints(a.Column(file, event))}
	}
	lung := read("lung.csv", "time", "status")
	for i := range lung.Event {
		lung.Event[i]-- // 1 censored, 2 dead
	}
	heart := read("heart.csv", "stop", "event")
	heart.Entry = a.Column("heart.csv", "start")
	heart.Person = ints(a.Column("heart.csv", "id"))

	var bladder, weighted Data
	start, stop := a.Column("bladder2.csv", "start"), a.Column("bladder2.csv", "stop")
	event, id := ints(a.Column("bladder2.csv", "event")), ints(a.Column("bladder2.csv", "id"))
	for i := range start {
		if stop[i] > start[i] {
			bladder.Time = append(bladder.Time, stop[i]-start[i])
			bladder.Event = append(bladder.Event, event[i])
			bladder.Person = append(bladder.Person, id[i])
			weighted.Weight = append(weighted.Weight, 1+float64(id[i]%3)/2)
		}
	}
	weighted.Time, weighted.Event, weighted.Person = bladder.Time, bladder.Event, bladder.Person

	for _, c := range []struct {
		name string
		in   Data
		opt  Options
	}{
		{"lung_loglog", lung, Options{}},
		{"lung_log", lung, Options{Interval: Log}},
		{"lung_plain", lung, Options{Interval: Plain, Level: 0.9}},
		{"aml", read("aml.csv", "time", "status"), Options{}},
		{"veteran", read("veteran.csv", "time", "status"), Options{}},
		{"ovarian", read("ovarian.csv", "futime", "fustat"), Options{}},
		{"heart", heart, Options{}},
		{"bladder_cluster", bladder, Options{}},
		{"bladder_weighted", weighted, Options{}},
	} {
		curve, err := KaplanMeier(c.in, c.opt)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		compareCurve(t, a, c.name, curve)
	}
	compareCompeting(t, a)
}

func compareCompeting(t *testing.T, a *testkit.Answers) {
	t.Helper()
	mgus2 := Data{Time: a.Column("mgus2.csv", "etime"), Event: ints(a.Column("mgus2.csv", "cause"))}
	transplant := Data{
		Time:   a.Column("transplant.csv", "futime"),
		Event:  ints(a.Column("transplant.csv", "cause")),
		Weight: a.Column("transplant.csv", "weight"),
		Person: ints(a.Column("transplant.csv", "pair")),
	}
	var entry Data
	for i, age := range a.Column("mgus2.csv", "age") {
		if age >= 60 {
			entry.Entry = append(entry.Entry, age)
			entry.Time = append(entry.Time, age+math.Max(mgus2.Time[i], 0.5)/12)
			entry.Event = append(entry.Event, mgus2.Event[i])
		}
	}
	for _, c := range []struct {
		name   string
		in     Data
		causes int
		opt    Options
	}{
		{"mgus2", mgus2, 2, Options{}}, // without late entry Greenwood is the jackknife
		{"mgus2_entry", entry, 2, Options{Variance: Jackknife}},
		{"transplant", transplant, 3, Options{}},
	} {
		curves, err := AalenJohansen(c.in, c.causes, c.opt)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		compareStates(t, a, c.name, curves)
	}

	curves, err := AalenJohansen(mgus2, 2, Options{Variance: Aalen})
	if err != nil {
		t.Fatal(err)
	}
	at, est, variance := a.Floats("mgus2_aalen.at"), a.Floats("mgus2_aalen.est"), a.Floats("mgus2_aalen.var")
	for k := range 2 {
		for i, day := range at {
			e := curves[k+1].At(day)
			testkit.AlmostEqual(t, "cuminc share", e.Value, est[k*len(at)+i], curveTolerance)
			testkit.AlmostEqual(t, "cuminc variance", e.SE*e.SE, variance[k*len(at)+i], curveTolerance)
		}
	}
}

// compareStates holds all curves against a multi-state fit, whose matrices run
// state by state, the event-free one first.
func compareStates(t *testing.T, a *testkit.Answers, name string, curves []*Curve) {
	t.Helper()
	times := a.Floats(name + ".time")
	states := func(field string, k int) []float64 {
		return a.Floats(name + "." + field)[k*len(times) : (k+1)*len(times)]
	}
	for k, c := range curves {
		testkit.AllAlmostEqual(t, name+" time", c.Time, times, curveTolerance)
		testkit.AllAlmostEqual(t, name+" risk", c.Risk, a.Floats(name+".risk"), curveTolerance)
		testkit.AllAlmostEqual(t, name+" share", c.Value, states("pstate", k), curveTolerance)
		compareBand(t, name, c, states("se", k), states("lower", k), states("upper", k))
		e, err := c.MeanWithout(a.Float(name + ".tau"))
		if err != nil {
			t.Fatal(err)
		}
		in := a.Floats(name + ".rmean")[k] // mean time spent in the state
		if k > 0 {
			in = a.Float(name+".tau") - in
		}
		testkit.AlmostEqual(t, name+" mean", e.Value, in, curveTolerance)
		testkit.AlmostEqual(t, name+" error of the mean", e.SE, a.Floats(name + ".rse")[k], curveTolerance)
	}
}
