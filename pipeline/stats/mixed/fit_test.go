package mixed_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/mixed"
	"evenlimb/pipeline/testkit"
)

func fit(t *testing.T, data mixed.Data) *mixed.Model {
	t.Helper()
	m, err := mixed.Fit(data, mixed.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// By hand, three groups of two: means 2, 6, 10 about 6.
//
//	between: 2 (16+0+16) / 2 = 32; within: (2+2+2) / 3 = 2
//	residual variance 2, group variance (32-2)/2 = 15
//	standard error of the mean sqrt(32/6), on 2 degrees of freedom
//	effects (-4, 0, 4) times 30/32, spread sqrt(15 (1 - 30/32))
//	-2 logLik = 5 log 2pi + 3 log(32*2) + log(6/32) + 64/32 + 6/2
func TestRandomInterceptByHand(t *testing.T) {
	m := fit(t, mixed.Data{
		Y: []float64{1, 3, 5, 7, 9, 11}, Columns: [][]float64{ones(6)}, Names: []string{"mean"},
		Group: mixed.Random{Group: []int{7, 7, 3, 3, 9, 9}},
	})
	testkit.AlmostEqual(t, "mean", m.Coef[0], 6, 1e-12)
	testkit.AlmostEqual(t, "error", m.SE[0], math.Sqrt(32.0/6), 1e-9)
	testkit.AlmostEqual(t, "df", m.DF[0], 2, 1e-8)
	testkit.AlmostEqual(t, "variance of the mean", m.Covariance[0][0], 32.0/6, 1e-9)
	testkit.AlmostEqual(t, "residual", m.ResidualSD, math.Sqrt(2), 1e-9)
	testkit.AlmostEqual(t, "group", m.Group.InterceptSD, math.Sqrt(15), 1e-9)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, -(5*math.Log(2*math.Pi)+3*math.Log(64)+math.Log(6.0/32)+5)/2, 1e-12)
	groups, above := m.Effects()
	if len(above) != 0 || len(groups) != 3 {
		t.Fatalf("%d effects, %d above", len(groups), len(above))
	}
	for i, want := range []mixed.GroupEffect{{Group: 7, Intercept: -3.75}, {Group: 3}, {Group: 9, Intercept: 3.75}} {
		if groups[i].Group != want.Group {
			t.Errorf("effect %d of group %d, want %d", i, groups[i].Group, want.Group)
		}
		testkit.AlmostEqual(t, "effect", groups[i].Intercept, want.Intercept, 1e-8)
		testkit.AlmostEqual(t, "spread", groups[i].InterceptSD, math.Sqrt(15.0/16), 1e-8)
	}
}

// By hand, three people seen at -1, 0, 1 whose own lines are (10,1), (12,3),
// (14,2), with remainders r(1,-2,1), r = 0.1, 0.2, 0.2. Z'Z = diag(3,2).
//
//	residual variance (6*0.01 + 6*0.04 + 6*0.04) / 3 = 0.18
//	covariance of the lines: intercept 4, slope 1, both (-2*-1 + 0*1 + 2*0)/2 = 1
//	effects: intercept 4 - 0.18/3 = 3.94, slope 1 - 0.18/2 = 0.91, both 1
//	mean line (12, 2) with errors sqrt(4/3), sqrt(1/3), on 2 degrees of freedom
func TestRandomSlopeByHand(t *testing.T) {
	x := []float64{-1, 0, 1, -1, 0, 1, -1, 0, 1}
	var y []float64
	for i, line := range [][3]float64{{10, 1, 0.1}, {12, 3, 0.2}, {14, 2, 0.2}} {
		for k := range 3 {
			y = append(y, line[0]+line[1]*x[3*i+k]+line[2]*[]float64{1, -2, 1}[k])
		}
	}
	m := fit(t, mixed.Data{
		Y: y, Columns: [][]float64{ones(9), x}, Names: []string{"level", "slope"},
		Group: mixed.Random{Group: []int{1, 1, 1, 2, 2, 2, 3, 3, 3}, Slope: x},
	})
	testkit.AllAlmostEqual(t, "line", m.Coef, []float64{12, 2}, 1e-11)
	testkit.AllAlmostEqual(t, "errors", m.SE, []float64{math.Sqrt(4.0 / 3), math.Sqrt(1.0 / 3)}, 1e-9)
	testkit.AllAlmostEqual(t, "df", m.DF, []float64{2, 2}, 1e-8)
	testkit.AlmostEqual(t, "covariance", m.Covariance[0][1], 1.0/3, 1e-9)
	testkit.AlmostEqual(t, "residual", m.ResidualSD, math.Sqrt(0.18), 1e-9)
	testkit.AlmostEqual(t, "level", m.Group.InterceptSD, math.Sqrt(3.94), 1e-9)
	testkit.AlmostEqual(t, "slope", m.Group.SlopeSD, math.Sqrt(0.91), 1e-9)
	testkit.AlmostEqual(t, "correlation", m.Group.Correlation, 1/math.Sqrt(3.94*0.91), 1e-9)

	// 2 degrees of freedom: the 97.5 % point of t is 4.302652729911275.
	c, err := m.Combine([]float64{0, 1}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "low", c.Low, 2-4.302652729911275*math.Sqrt(1.0/3), 1e-8)
	testkit.AlmostEqual(t, "high", c.High, 2+4.302652729911275*math.Sqrt(1.0/3), 1e-8)
	testkit.AlmostEqual(t, "t", c.T, 2/math.Sqrt(1.0/3), 1e-8)
	// P(|t| > x) on 2 degrees of freedom is 1 - x/sqrt(2 + x^2), x^2 = 12.
	testkit.AlmostEqual(t, "p", c.P, 1-math.Sqrt(12.0/14), 1e-8)
	if c.N != 9 || c.Level != 0.95 {
		t.Errorf("N %d, level %v", c.N, c.Level)
	}
}

// episodes makes unbalanced data: people with one to three episodes.
func episodes(rng *rand.Rand, people int) mixed.Data {
	d := mixed.Data{Names: []string{"constant", "week", "severe"}, Columns: make([][]float64, 3), Above: &mixed.Random{}}
	episode := 0
	for person := range people {
		base := 6 * rng.NormFloat64()
		for range 1 + rng.IntN(3) {
			episode++
			level, slope := 4*rng.NormFloat64(), 0.5*rng.NormFloat64()
			severe := float64(rng.IntN(2))
			for range 2 + rng.IntN(6) {
				week := 20 * rng.Float64()
				d.Y = append(d.Y, 80+base+level+(1+slope)*week-5*severe+3*rng.NormFloat64())
				for j, x := range []float64{1, week, severe} {
					d.Columns[j] = append(d.Columns[j], x)
				}
				d.Group.Group = append(d.Group.Group, episode)
				d.Above.Group = append(d.Above.Group, person)
			}
		}
	}
	d.Group.Slope = d.Columns[1]
	return d
}

func clone(d mixed.Data) mixed.Data {
	out := mixed.Data{Y: slices.Clone(d.Y), Names: slices.Clone(d.Names)}
	for _, c := range d.Columns {
		out.Columns = append(out.Columns, slices.Clone(c))
	}
	out.Group = mixed.Random{Group: slices.Clone(d.Group.Group), Slope: slices.Clone(d.Group.Slope)}
	if d.Above != nil {
		out.Above = &mixed.Random{Group: slices.Clone(d.Above.Group), Slope: slices.Clone(d.Above.Slope)}
	}
	return out
}

// same compares two fits whose coefficients and spreads differ by known factors.
func same(t *testing.T, what string, got, want *mixed.Model, factor float64) {
	t.Helper()
	scaled := func(xs []float64) []float64 {
		out := slices.Clone(xs)
		for i := range out {
			out[i] *= factor
		}
		return out
	}
	testkit.AllAlmostEqual(t, what+": coefficients", got.Coef, scaled(want.Coef), 1e-8)
	testkit.AllAlmostEqual(t, what+": errors", got.SE, scaled(want.SE), 1e-8)
	testkit.AllAlmostEqual(t, what+": df", got.DF, want.DF, 1e-7)
	testkit.AllAlmostEqual(t, what+": spreads",
		[]float64{got.ResidualSD, got.Group.InterceptSD, got.Group.SlopeSD, got.Above.InterceptSD},
		scaled([]float64{want.ResidualSD, want.Group.InterceptSD, want.Group.SlopeSD, want.Above.InterceptSD}), 1e-7)
}

func TestFitProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 3))
	data := episodes(rng, 40)
	before := clone(data)
	want := fit(t, data)
	if !slices.Equal(before.Y, data.Y) || !slices.Equal(before.Columns[1], data.Columns[1]) || !slices.Equal(before.Group.Group, data.Group.Group) {
		t.Error("inputs changed")
	}

	shuffled := clone(data)
	rng.Shuffle(len(data.Y), func(i, j int) {
		y, g, a := shuffled.Y, shuffled.Group, shuffled.Above.Group
		y[i], y[j] = y[j], y[i]
		g.Group[i], g.Group[j] = g.Group[j], g.Group[i]
		g.Slope[i], g.Slope[j] = g.Slope[j], g.Slope[i]
		a[i], a[j] = a[j], a[i]
		for _, c := range shuffled.Columns {
			c[i], c[j] = c[j], c[i]
		}
	})
	same(t, "rows in another order", fit(t, shuffled), want, 1)

	scaled := clone(data)
	for i := range scaled.Y {
		scaled.Y[i] *= 1e6
	}
	same(t, "another unit of the outcome", fit(t, scaled), want, 1e6)

	moved := clone(data)
	for i := range moved.Y {
		moved.Y[i] += 1000*moved.Columns[0][i] - 30*moved.Columns[1][i]
	}
	shifted := fit(t, moved)
	shifted.Coef[0] -= 1000
	shifted.Coef[1] += 30
	same(t, "a known line added", shifted, want, 1)

	// A variable far from zero, such as a calendar year, changes nothing but
	// the meaning of the intercept.
	years := clone(data)
	for i := range years.Columns[1] {
		years.Columns[1][i] += 20240
		years.Group.Slope[i] += 20240
	}
	far := fit(t, years)
	testkit.AlmostEqual(t, "slope far from zero", far.Coef[1], want.Coef[1], 1e-8)
	testkit.AlmostEqual(t, "its error", far.SE[1], want.SE[1], 1e-7)
	testkit.AlmostEqual(t, "log-likelihood", far.LogLik, want.LogLik, 1e-9)
}

