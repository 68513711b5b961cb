package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

func mustKM(t *testing.T, in Data, opt Options) *Curve {
	t.Helper()
	c, err := KaplanMeier(in, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustAJ(t *testing.T, in Data, causes int, opt Options) []*Curve {
	t.Helper()
	curves, err := AalenJohansen(in, causes, opt)
	if err != nil {
		t.Fatal(err)
	}
	return curves
}

// Six persons: events on days 2, 4, 4; censored on days 3, 4, 5.
//
//	day 2: 6 at risk, 1 event:  S = 5/6,             sum = 1/(6 x 5)         = 1/30
//	day 4: 4 at risk, 2 events: S = 5/6 x 2/4 = 5/12, sum = 1/30 + 2/(4 x 2) = 17/60
//
// SE = S sqrt(sum); log-log limits are S^exp(+-z sqrt(sum)/log S). Up to day 5
// the area is 2 + 2 x 5/6 + 1 x 5/12 = 49/12; its variance is
// (2 x 5/6 + 5/12)^2/30 + (5/12)^2 x 1/4 = (25/12)^2/30 + 25/576.
// Half have had the event by day 4.
func TestKaplanMeierByHand(t *testing.T) {
	c := mustKM(t, Data{
		Time:  []float64{4, 2, 3, 4, 5, 4},
		Event: []int{1, 1, 0, 0, 0, 1},
	}, Options{})
	const exact = 1e-14
	testkit.AllAlmostEqual(t, "time", c.Time, []float64{2, 3, 4, 5}, 0)
	testkit.AllAlmostEqual(t, "risk", c.Risk, []float64{6, 5, 4, 1}, 0)
	testkit.AllAlmostEqual(t, "event", c.Event, []float64{1, 0, 2, 0}, 0)
	testkit.AllAlmostEqual(t, "censored", c.Censored, []float64{0, 1, 1, 1}, 0)
	testkit.AllAlmostEqual(t, "value", c.Value, []float64{5. / 6, 5. / 6, 5. / 12, 5. / 12}, exact)
	sum := math.Sqrt(17. / 60)
	e := c.At(4.5)
	testkit.AlmostEqual(t, "error", e.SE, 5./12*sum, exact)
	w := math.Exp(1.959963984540054 * sum / math.Log(5./12))
	testkit.AlmostEqual(t, "low", e.Low, math.Pow(5./12, 1/w), exact)
	testkit.AlmostEqual(t, "high", e.High, math.Pow(5./12, w), exact)
	if e.N != 6 || e.Events != 3 || e.Level != 0.95 || len(e.Warnings) != 0 {
		t.Errorf("estimate %+v", e)
	}
	mean, err := c.MeanWithout(5)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "mean", mean.Value, 49./12, exact)
	testkit.AlmostEqual(t, "its error", mean.SE, math.Sqrt(25.*25./144/30+25./576), exact)
	q, err := c.Quantile(0.5)
	if err != nil || !q.Reached || q.Value != 4 || q.HighReached {
		t.Errorf("median %+v, %v", q, err)
	}
	for at, want := range map[float64]float64{1: 6, 2: 6, 2.5: 5, 4: 4, 5: 1, 5.5: 0} {
		testkit.AlmostEqual(t, "at risk", c.AtRisk(at), want, 0)
	}
	if c.CensoredBy(4) != 2 || c.EventsBy(3.9) != 1 || c.Before(4) != c.At(3).Value {
		t.Error("counts by a time are wrong")
	}
}

// Five persons, day 1 cause 1, day 2 cause 2, day 3 censored, day 4 cause 1,
// day 5 censored:
//
//	day 1: 5 at risk, S- = 1:   F1 = 1/5
//	day 2: 4 at risk, S- = 4/5: F2 = 4/5 x 1/4 = 1/5
//	day 4: 2 at risk, S- = 3/5: F1 = 1/5 + 3/5 x 1/2 = 1/2
//
// The multinomial variance of F2 on day 2, with F2(2) - F2(1) = 1/5:
// (1/5)^2 x 1/(5 x 4) + (4/5)^2 x 1 x 3/4^3 - 0 = 1/500 + 3/100 = 4/125.
func TestAalenJohansenByHand(t *testing.T) {
	curves := mustAJ(t, Data{Time: []float64{1, 2, 3, 4, 5}, Event: []int{1, 2, 0, 1, 0}}, 2, Options{})
	testkit.AllAlmostEqual(t, "free", curves[0].Value, []float64{.8, .6, .6, .3, .3}, 1e-14)
	testkit.AllAlmostEqual(t, "cause 1", curves[1].Value, []float64{.2, .2, .2, .5, .5}, 1e-14)
	testkit.AllAlmostEqual(t, "cause 2", curves[2].Value, []float64{0, .2, .2, .2, .2}, 1e-14)
	testkit.AllAlmostEqual(t, "events of any cause", curves[0].Event, []float64{1, 1, 0, 1, 0}, 0)
	testkit.AllAlmostEqual(t, "events of cause 1", curves[1].Event, []float64{1, 0, 0, 1, 0}, 0)
	testkit.AllAlmostEqual(t, "events of cause 2", curves[2].Event, []float64{0, 1, 0, 0, 0}, 0)
	testkit.AllAlmostEqual(t, "censored", curves[1].Censored, []float64{0, 0, 1, 0, 1}, 0)
	testkit.AlmostEqual(t, "error of cause 2", curves[2].SE[1], math.Sqrt(4./125), 1e-12)
	mean, err := curves[1].MeanWithout(5)
	if err != nil {
		t.Fatal(err)
	}
	// Without cause 1: 1 + 3 x 4/5 + 1 x 1/2.
	testkit.AlmostEqual(t, "mean without cause 1", mean.Value, 3.9, 1e-14)
	if mean.Level != 0.95 {
		t.Errorf("level %v", mean.Level)
	}
	if q, err := curves[1].Quantile(0.75); err != nil || q.Reached || q.Value != 5 || q.Share != 0.5 ||
		q.P != 0.75 || q.FollowUp != 5 || q.Level != 0.95 {
		t.Errorf("three quarters were not reached: %+v, %v", q, err)
	}
	if e := curves[2].At(0.5); e.Value != 0 || len(e.Warnings) != 1 || e.Warnings[0].Code != "no-interval" {
		t.Errorf("before the first event: %+v", e)
	}
	if e := curves[1].At(9); len(e.Warnings) != 1 || e.Warnings[0].Code != "beyond-follow-up" {
		t.Errorf("after the follow-up: %+v", e)
	}
}

// made draws follow-up with late entry, weights, two rows a person and ties.
func made(seed uint64, n, causes int, days bool) Data {
	r := rand.New(rand.NewPCG(seed, 7))
	var d Data
	for i := range n {
		entry := 10 * r.Float64()
		time := entry + 1 + 60*r.ExpFloat64()
		if days {
			entry, time = math.Floor(entry), math.Ceil(time)
		}
		d.Time = append(d.Time, time)
		d.Entry = append(d.Entry, entry)
		d.Event = append(d.Event, r.IntN(causes+1))
		d.Weight = append(d.Weight, 0.5+r.Float64())
		d.Person = append(d.Person, i/2)
	}
	return d
}

func permuted(d Data, order []int) Data {
	var out Data
	for _, i := range order {
		out.Time = append(out.Time, d.Time[i])
		out.Entry = append(out.Entry, d.Entry[i])
		out.Event = append(out.Event, d.Event[i])
		out.Weight = append(out.Weight, d.Weight[i])
		out.Person = append(out.Person, d.Person[i])
	}
	return out
}

func clone(d Data) Data {
	return Data{
		Time: slices.Clone(d.Time), Event: slices.Clone(d.Event), Entry: slices.Clone(d.Entry),
		Weight: slices.Clone(d.Weight), Person: slices.Clone(d.Person),
	}
}

func sameCurves(t *testing.T, what string, got, want []*Curve) {
	t.Helper()
	for k, c := range got {
		testkit.AllAlmostEqual(t, what+" time", c.Time, want[k].Time, 0)
		testkit.AllAlmostEqual(t, what+" value", c.Value, want[k].Value, 1e-10)
		testkit.AllAlmostEqual(t, what+" error", c.SE, want[k].SE, 1e-8)
		a, err := c.MeanWithout(50)
		if err != nil {
			t.Fatal(err)
		}
		b, err := want[k].MeanWithout(50)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, what+" mean", a.Value, b.Value, 1e-10)
		testkit.AlmostEqual(t, what+" error of the mean", a.SE, b.SE, 1e-8)
	}
}

