package rates

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestRatesByHand(t *testing.T) {
	// 4 events in 200 sessions: rate 4/200 = 0.02, SE sqrt(4)/200 = 0.01.
	e, err := Garwood(4, 200, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "rate", e.Value, 0.02, 1e-15)
	testkit.AlmostEqual(t, "se", e.SE, 0.01, 1e-15)
	testkit.AlmostEqual(t, "level", e.Level, 0.95, 0)
	// With mean m = 200 High, exp(-m)(1+m+m^2/2+m^3/6+m^4/24) is 0.025.
	m := 200 * e.High
	testkit.AlmostEqual(t, "upper tail", math.Exp(-m)*(1+m+m*m/2+m*m*m/6+m*m*m*m/24), 0.025, 1e-12)
	m = 200 * e.Low
	testkit.AlmostEqual(t, "lower tail", 1-math.Exp(-m)*(1+m+m*m/2+m*m*m/6), 0.025, 1e-12)

	// None in 100: Garwood -log(0.025)/100, mid-P -log(0.05)/100.
	none, err := Garwood(0, 100, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "none", none.High, 0.036888794541139363, 1e-14)
	mid, err := MidP(0, 100, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "none, mid-P", mid.High, 0.029957322735539907, 1e-14)
	mid, err = MidP(4, 200, 0.9)
	must(t, err)
	testkit.AlmostEqual(t, "mid-P se", mid.SE, 0.01, 1e-15)
	testkit.AlmostEqual(t, "mid-P level", mid.Level, 0.9, 0)
	if none.Low != 0 || none.Warnings[0].Code != "no-events" {
		t.Errorf("none: %+v", none)
	}

	// 6 events in 100 against 2 in 50: ratio (6/100)/(2/50) = 1.5. Of 8 events
	// 6 or more fall to a share of 2/3 with probability
	// (28*2^6 + 8*2^7 + 2^8)/3^8 = 3072/6561; 6 or fewer 1-(1024+256)/6561.
	r, err := Ratio(Count{6, 100}, Count{2, 50}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "ratio", r.Value, 1.5, 1e-14)
	testkit.AlmostEqual(t, "p", r.P, 2*3072.0/6561, 1e-12)
	if r.Events != 8 || r.SE != 0 || r.Level != 0.95 {
		t.Errorf("ratio: %+v", r)
	}

	// 3 seen, 1.5 expected: ratio 2, SE sqrt(3)/1.5;
	// P(3 or more) = 1 - exp(-1.5)(1+1.5+1.125).
	o, err := ObservedExpected(3, 1.5, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "observed/expected", o.Value, 2, 1e-15)
	testkit.AlmostEqual(t, "its SE", o.SE, math.Sqrt(3)/1.5, 1e-15)
	testkit.AlmostEqual(t, "its level", o.Level, 0.95, 0)
	testkit.AlmostEqual(t, "its p", o.P, 2*(1-math.Exp(-1.5)*3.625), 1e-12)
}

func TestSharesByHand(t *testing.T) {
	// 9 of 10: Low of Clopper-Pearson solves 10 p^9 (1-p) + p^10 = 0.025,
	// High solves 1 - p^10 = 1 - 0.975: p = 0.975^(1/10).
	e, err := ClopperPearson(9, 10, 0.95)
	must(t, err)
	p := e.Low
	testkit.AlmostEqual(t, "low", 10*math.Pow(p, 9)*(1-p)+math.Pow(p, 10), 0.025, 1e-12)
	testkit.AlmostEqual(t, "high", e.High, math.Pow(0.975, 0.1), 1e-12)
	testkit.AlmostEqual(t, "value", e.Value, 0.9, 1e-15)
	testkit.AlmostEqual(t, "se", e.SE, 0.3/math.Sqrt(10), 1e-14)
	// Wilson at level 2*pnorm(1)-1, so z = 1, 2 of 4:
	// (p + z^2/2n +- z sqrt(pq/n + z^2/4n^2))/(1+z^2/n)
	// = (0.5 + 0.125 +- sqrt(0.0625 + 0.015625))/1.25 = 0.5 +- 0.2236067977.
	w, err := Wilson(2, 4, 2*distuv.UnitNormal.CDF(1)-1)
	must(t, err)
	testkit.AlmostEqual(t, "Wilson se", w.SE, 0.25, 1e-15)
	testkit.AlmostEqual(t, "Wilson level", w.Level, 2*distuv.UnitNormal.CDF(1)-1, 0)
	testkit.AlmostEqual(t, "level", e.Level, 0.95, 0)
	testkit.AlmostEqual(t, "Wilson low", w.Low, 0.5-math.Sqrt(0.078125)/1.25, 1e-12)
	testkit.AlmostEqual(t, "Wilson high", w.High, 0.5+math.Sqrt(0.078125)/1.25, 1e-12)
	for _, k := range []int{0, 5} {
		e, err := ClopperPearson(k, 5, 0.95)
		must(t, err)
		if e.Warnings[0].Code != "all-or-none" || e.N != 5 || e.Events != k {
			t.Errorf("%d of 5: %+v", k, e)
		}
		if k == 0 && e.Low != 0 || k == 5 && e.High != 1 {
			t.Errorf("%d of 5: %v to %v", k, e.Low, e.High)
		}
	}
}

