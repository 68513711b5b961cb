package control

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestGByHand(t *testing.T) {
	// Baseline 1 event in 2 sessions: P(G >= g) is the mean of (1-p)^g over a
	// uniform p, 1/(g+1). Level 0.5, tails 1/4: P(G <= g) = 1 - 1/(g+2) reaches
	// 1/4 at 0, 1/2 at 0 and 3/4 at 2; gap 3 is above.
	points, err := G([]int{0, 2, 3}, rates.Count{Events: 1, Exposure: 2}, 0.5)
	must(t, err)
	want := []Point{{0, 0, 0, 2, Within}, {2, 0, 0, 2, Within}, {3, 0, 0, 2, Above}}
	if !reflect.DeepEqual(points, want) {
		t.Errorf("%+v", points)
	}
	// A well-known baseline of 1 in 10,000 sessions: P(G <= g) = 1 - 0.9999^(g+1)
	// reaches 0.025 at 253, so a gap of 252 is below.
	points, err = G([]int{252, 253}, rates.Count{Events: 1e7, Exposure: 1e11}, 0.95)
	must(t, err)
	if points[0].Low != 253 || points[0].Signal != Below || points[1].Signal != Within {
		t.Errorf("%+v", points)
	}
}

func TestRunsByHand(t *testing.T) {
	values := []float64{6, 7, 6, 4, 3, 5, 6, 7, 8, 9, 4, 3, 4, 4}
	points := make([]Point, len(values))
	for i, v := range values {
		points[i] = Point{Value: v, Centre: 5}
	}
	runs, err := Runs(points, 4)
	must(t, err)
	// 6 7 6 are three above; 4 3 two below; 5 on the centre; 6 7 8 9 four above;
	// 4 3 4 4 four below, to the end.
	if want := []Run{{6, 9, Above}, {10, 13, Below}}; !reflect.DeepEqual(runs, want) {
		t.Errorf("runs %v, want %v", runs, want)
	}
	three, err := Runs(points, 3)
	must(t, err)
	if want := (Run{0, 2, Above}); len(three) != 3 || three[0] != want {
		t.Errorf("runs of three: %v", three)
	}
	none, err := Runs(points, 5)
	must(t, err)
	if len(none) != 0 {
		t.Errorf("runs of five: %v", none)
	}
	// Two halves, runs of 2: the first point, then half of the points end one:
	// 1 + 2 = 3 = 2^2 - 1. Runs of 8: 2^8 - 1.
	for length, want := range map[int]float64{2: 3, 8: 255} {
		mean, err := RunsMean(length, 0.5, 0.5)
		must(t, err)
		testkit.AlmostEqual(t, "mean wait", mean, want, 1e-12)
	}
}

func TestRunsMeanBySimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	var points []Point
	waits, sum := 0, 0
	for waits < 3000 {
		u := r.Float64()
		p := Point{Centre: 0}
		switch {
		case u < 0.5:
			p.Value = 1
		case u < 0.9:
			p.Value = -1
		}
		points = append(points, p)
		runs, err := Runs(points, 4)
		must(t, err)
		if len(runs) > 0 {
			waits, sum, points = waits+1, sum+len(points), nil
		}
	}
	mean, err := RunsMean(4, 0.5, 0.4)
	must(t, err)
	// The wait is about geometric, so its SD is about its mean: 5 SE of 3,000.
	testkit.AlmostEqual(t, "mean wait", float64(sum)/float64(waits), mean, 5/math.Sqrt(3000))
}

func TestCUSUMByHand(t *testing.T) {
	// Ratio 2, expected log(2) a period: the reference is exactly 1 event.
	e := math.Ln2
	c := CUSUM{Ratio: 2, Threshold: 3}
	path, err := c.Path([]int{0, 3, 1, 2, 2, 0}, []float64{e, e, e, e, e, e})
	must(t, err)
	want := []Step{{0, false}, {2, false}, {2, false}, {3, true}, {1, false}, {0, false}}
	if !reflect.DeepEqual(path, want) {
		t.Errorf("path %v, want %v", path, want)
	}
	// Ratio 1/2: the reference is expected x 0.5/log(2), 1 at 2 log(2).
	c = CUSUM{Ratio: 0.5, Threshold: 2}
	path, err = c.Path([]int{0, 0, 5}, []float64{2 * e, 2 * e, 2 * e})
	must(t, err)
	if want := []Step{{1, false}, {2, true}, {0, false}}; !reflect.DeepEqual(path, want) {
		t.Errorf("path %v, want %v", path, want)
	}
	// Threshold 1, reference 1: an alarm comes with 2 events or more from score
	// 0, the only score below 1 on whole events. With mean log(2) that has
	// probability 1 - (1 + log 2)/2.
	q := 1 - (1+e)/2
	r, err := CUSUM{Ratio: 2, Threshold: 1}.RunLength(Watch{Expected: []float64{e}}, 3)
	must(t, err)
	testkit.AlmostEqual(t, "mean", r.Mean, 1/q, 1e-10)
	testkit.AlmostEqual(t, "alarms per period", r.AlarmsPerCycle, q, 1e-10)
	testkit.AllAlmostEqual(t, "by", r.By, []float64{q, 1 - (1-q)*(1-q), 1 - (1-q)*(1-q)*(1-q)}, 1e-12)
}