func TestCurveProperties(t *testing.T) {
	for _, days := range []bool{true, false} {
		d := made(1, 200, 3, days)
		before := clone(d)
		curves := mustAJ(t, d, 3, Options{})
		if !reflect.DeepEqual(d, before) {
			t.Fatal("inputs were changed")
		}
		r := rand.New(rand.NewPCG(3, 3))
		sameCurves(t, "row order", mustAJ(t, permuted(d, r.Perm(200)), 3, Options{}), curves)
		for j := range curves[0].Time {
			testkit.AlmostEqual(t, "shares sum", curves[0].Value[j]+curves[1].Value[j]+curves[2].Value[j]+curves[3].Value[j], 1, 1e-12)
		}
		// A cause that nobody had changes nothing.
		sameCurves(t, "empty cause", mustAJ(t, d, 4, Options{})[:4], curves)
		// Every row twice within the same person: nothing changes.
		twice := permuted(d, append(r.Perm(200), r.Perm(200)...))
		sameCurves(t, "doubling within persons", mustAJ(t, twice, 3, Options{}), curves)
		// Every person twice: the errors fall by the root of two.
		for i := 200; i < 400; i++ {
			twice.Person[i] += 1000
		}
		double := mustAJ(t, twice, 3, Options{})
		for k, c := range double {
			for j := range c.SE {
				testkit.AlmostEqual(t, "doubling", c.SE[j]*math.Sqrt2, curves[k].SE[j], 1e-8)
			}
		}
		// Weights of two are two rows of one person.
		heavy := clone(d)
		for i := range heavy.Weight {
			heavy.Weight[i] *= 2
		}
		sameCurves(t, "scaled weights", mustAJ(t, heavy, 3, Options{}), curves)
	}
}