func TestFunnelByHand(t *testing.T) {
	// Observed 4 and 16, both expected 9: z = 2(2-3) = -2 and 2(4-3) = 2,
	// phi = (4+4)/2 = 4. Weights 36 each: tau^2 on the square-root scale
	// (2*4-1)/(72 - 2592/72) = 7/36, doubled on leaving it: tau = 2 sqrt(7)/6.
	s, err := Funnel([]int{4, 16}, []float64{9, 9}, FunnelOptions{MinUnits: 10})
	must(t, err)
	testkit.AllAlmostEqual(t, "z", s.Z, []float64{-2, 2}, 1e-14)
	testkit.AlmostEqual(t, "phi", s.Phi, 4, 1e-14)
	testkit.AlmostEqual(t, "tau", s.Tau, math.Sqrt(7)/3, 1e-14)
	if len(s.Warnings) != 1 || s.Warnings[0].Code != "few-units" {
		t.Errorf("warnings %v", s.Warnings)
	}
	// As expected: no spread, and the limits are the Poisson ones. Around 3:
	// P(0) = 0.0498 > 0.025, so 0 is inside; P(7 or more) = 0.0335 > 0.025,
	// P(8 or more) = 0.0119, so 7 is inside.
	even, err := Funnel([]int{3, 3, 3}, []float64{3, 3, 3}, FunnelOptions{Winsor: 0.1})
	must(t, err)
	l, err := even.Limits(3, 0.95)
	must(t, err)
	if even.Tau != 0 || l != (CountLimits{0, 7}) || even.Warnings[0].Code != "small-expected" {
		t.Errorf("even %+v, limits %v", even, l)
	}
}

func TestBinomialLimitsByHand(t *testing.T) {
	// 3 at 1/2: none, and all, have probability 1/8 each. At level 0.74 a tail
	// may hold 0.13, so they are outside; at 0.76 only 0.12, so they are inside.
	for level, want := range map[float64]CountLimits{0.74: {1, 2}, 0.76: {0, 3}} {
		l, err := BinomialLimits(3, 0.5, level)
		must(t, err)
		if l != want {
			t.Errorf("level %v: %v, want %v", level, l, want)
		}
	}
	for share, want := range map[float64]CountLimits{0: {0, 0}, 1: {7, 7}} {
		l, err := BinomialLimits(7, share, 0.95)
		must(t, err)
		if l != want {
			t.Errorf("share %v: %v, want %v", share, l, want)
		}
	}
}