func TestThresholdKeepsTheBudget(t *testing.T) {
	for budget, w := range map[float64]Watch{
		0.2:  {Expected: []float64{0.9, 1.1, 1.2, 0.8, 1, 1}, BaselineEvents: 25},
		0.01: {Expected: []float64{2}},
	} {
		for _, ratio := range []float64{2, 0.5} {
			c, err := Threshold(ratio, w, budget)
			must(t, err)
			at, err := c.RunLength(w, 1)
			must(t, err)
			lower, err := CUSUM{Ratio: ratio, Threshold: c.Threshold - 1.0/grid}.RunLength(w, 1)
			must(t, err)
			if at.AlarmsPerCycle > budget || lower.AlarmsPerCycle <= budget {
				t.Errorf("ratio %v: %v alarms at %v, %v just below", ratio, at.AlarmsPerCycle, c.Threshold, lower.AlarmsPerCycle)
			}
			changed := w
			changed.TrueRatio = ratio
			found, err := c.RunLength(changed, 1)
			must(t, err)
			if found.Mean > at.Mean/3 {
				t.Errorf("ratio %v: found after %v periods, false after %v", ratio, found.Mean, at.Mean)
			}
		}
	}
	// More than one alarm a period is never reached: the lowest threshold will do.
	lowest, err := Threshold(2, Watch{Expected: []float64{1}}, 5)
	must(t, err)
	testkit.AlmostEqual(t, "lowest", lowest.Threshold, 1.0/32, 0)
	// A short baseline asks for a higher threshold than a known level.
	known, err := Threshold(2, Watch{Expected: []float64{1}}, 0.02)
	must(t, err)
	learnt, err := Threshold(2, Watch{Expected: []float64{1}, BaselineEvents: 24}, 0.02)
	must(t, err)
	if learnt.Threshold <= known.Threshold {
		t.Errorf("known %v, learnt %v", known.Threshold, learnt.Threshold)
	}
}

// 20,000 periods of paths against the computed rate of false alarms.
func TestAlarmsBySimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 1))
	c := CUSUM{Ratio: 1.8, Threshold: 3.25}
	cycle := []float64{0.7, 1.9, 1.2}
	computed, err := c.RunLength(Watch{Expected: cycle}, 1)
	must(t, err)
	const periods = 60_000
	observed, expected := make([]int, periods), make([]float64, periods)
	for i := range observed {
		expected[i] = cycle[i%3]
		observed[i] = int(distuv.Poisson{Lambda: expected[i], Src: r}.Rand())
	}
	path, err := c.Path(observed, expected)
	must(t, err)
	alarms := 0
	for _, s := range path {
		if s.Alarm {
			alarms++
		}
	}
	want := computed.AlarmsPerCycle * periods / 3
	if math.Abs(float64(alarms)-want) > 5*math.Sqrt(want) {
		t.Errorf("%d alarms, %.1f computed", alarms, want)
	}
}

// Each point's false-alarm probability, over baseline and period together, is
// at most its share: 4,000 practices with a baseline of about 30 events.
func TestULimitsHoldInSpiteOfAShortBaseline(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	const practices = 4000
	alarms := 0
	for range practices {
		baseline := rates.Count{Events: int(distuv.Poisson{Lambda: 30, Src: r}.Rand()), Exposure: 24}
		k := int(distuv.Poisson{Lambda: 30.0 / 24 * 6, Src: r}.Rand())
		points, err := U([]int{k}, []float64{6}, baseline, 0.95)
		must(t, err)
		if points[0].Signal != Within {
			alarms++
		}
	}
	// At most 0.05, Monte Carlo SE 0.0034; a count cannot reach it exactly.
	if share := float64(alarms) / practices; share > 0.05+3*0.0034 || share < 0.01 {
		t.Errorf("%.4f of points are false alarms", share)
	}
}