// Whole days are counted, others sorted: a thousandth more must give the same.
func TestCountingAgreesWithSorting(t *testing.T) {
	days := made(2, 300, 2, true)
	sorted := clone(days)
	for i := range sorted.Time {
		sorted.Time[i] += 0.001
		sorted.Entry[i] += 0.001
	}
	a, b := mustAJ(t, days, 2, Options{}), mustAJ(t, sorted, 2, Options{})
	for k := range a {
		testkit.AllAlmostEqual(t, "value", a[k].Value, b[k].Value, 1e-12)
		testkit.AllAlmostEqual(t, "error", a[k].SE, b[k].SE, 1e-9)
	}
}

func TestSplitKeepsEveryColumn(t *testing.T) {
	d := made(3, 6, 2, true)
	parts, err := Split(d, []int{1, 0, 1, 1, 0, 1}, 3)
	if err != nil {
		t.Fatal(err)
	}
	if want := permuted(d, []int{1, 4}); !reflect.DeepEqual(parts[0], want) {
		t.Errorf("group 0 is %+v, want %+v", parts[0], want)
	}
	if want := permuted(d, []int{0, 2, 3, 5}); !reflect.DeepEqual(parts[1], want) {
		t.Errorf("group 1 is %+v, want %+v", parts[1], want)
	}
	if len(parts[2].Time) != 0 {
		t.Errorf("group 2 has rows: %+v", parts[2])
	}
}

func TestVariancesMeet(t *testing.T) {
	d := made(4, 150, 2, true)
	d.Entry, d.Weight, d.Person = nil, nil, nil
	green, jack := mustAJ(t, d, 2, Options{Variance: Greenwood}), mustAJ(t, d, 2, Options{Variance: Jackknife})
	aalen := mustAJ(t, d, 2, Options{Variance: Aalen})
	for k := range green {
		testkit.AllAlmostEqual(t, "Greenwood is the jackknife", green[k].SE, jack[k].SE, 1e-9)
		for j, se := range green[k].SE {
			if green[k].Risk[j] > 30 && math.Abs(aalen[k].SE[j]-se) > 0.05*se {
				t.Fatalf("Aalen %v and Greenwood %v are far apart", aalen[k].SE[j], se)
			}
		}
	}
	if green[1].Method == jack[1].Method {
		t.Error("the method does not name its variance")
	}
}

func TestHardData(t *testing.T) {
	ones := func(n, v int) []int { return slices.Repeat([]int{v}, n) }
	for name, in := range map[string]Data{
		"all tied":     {Time: []float64{5, 5, 5, 5}, Event: ones(4, 1)},
		"all censored": {Time: []float64{3, 4, 5}, Event: ones(3, 0)},
		"one person":   {Time: []float64{7}, Event: ones(1, 1)},
		"day 0":        {Time: []float64{0, 0, 3}, Event: []int{1, 0, 1}},
		"late entry empties the risk set": {
			Time: []float64{2, 9, 9}, Entry: []float64{0, 3, 3}, Event: ones(3, 1),
		},
		"one person, two rows": {Time: []float64{2, 4}, Event: []int{1, 1}, Person: ones(2, 1)},
		"tiny weights":         {Time: []float64{2, 4, 4}, Event: []int{1, 1, 0}, Weight: []float64{1e-12, 1, 1e12}},
		"huge times":           {Time: []float64{1e300, 1e-300, 1}, Event: []int{1, 1, 0}},
	} {
		for _, v := range []Variance{AutoVariance, Greenwood, Jackknife, Aalen} {
			for _, scale := range []Interval{LogLog, Log, Plain} {
				for _, c := range mustAJ(t, in, 2, Options{Variance: v, Interval: scale}) {
					checkFinite(t, name, c)
				}
			}
		}
		checkFinite(t, name, mustKM(t, in, Options{}))
	}
	codes := func(c *Curve) (out []string) {
		for _, w := range c.Warnings {
			out = append(out, w.Code)
		}
		return out
	}
	if got := codes(mustKM(t, Data{Time: []float64{3}, Event: []int{0}}, Options{})); !slices.Equal(got, []string{"no-events"}) {
		t.Errorf("all censored: warnings %v", got)
	}
	emptied := Data{Time: []float64{2, 9}, Entry: []float64{0, 3}, Event: []int{1, 1}}
	if got := codes(mustKM(t, emptied, Options{})); !slices.Equal(got, []string{"emptied-risk-set"}) {
		t.Errorf("emptied risk set: warnings %v", got)
	}
}