func TestClusteredByHand(t *testing.T) {
	// Events 4, 0, 0, 0 in 1 session each: rate 1, scores 3, -1, -1, -1,
	// variance of the count 12 * 4/3 = 16, over the Poisson 4: ratio 4. One
	// event in one session then gives the limits of a rate of 1.
	r, err := Clustered([]int{4, 0, 0, 0}, []float64{1, 1, 1, 1}, ClusterOptions{Level: 0.95, WidenAbove: 1.2})
	must(t, err)
	one, err := Garwood(1, 1, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "ratio", r.VarianceRatio, 4, 1e-14)
	testkit.AlmostEqual(t, "value", r.Value, 1, 1e-14)
	testkit.AlmostEqual(t, "se", r.SE, 1, 1e-14)
	testkit.AlmostEqual(t, "low", r.Low, one.Low, 1e-12)
	testkit.AlmostEqual(t, "high", r.High, one.High, 1e-12)
	if !r.Widened || r.Level != 0.95 || r.N != 4 || r.Events != 4 || r.Warnings[0].Code != "widened" {
		t.Errorf("%+v", r)
	}
	// At the threshold exactly nothing is widened.
	r, err = Clustered([]int{4, 0, 0, 0}, []float64{1, 1, 1, 1}, ClusterOptions{Level: 0.95, WidenAbove: 4})
	must(t, err)
	if r.Widened {
		t.Error("widened at the threshold")
	}
	// One person: the ratio cannot be judged. Many events in one of two
	// persons of very different exposure: less than one event's worth.
	r, err = Clustered([]int{4}, []float64{1}, ClusterOptions{Level: 0.95, WidenAbove: 1.2})
	must(t, err)
	if r.Warnings[0].Code != "one-person" || r.VarianceRatio != 1 {
		t.Errorf("one person: %+v", r)
	}
	r, err = Clustered([]int{100, 0}, []float64{1, 9}, ClusterOptions{Level: 0.95, WidenAbove: 1.2})
	must(t, err)
	if r.Warnings[len(r.Warnings)-1].Code != "few-events" {
		t.Errorf("few events: %+v", r.Warnings)
	}
	r, err = Clustered([]int{0, 0}, []float64{1, 9}, ClusterOptions{Level: 0.95, WidenAbove: 1.2})
	must(t, err)
	if r.Warnings[0].Code != "no-events" || r.Widened {
		t.Errorf("no events: %+v", r)
	}
}