func TestControlPropertiesAndInputs(t *testing.T) {
	events, exposure := []int{3, 9, 0, 4}, []float64{100, 120, 80, 110}
	keptEvents, keptExposure := slices.Clone(events), slices.Clone(exposure)
	baseline := rates.Count{Events: 40, Exposure: 1000}
	points, err := U(events, exposure, baseline, 0.95)
	must(t, err)
	// Another unit of exposure: everything times 1,000.
	for i := range exposure {
		exposure[i] /= 1000
	}
	baseline.Exposure /= 1000
	scaled, err := U(events, exposure, baseline, 0.95)
	must(t, err)
	for i := range points {
		testkit.AlmostEqual(t, "value", scaled[i].Value, 1000*points[i].Value, 1e-12)
		testkit.AlmostEqual(t, "high", scaled[i].High, 1000*points[i].High, 1e-12)
		if scaled[i].Signal != points[i].Signal {
			t.Error("the unit changes a signal")
		}
		exposure[i] = keptExposure[i]
	}
	_, err = CUSUM{Ratio: 2, Threshold: 3}.Path(events, exposure)
	must(t, err)
	if !reflect.DeepEqual(events, keptEvents) || !reflect.DeepEqual(exposure, keptExposure) {
		t.Error("the input was changed")
	}
	share, err := P([]int{0, 10, 7}, []int{10, 10, 10}, 0.3, 0.95)
	must(t, err)
	rest, err := P([]int{10, 0, 3}, []int{10, 10, 10}, 0.7, 0.95)
	must(t, err)
	for i := range share {
		testkit.AlmostEqual(t, "rest", rest[i].Low, 1-share[i].High, 1e-12)
		testkit.AlmostEqual(t, "share", share[i].Value, 1-rest[i].Value, 1e-12)
	}
	for _, sure := range []float64{0, 1} {
		points, err := P([]int{5}, []int{5}, sure, 0.95)
		must(t, err)
		if points[0].Low != sure || points[0].High != sure {
			t.Errorf("share %v: %+v", sure, points)
		}
	}
}

func TestHardWatchesEnd(t *testing.T) {
	for name, c := range map[string]struct {
		c CUSUM
		w Watch
	}{
		"never":       {CUSUM{Ratio: 20, Threshold: 60}, Watch{Expected: []float64{0.5}}},
		"always":      {CUSUM{Ratio: 1.5, Threshold: 1}, Watch{Expected: []float64{5}, TrueRatio: 100}},
		"tiny":        {CUSUM{Ratio: 2, Threshold: 2}, Watch{Expected: []float64{1e-9}}},
		"one event":   {CUSUM{Ratio: 2, Threshold: 2}, Watch{Expected: []float64{1}, BaselineEvents: 1}},
		"fewer, none": {CUSUM{Ratio: 0.05, Threshold: 5}, Watch{Expected: []float64{0.01, 0}}},
	} {
		r, err := c.c.RunLength(c.w, 30)
		must(t, err)
		for _, x := range append(slices.Clone(r.By), r.AlarmsPerCycle, r.Mean) {
			if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
				t.Errorf("%s: %+v", name, r)
			}
		}
	}
}