func checkFinite(t *testing.T, name string, c *Curve) {
	t.Helper()
	for _, xs := range [][]float64{c.Time, c.Risk, c.Value, c.SE, c.Low, c.High} {
		if err := stats.CheckFinite(name, xs); err != nil {
			t.Error(err)
		}
	}
	for j, v := range c.Value {
		if !(0 <= c.Low[j] && c.Low[j] <= v && v <= c.High[j] && c.High[j] <= 1) {
			t.Errorf("%s: %v not within %v to %v", name, v, c.Low[j], c.High[j])
		}
	}
	q, err := c.Quantile(0.5)
	if err != nil || stats.CheckFinite(name, []float64{q.Value, q.Low, q.High, q.Share}) != nil {
		t.Errorf("%s: quantile %+v, %v", name, q, err)
	}
	for _, horizon := range []float64{1, 6, 1000} {
		e, err := c.MeanWithout(horizon)
		if err != nil || stats.CheckFinite(name, []float64{e.Value, e.SE, e.Low, e.High}) != nil {
			t.Errorf("%s: mean %+v, %v", name, e, err)
		}
	}
}

func TestRefusals(t *testing.T) {
	good := func() Data { return Data{Time: []float64{1, 2}, Event: []int{1, 0}} }
	for name, c := range map[string]struct {
		change func(*Data)
		want   error
	}{
		"empty":          {func(d *Data) { *d = Data{} }, stats.ErrEmpty},
		"event length":   {func(d *Data) { d.Event = []int{1} }, stats.ErrLength},
		"entry length":   {func(d *Data) { d.Entry = []float64{0} }, stats.ErrLength},
		"weight length":  {func(d *Data) { d.Weight = []float64{1} }, stats.ErrLength},
		"person length":  {func(d *Data) { d.Person = []int{1} }, stats.ErrLength},
		"NaN time":       {func(d *Data) { d.Time[0] = math.NaN() }, stats.ErrNotFinite},
		"infinite time":  {func(d *Data) { d.Time[0] = math.Inf(1) }, stats.ErrNotFinite},
		"NaN entry":      {func(d *Data) { d.Entry = []float64{math.NaN(), 0} }, stats.ErrNotFinite},
		"NaN weight":     {func(d *Data) { d.Weight = []float64{math.NaN(), 1} }, stats.ErrNotFinite},
		"negative time":  {func(d *Data) { d.Time[0] = -1 }, stats.ErrRange},
		"entry at end":   {func(d *Data) { d.Entry = []float64{1, 0} }, stats.ErrRange},
		"weight 0":       {func(d *Data) { d.Weight = []float64{0, 1} }, stats.ErrRange},
		"weight below 0": {func(d *Data) { d.Weight = []float64{1, -1} }, stats.ErrRange},
		"unknown cause":  {func(d *Data) { d.Event[0] = 2 }, stats.ErrRange},
		"negative cause": {func(d *Data) { d.Event[0] = -1 }, stats.ErrRange},
	} {
		d := good()
		c.change(&d)
		if _, err := KaplanMeier(d, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: Kaplan-Meier says %v", name, err)
		}
		if _, err := AalenJohansen(d, 1, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: Aalen-Johansen says %v", name, err)
		}
	}
	for name, opt := range map[string]Options{
		"level": {Level: 1.5}, "interval": {Interval: 9}, "variance": {Variance: 9}, "Aalen": {Variance: Aalen},
	} {
		if _, err := KaplanMeier(good(), opt); !errors.Is(err, stats.ErrRange) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := AalenJohansen(good(), 0, Options{}); !errors.Is(err, stats.ErrRange) {
		t.Errorf("no causes: %v", err)
	}
	c := mustKM(t, good(), Options{})
	for _, x := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := c.MeanWithout(x); !errors.Is(err, stats.ErrRange) {
			t.Errorf("horizon %v: %v", x, err)
		}
		if _, err := c.Quantile(x); !errors.Is(err, stats.ErrRange) {
			t.Errorf("quantile %v: %v", x, err)
		}
	}
	if _, err := Split(good(), []int{0, 2}, 2); !errors.Is(err, stats.ErrRange) {
		t.Errorf("unknown group: %v", err)
	}
	if _, err := Split(good(), []int{0}, 2); !errors.Is(err, stats.ErrLength) {
		t.Errorf("group length: %v", err)
	}
}