func TestRatesRefuseBadInput(t *testing.T) {
	options := ClusterOptions{Level: 0.95, WidenAbove: 1.2}
	cases := []struct {
		name string
		want error
		call func() error
	}{
		{"negative count", stats.ErrRange, func() error { _, err := Garwood(-1, 1, 0.95); return err }},
		{"no exposure", stats.ErrRange, func() error { _, err := Garwood(1, 0, 0.95); return err }},
		{"exposure NaN", stats.ErrNotFinite, func() error { _, err := MidP(1, math.NaN(), 0.95); return err }},
		{"level 1", stats.ErrRange, func() error { _, err := MidP(1, 1, 1); return err }},
		{"level NaN", stats.ErrRange, func() error { _, err := UpperWhenNone(math.NaN()); return err }},
		{"reference without events", stats.ErrNoEvents, func() error { _, err := Ratio(Count{3, 1}, Count{0, 1}, 0.95); return err }},
		{"ratio without exposure", stats.ErrRange, func() error { _, err := Ratio(Count{3, 0}, Count{1, 1}, 0.95); return err }},
		{"expected 0", stats.ErrRange, func() error { _, err := ObservedExpected(3, 0, 0.95); return err }},
		{"nobody", stats.ErrEmpty, func() error { _, err := Wilson(0, 0, 0.95); return err }},
		{"more than all", stats.ErrRange, func() error { _, err := ClopperPearson(3, 2, 0.95); return err }},
		{"exact level", stats.ErrRange, func() error { _, err := ClopperPearson(1, 2, 0); return err }},
		{"limits of 0", stats.ErrRange, func() error { _, err := PoissonLimits(0, 0.95); return err }},
		{"limits level", stats.ErrRange, func() error { _, err := PoissonLimits(1, 1); return err }},
		{"limits too large", stats.ErrRange, func() error { _, err := PoissonLimits(1e10, 0.95); return err }},
		{"spread NaN", stats.ErrNotFinite, func() error { _, err := GammaPoissonLimits(1, math.NaN(), 0.95); return err }},
		{"spread negative", stats.ErrRange, func() error { _, err := GammaPoissonLimits(1, -1, 0.95); return err }},
		{"limits of nobody", stats.ErrEmpty, func() error { _, err := BinomialLimits(0, 0.5, 0.95); return err }},
		{"limits of a share", stats.ErrRange, func() error { _, err := BinomialLimits(3, 1.5, 0.95); return err }},
		{"limits share NaN", stats.ErrNotFinite, func() error { _, err := BinomialLimits(3, math.NaN(), 0.95); return err }},
		{"limits share level", stats.ErrRange, func() error { _, err := BinomialLimits(3, 0.5, 1); return err }},
		{"no units", stats.ErrEmpty, func() error { _, err := Funnel(nil, nil, FunnelOptions{}); return err }},
		{"one unit", stats.ErrOneGroup, func() error { _, err := Funnel([]int{1}, []float64{1}, FunnelOptions{}); return err }},
		{"units differ", stats.ErrLength, func() error { _, err := Funnel([]int{1, 2}, []float64{1}, FunnelOptions{}); return err }},
		{"unit NaN", stats.ErrNotFinite, func() error { _, err := Funnel([]int{1, 2}, []float64{1, math.Inf(1)}, FunnelOptions{}); return err }},
		{"unit expects none", stats.ErrRange, func() error { _, err := Funnel([]int{1, 2}, []float64{1, 0}, FunnelOptions{}); return err }},
		{"winsor", stats.ErrRange, func() error { _, err := Funnel([]int{1, 2}, []float64{1, 1}, FunnelOptions{Winsor: 0.5}); return err }},
		{"no persons", stats.ErrEmpty, func() error { _, err := Clustered(nil, nil, options); return err }},
		{"persons differ", stats.ErrLength, func() error { _, err := Clustered([]int{1}, nil, options); return err }},
		{"person NaN", stats.ErrNotFinite, func() error { _, err := Clustered([]int{1}, []float64{math.NaN()}, options); return err }},
		{"person negative", stats.ErrRange, func() error { _, err := Clustered([]int{-1}, []float64{1}, options); return err }},
		{"all unexposed", stats.ErrRange, func() error { _, err := Clustered([]int{0}, []float64{0}, options); return err }},
		{"threshold", stats.ErrRange, func() error {
			_, err := Clustered([]int{1}, []float64{1}, ClusterOptions{Level: 0.95, WidenAbove: 0.5})
			return err
		}},
	}
	for _, c := range cases {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

func TestHardCountsStayFinite(t *testing.T) {
	finite := func(name string, e stats.Estimate) {
		for _, x := range []float64{e.Value, e.Low, e.High, e.SE} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %+v", name, e)
			}
		}
		if e.Low > e.Value || e.High < e.Value {
			t.Errorf("%s: value %v outside %v to %v", name, e.Value, e.Low, e.High)
		}
	}
	for _, k := range []int{0, 1, 2, 1000, 10_000_000} {
		for _, level := range []float64{1e-9, 0.5, 0.95, 1 - 1e-12} {
			e, err := Garwood(k, 1e-6, level)
			must(t, err)
			finite("Garwood", e)
			m, err := MidP(k, 1e9, level)
			must(t, err)
			if m.Low > m.High || math.IsNaN(m.Low+m.High) {
				t.Errorf("mid-P of %d at %v: %v to %v", k, level, m.Low, m.High)
			}
			r, err := Ratio(Count{k, 1e-3}, Count{1, 1e6}, level)
			must(t, err)
			finite("Ratio", r.Estimate)
			s, err := ClopperPearson(k, 10_000_000, level)
			must(t, err)
			finite("ClopperPearson", s)
			w, err := Wilson(k, 10_000_000, level)
			must(t, err)
			finite("Wilson", w)
		}
	}
	for _, e := range []float64{1e-12, 1, 1e9} {
		for _, spread := range []float64{0, 1e-9, 0.3, 50} {
			l, err := GammaPoissonLimits(e, spread, 0.998)
			must(t, err)
			if l.Low > l.High || l.Low < 0 {
				t.Errorf("limits of %v, spread %v: %v", e, spread, l)
			}
		}
	}
}

func TestRatesKeepTheirProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		a, b := Count{1 + r.IntN(30), 1 + 100*r.Float64()}, Count{1 + r.IntN(30), 1 + 100*r.Float64()}
		forth, err := Ratio(a, b, 0.95)
		must(t, err)
		back, err := Ratio(b, a, 0.95)
		must(t, err)
		testkit.AlmostEqual(t, "exchanged groups", back.High, 1/forth.Low, 1e-10)
		testkit.AlmostEqual(t, "exchanged p", back.P, forth.P, 1e-10)
		with, n := a.Events, a.Events+b.Events
		for _, f := range []func(int, int, float64) (stats.Estimate, error){Wilson, ClopperPearson} {
			x, err := f(with, n, 0.9)
			must(t, err)
			y, err := f(n-with, n, 0.9)
			must(t, err)
			testkit.AlmostEqual(t, "share and its rest", x.Low, 1-y.High, 1e-10)
		}
		g, err := Garwood(a.Events, a.Exposure, 0.95)
		must(t, err)
		m, err := MidP(a.Events, a.Exposure, 0.95)
		must(t, err)
		if m.Low < g.Low || m.High > g.High {
			t.Errorf("mid-P wider than exact: %+v %+v", m, g)
		}
	}
	events, exposure := []int{3, 0, 1, 7, 2, 0}, []float64{5, 2, 0, 9, 4, 1}
	keptEvents, keptExposure := slices.Clone(events), slices.Clone(exposure)
	options := ClusterOptions{Level: 0.95, WidenAbove: 1.2}
	first, err := Clustered(events, exposure, options)
	must(t, err)
	_, err = Funnel(events, []float64{5, 2, 1, 9, 4, 1}, FunnelOptions{Winsor: 0.1})
	must(t, err)
	if !reflect.DeepEqual(events, keptEvents) || !reflect.DeepEqual(exposure, keptExposure) {
		t.Error("the input was changed")
	}
	slices.Reverse(events)
	slices.Reverse(exposure)
	second, err := Clustered(events, exposure, options)
	must(t, err)
	testkit.AlmostEqual(t, "row order", second.High, first.High, 1e-13)
	// Persons with neither exposure nor events change nothing.
	third, err := Clustered(append(events, 0, 0), append(exposure, 0, 0), options)
	must(t, err)
	testkit.AlmostEqual(t, "empty persons", third.High, second.High, 1e-13)
}

// Coverage is a sum over the counts that can happen, so it needs no draws:
// exact limits cover at least the level for every mean.
func TestExactLimitsCoverAtLeastTheLevel(t *testing.T) {
	for _, mean := range []float64{0.3, 1, 2.7, 5, 12, 40} {
		var exactly, mid float64
		for k := range 200 {
			g, err := Garwood(k, 1, 0.95)
			must(t, err)
			m, err := MidP(k, 1, 0.95)
			must(t, err)
			p := distuv.Poisson{Lambda: mean}.Prob(float64(k))
			if g.Low <= mean && mean <= g.High {
				exactly += p
			}
			if m.Low <= mean && mean <= m.High {
				mid += p
			}
		}
		if exactly < 0.95 || mid < 0.925 || mid > exactly {
			t.Errorf("mean %v: exact covers %.4f, mid-P %.4f", mean, exactly, mid)
		}
	}
}

// With events in clusters the widened limits must cover about the level where
// the plain ones do not: 400 practices of 60 persons, Monte Carlo SE 0.011.
func TestWidenedLimitsCover(t *testing.T) {
	const runs = 400
	r := rand.New(rand.NewPCG(7, 7))
	covered, plain := 0, 0
	for range runs {
		events, exposure := make([]int, 60), make([]float64, 60)
		total := 0
		for i := range events {
			exposure[i] = 5 + 20*r.Float64()
			frailty := distuv.Gamma{Alpha: 0.5, Beta: 0.5, Src: r}.Rand()
			events[i] = int(distuv.Poisson{Lambda: 0.1 * exposure[i] * frailty, Src: r}.Rand())
			total += events[i]
		}
		c, err := Clustered(events, exposure, ClusterOptions{Level: 0.95, WidenAbove: 1.2})
		must(t, err)
		g, err := Garwood(total, float64(total)/c.Value, 0.95)
		must(t, err)
		if c.Low <= 0.1 && 0.1 <= c.High {
			covered++
		}
		if g.Low <= 0.1 && 0.1 <= g.High {
			plain++
		}
	}
	if got := float64(covered) / runs; got < 0.9 || got > 0.99 {
		t.Errorf("widened limits cover %.3f", got)
	}
	if got := float64(plain) / runs; got > 0.85 {
		t.Errorf("plain limits cover %.3f: the simulation is not clustered", got)
	}
}