func TestMeanCurveIsTheMeanOfItsRows(t *testing.T) {
	m := fit(t, episodes(rand.New(rand.NewPCG(2, 9)), 30))
	points := [][][]float64{{{1, 6, 0}, {1, 6, 1}}, {{1, 12, 0}, {1, 12, 1}}}
	curve, err := m.MeanCurve(points, []float64{3, 1}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	for i, week := range []float64{6, 12} {
		want, err := m.Combine([]float64{1, week, 0.25}, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, "point", []float64{curve[i].Value, curve[i].SE, curve[i].Low, curve[i].High, curve[i].DF, curve[i].T, curve[i].P, curve[i].Level},
			[]float64{want.Value, want.SE, want.Low, want.High, want.DF, want.T, want.P, 0.9}, 1e-12)
	}
	// A difference between the points of two mixes, whose p-value is not tiny.
	apart, err := m.MeanCurve([][][]float64{{{0, 0.1, 0}, {0, 0.1, 0.1}}}, nil, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	want, err := m.Combine([]float64{0, 0.1, 0.05}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	if want.P < 1e-3 {
		t.Fatalf("p %v is too small to compare", want.P)
	}
	testkit.AlmostEqual(t, "p", apart[0].P, want.P, 1e-12)

	even, err := m.MeanCurve(points, nil, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "even mix", even[0].Value, m.Coef[0]+6*m.Coef[1]+m.Coef[2]/2, 1e-12)
}

// Data drawn from the model: its intervals cover the truth as often as they say.
func TestIntervalsCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 24))
	const runs, people = 400, 12
	covered := 0
	for range runs {
		var d mixed.Data
		d.Columns, d.Names = make([][]float64, 2), []string{"constant", "week"}
		for person := range people {
			level, slope := 3*rng.NormFloat64(), 0.4*rng.NormFloat64()
			for k := range 2 + person%4 {
				week := float64(4 * k)
				d.Y = append(d.Y, 90+level+(0.5+slope)*week+2*rng.NormFloat64())
				d.Columns[0], d.Columns[1] = append(d.Columns[0], 1), append(d.Columns[1], week)
				d.Group.Group = append(d.Group.Group, person)
			}
		}
		d.Group.Slope = d.Columns[1]
		c, err := fit(t, d).Combine([]float64{1, 8}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if c.Low <= 94 && 94 <= c.High {
			covered++
		}
	}
	// Monte Carlo error of 0.95 over 400 runs is 0.011; four of them.
	if share := float64(covered) / runs; math.Abs(share-0.95) > 0.044 {
		t.Errorf("intervals cover in %v of the runs", share)
	}
}

func TestFitRefuses(t *testing.T) {
	good := func() mixed.Data { return episodes(rand.New(rand.NewPCG(5, 5)), 8) }
	for name, c := range map[string]struct {
		spoil func(*mixed.Data)
		want  error
	}{
		"no rows":            {func(d *mixed.Data) { d.Y = nil }, stats.ErrEmpty},
		"no columns":         {func(d *mixed.Data) { d.Columns, d.Names = nil, nil }, stats.ErrEmpty},
		"names missing":      {func(d *mixed.Data) { d.Names = d.Names[:1] }, stats.ErrLength},
		"short column":       {func(d *mixed.Data) { d.Columns[1] = d.Columns[1][1:] }, stats.ErrLength},
		"short groups":       {func(d *mixed.Data) { d.Group.Group = d.Group.Group[1:] }, stats.ErrLength},
		"short slope":        {func(d *mixed.Data) { d.Group.Slope = d.Group.Slope[1:] }, stats.ErrLength},
		"short level above":  {func(d *mixed.Data) { d.Above.Group = d.Above.Group[1:] }, stats.ErrLength},
		"NaN outcome":        {func(d *mixed.Data) { d.Y[3] = math.NaN() }, stats.ErrNotFinite},
		"infinite covariate": {func(d *mixed.Data) { d.Columns[2][3] = math.Inf(1) }, stats.ErrNotFinite},
		"NaN slope": {func(d *mixed.Data) {
			d.Group.Slope = slices.Clone(d.Group.Slope)
			d.Group.Slope[0] = math.NaN()
		}, stats.ErrNotFinite},
		"one group":              {func(d *mixed.Data) { d.Group.Group, d.Above = make([]int, len(d.Y)), nil }, stats.ErrOneGroup},
		"one person":             {func(d *mixed.Data) { d.Above.Group = make([]int, len(d.Y)) }, stats.ErrOneGroup},
		"constant slope":         {func(d *mixed.Data) { d.Group.Slope = ones(len(d.Y)) }, stats.ErrNoVariation},
		"a group in two persons": {func(d *mixed.Data) { d.Above.Group[0] = -1 }, stats.ErrRange},
		"copied column":          {func(d *mixed.Data) { copy(d.Columns[2], d.Columns[0]) }, stats.ErrCollinear},
		"column of zero":         {func(d *mixed.Data) { clear(d.Columns[2]) }, stats.ErrCollinear},
		"rows alone": {func(d *mixed.Data) {
			for i := range d.Group.Group {
				d.Group.Group[i], d.Above.Group[i] = i, i/2
			}
			d.Group.Slope = nil
		}, stats.ErrTooFew},
		"fewer rows than columns": {func(d *mixed.Data) {
			d.Y = d.Y[:3]
			for j := range d.Columns {
				d.Columns[j] = d.Columns[j][:3]
			}
			d.Group, d.Above = mixed.Random{Group: []int{1, 1, 2}}, nil
		}, stats.ErrTooFew},
		"constant outcome": {func(d *mixed.Data) { copy(d.Y, ones(len(d.Y))) }, stats.ErrNoVariation},
		"exact line": {func(d *mixed.Data) {
			for i := range d.Y {
				d.Y[i] = 3 - 2*d.Columns[1][i]
			}
		}, stats.ErrNoVariation},
		"outcome the same within each group": {func(d *mixed.Data) {
			for i := range d.Y {
				d.Y[i] = float64(d.Group.Group[i] * d.Group.Group[i])
			}
			d.Columns, d.Names, d.Group.Slope, d.Above = d.Columns[:1], d.Names[:1], nil, nil
		}, stats.ErrNoVariation},
	} {
		data := good()
		c.spoil(&data)
		m, err := mixed.Fit(data, mixed.Options{})
		if !errors.Is(err, c.want) || m != nil {
			t.Errorf("%s: error %v, want %v", name, err, c.want)
		}
	}
}

func TestCombineAndMeanCurveRefuse(t *testing.T) {
	m := fit(t, episodes(rand.New(rand.NewPCG(5, 5)), 8))
	for name, c := range map[string]struct {
		weights []float64
		level   float64
		want    error
	}{
		"too few weights": {[]float64{1}, 0.95, stats.ErrLength},
		"NaN weight":      {[]float64{1, math.NaN(), 0}, 0.95, stats.ErrNotFinite},
		"no weight":       {[]float64{0, 0, 0}, 0.95, stats.ErrNoVariation},
		"level 1":         {[]float64{1, 0, 0}, 1, stats.ErrRange},
	} {
		if _, err := m.Combine(c.weights, c.level); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", name, err, c.want)
		}
	}
	row := [][][]float64{{{1, 2, 0}, {1, 2, 1}}}
	for name, c := range map[string]struct {
		points [][][]float64
		share  []float64
		want   error
	}{
		"no points":      {nil, nil, stats.ErrEmpty},
		"no rows":        {[][][]float64{{}}, nil, stats.ErrEmpty},
		"short row":      {[][][]float64{{{1}}}, nil, stats.ErrLength},
		"one share":      {row, []float64{1}, stats.ErrLength},
		"NaN share":      {row, []float64{1, math.NaN()}, stats.ErrNotFinite},
		"negative share": {row, []float64{2, -1}, stats.ErrRange},
		"no share":       {row, []float64{0, 0}, stats.ErrRange},
	} {
		if _, err := m.MeanCurve(c.points, c.share, 0.95); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", name, err, c.want)
		}
	}
}