func TestControlRefusesBadInput(t *testing.T) {
	good, baseline := CUSUM{Ratio: 2, Threshold: 3}, rates.Count{Events: 4, Exposure: 100}
	one := Watch{Expected: []float64{1}}
	u := func(events []int, exposure []float64, b rates.Count, level float64) func() error {
		return func() error { _, err := U(events, exposure, b, level); return err }
	}
	p := func(with, n []int, share, level float64) func() error {
		return func() error { _, err := P(with, n, share, level); return err }
	}
	g := func(gaps []int, b rates.Count, level float64) func() error {
		return func() error { _, err := G(gaps, b, level); return err }
	}
	path := func(c CUSUM, observed []int, expected []float64) func() error {
		return func() error { _, err := c.Path(observed, expected); return err }
	}
	length := func(c CUSUM, w Watch, periods int) func() error {
		return func() error { _, err := c.RunLength(w, periods); return err }
	}
	threshold := func(ratio float64, w Watch, budget float64) func() error {
		return func() error { _, err := Threshold(ratio, w, budget); return err }
	}
	for name, c := range map[string]struct {
		want error
		call func() error
	}{
		"u empty":             {stats.ErrEmpty, u(nil, nil, baseline, 0.95)},
		"u length":            {stats.ErrLength, u([]int{1}, nil, baseline, 0.95)},
		"u NaN":               {stats.ErrNotFinite, u([]int{1}, []float64{math.NaN()}, baseline, 0.95)},
		"u no exposure":       {stats.ErrRange, u([]int{1}, []float64{0}, baseline, 0.95)},
		"u no baseline":       {stats.ErrNoEvents, u([]int{1}, []float64{1}, rates.Count{Exposure: 10}, 0.95)},
		"u level":             {stats.ErrRange, u([]int{1}, []float64{1}, baseline, 1)},
		"u baseline exposure": {stats.ErrRange, u([]int{1}, []float64{1}, rates.Count{Events: 1}, 0.95)},
		"p empty":             {stats.ErrEmpty, p(nil, nil, 0.5, 0.95)},
		"p nobody":            {stats.ErrEmpty, p([]int{0}, []int{0}, 0.5, 0.95)},
		"p length":            {stats.ErrLength, p([]int{0}, nil, 0.5, 0.95)},
		"p too many":          {stats.ErrRange, p([]int{3}, []int{2}, 0.5, 0.95)},
		"p share":             {stats.ErrRange, p([]int{1}, []int{2}, 1.5, 0.95)},
		"p NaN":               {stats.ErrNotFinite, p([]int{1}, []int{2}, math.NaN(), 0.95)},
		"p level":             {stats.ErrRange, p([]int{1}, []int{2}, 0.5, 0)},
		"g empty":             {stats.ErrEmpty, g(nil, baseline, 0.95)},
		"g negative":          {stats.ErrRange, g([]int{-1}, baseline, 0.95)},
		"g every session":     {stats.ErrRange, g([]int{1}, rates.Count{Events: 5, Exposure: 5}, 0.95)},
		"g none":              {stats.ErrNoEvents, g([]int{1}, rates.Count{Exposure: 5}, 0.95)},
		"g NaN":               {stats.ErrNotFinite, g([]int{1}, rates.Count{Events: 5, Exposure: math.NaN()}, 0.95)},
		"g level":             {stats.ErrRange, g([]int{1}, baseline, 1)},
		"runs empty":          {stats.ErrEmpty, func() error { _, err := Runs(nil, 8); return err }},
		"runs of one":         {stats.ErrRange, func() error { _, err := Runs([]Point{{}}, 1); return err }},
		"runs mean NaN":       {stats.ErrNotFinite, func() error { _, err := RunsMean(8, math.NaN(), 0.5); return err }},
		"runs mean":           {stats.ErrRange, func() error { _, err := RunsMean(8, 0.7, 0.5); return err }},
		"runs mean beyond":    {stats.ErrRange, func() error { _, err := RunsMean(50, 1e-9, 1e-9); return err }},
		"path empty":          {stats.ErrEmpty, path(good, nil, nil)},
		"path length":         {stats.ErrLength, path(good, []int{1, 2}, []float64{1})},
		"path NaN":            {stats.ErrNotFinite, path(good, []int{1}, []float64{math.NaN()})},
		"path negative":       {stats.ErrRange, path(good, []int{-1}, []float64{1})},
		"expected negative":   {stats.ErrRange, path(good, []int{1}, []float64{-1})},
		"ratio 1":             {stats.ErrRange, path(CUSUM{Ratio: 1, Threshold: 1}, []int{1}, []float64{1})},
		"threshold 0":         {stats.ErrRange, path(CUSUM{Ratio: 2}, []int{1}, []float64{1})},
		"no periods":          {stats.ErrRange, length(good, one, 0)},
		"watch empty":         {stats.ErrEmpty, length(good, Watch{}, 1)},
		"watch zero":          {stats.ErrNoEvents, length(good, Watch{Expected: []float64{0}}, 1)},
		"watch ratio":         {stats.ErrRange, length(good, Watch{Expected: []float64{1}, TrueRatio: -1}, 1)},
		"watch ratio NaN":     {stats.ErrNotFinite, length(good, Watch{Expected: []float64{1}, TrueRatio: math.NaN()}, 1)},
		"budget":              {stats.ErrRange, threshold(2, one, 0)},
		"budget NaN":          {stats.ErrRange, threshold(2, one, math.NaN())},
		"threshold watch":     {stats.ErrEmpty, threshold(2, Watch{}, 0.1)},
		"threshold zero":      {stats.ErrNoEvents, threshold(2, Watch{Expected: []float64{0}}, 0.1)},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}
