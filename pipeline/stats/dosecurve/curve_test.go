package dosecurve_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/dosecurve"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/stats/spline"
	"evenlimb/pipeline/testkit"
)

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// By hand: at share 0.3 of 10 20 30 50 the position is 0.9, so 10 + 0.9*10.
func TestQuantileByHand(t *testing.T) {
	q, err := dosecurve.Quantile([]float64{30, 10, 50, 20}, 0.3)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "quantile", q, 19, 1e-14)
}

// By hand: bands 0 to 2, 2 to 4 and 4 to 6. A dose on an edge belongs to the band
// that begins there, on the last edge to the last band; 7 lies outside.
func TestBandsByHand(t *testing.T) {
	dose := []float64{0, 1, 2, 6, 4, 7, -1}
	response := []float64{1, 3, 10, 5, 5, 99, 99}
	bands, err := dosecurve.Bands(dose, response, []float64{0, 2, 4, 6, 8}, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	// One degree of freedom: the quartile of t is 1, so Low and High are one error away.
	for k, want := range []dosecurve.Band{
		{From: 0, To: 2, MedianDose: 0.5, Mean: stats.Estimate{Value: 2, SE: 1, Low: 1, High: 3, N: 2}},
		{From: 2, To: 4, MedianDose: 2, Mean: stats.Estimate{Value: 10, Low: 10, High: 10, N: 1, Warnings: []stats.Warning{{Code: "one-person"}}}},
		{From: 4, To: 6, MedianDose: 4, Mean: stats.Estimate{Value: 5, Low: 5, High: 5, N: 1, Warnings: []stats.Warning{{Code: "one-person"}}}},
		{From: 6, To: 8, MedianDose: 6.5, Mean: stats.Estimate{Value: 52, SE: 47, Low: 5, High: 99, N: 2}},
	} {
		b := bands[k]
		testkit.AllAlmostEqual(t, "band", []float64{b.From, b.To, b.MedianDose, b.Mean.Value, b.Mean.SE, b.Mean.Low, b.Mean.High, b.Mean.Level},
			[]float64{want.From, want.To, want.MedianDose, want.Mean.Value, want.Mean.SE, want.Mean.Low, want.Mean.High, 0.5}, 1e-9)
		if b.Mean.N != want.Mean.N || b.Mean.Missing != 1 || len(b.Mean.Warnings) != len(want.Mean.Warnings) {
			t.Errorf("band %d: N %d, missing %d, warnings %v", k, b.Mean.N, b.Mean.Missing, b.Mean.Warnings)
		}
	}
	last, err := dosecurve.Bands(dose, response, []float64{4, 6}, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if b := last[0]; b.Mean.N != 2 || b.Mean.Missing != 5 || b.MedianDose != 5 || b.Mean.Warnings[0].Code != "no-spread" {
		t.Errorf("last band %+v", b)
	}
	empty, err := dosecurve.Bands(dose, response, []float64{10, 11}, 0.5)
	if err != nil || empty[0].Mean.N != 0 || empty[0].Mean.Value != 0 {
		t.Errorf("empty band %+v, %v", empty, err)
	}
}

// By hand: the lower third of 1..6 is 1, 2 and the upper 5, 6; responses 0, 2 and
// 10, 12. Difference 10, each mean has variance 1, Welch's degrees of freedom
// are 4/(1+1) = 2, where t at 0.975 is 4.302652729911275.
func TestThirdsByHand(t *testing.T) {
	e, err := dosecurve.Thirds([]float64{1, 2, 3, 4, 5, 6}, []float64{0, 2, 50, -50, 10, 12}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	half := 4.302652729911275 * math.Sqrt2
	testkit.AllAlmostEqual(t, "thirds", []float64{e.Value, e.SE, e.Low, e.High, e.Level}, []float64{10, math.Sqrt2, 10 - half, 10 + half, 0.95}, 1e-9)
	if e.N != 4 || e.Missing != 2 {
		t.Errorf("N %d, missing %d", e.N, e.Missing)
	}
}

// emaxByHand has two persons at each of three doses, 0.1 above and below
// 2 + 6 d/(1+d): the three parameters meet the three means.
func emaxByHand() dosecurve.EmaxData {
	return dosecurve.EmaxData{
		Response: []float64{2.1, 1.9, 5.1, 4.9, 6.6, 6.4}, Dose: []float64{0, 0, 1, 1, 3, 3},
		Columns: [][]float64{ones(6)}, Names: []string{"start"},
	}
}

// By hand: the remaining variance is 6*0.01/3 = 0.02; a difference of two means
// of two has variance 0.02, on 3 degrees of freedom, where t at 0.975 is
// 3.182446305284263.
func TestEmaxByHand(t *testing.T) {
	e, err := dosecurve.FitEmax(emaxByHand())
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "curve", []float64{e.Model.Coef[0], e.Emax, e.ED50, e.Model.ResidualSD}, []float64{2, 6, 1, math.Sqrt(0.02)}, 1e-10)
	testkit.AlmostEqual(t, "AIC", e.AIC, 6*(math.Log(2*math.Pi*0.01)+1)+8, 1e-10)
	d, err := e.Difference(3, 1, e.Model.ModelBased(), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	se := math.Sqrt(0.02)
	half := 3.182446305284263 * se
	testkit.AllAlmostEqual(t, "difference", []float64{d.Value, d.SE, d.Low, d.High, d.Level, d.DF, d.T}, []float64{1.5, se, 1.5 - half, 1.5 + half, 0.95, 3, 1.5 / se}, 1e-8)
	// A small difference, whose p-value can be compared: on 3 degrees of freedom
	// P(|t| > u) = 1 - 2/pi (atan(v) + v/(1+v^2)), v = u/sqrt(3).
	d, err = e.Difference(1.01, 1, e.Model.ModelBased(), 0.95)
	if err != nil {
		t.Fatal(err)
	}
	v := math.Abs(d.T) / math.Sqrt(3)
	testkit.AlmostEqual(t, "p", d.P, 1-2/math.Pi*(math.Atan(v)+v/(1+v*v)), 1e-8)
}

// With bounds that leave the best ED50 out the curve is the straight regression
// on dose/(bound+dose).
func TestEmaxAtBound(t *testing.T) {
	data := emaxByHand()
	data.ED50Low, data.ED50High = 2, 5
	e, err := dosecurve.FitEmax(data)
	if err != nil {
		t.Fatal(err)
	}
	if !e.AtBound || len(e.Warnings) != 1 || e.Warnings[0].Code != "ed50-at-bound" {
		t.Errorf("at bound %v, warnings %v", e.AtBound, e.Warnings)
	}
	shares := []float64{0, 0, 1.0 / 3, 1.0 / 3, 0.6, 0.6}
	m, err := regress.LeastSquares(regress.Data{Y: data.Response, Columns: [][]float64{ones(6), shares}, Names: []string{"start", "share"}})
	if err != nil {
		t.Fatal(err)
	}
	want, err := m.Combine([]float64{0, 0.6 - 1.0/3}, m.ModelBased(), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	got, err := e.Difference(3, 1, e.Model.ModelBased(), 0.9)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "difference", []float64{e.ED50, got.Value, got.SE, got.Low, got.High}, []float64{2, want.Value, want.SE, want.Low, want.High}, 1e-10)
	if len(got.Warnings) != 1 {
		t.Errorf("warnings of the difference %v", got.Warnings)
	}

	// A straight line has no ED50: the search runs to its upper bound.
	line := dosecurve.EmaxData{Dose: []float64{0, 1, 2, 3, 4, 5}, Response: []float64{0.1, 0.9, 2.1, 2.9, 4.1, 4.9}, Columns: [][]float64{ones(6)}, Names: []string{"start"}}
	e, err = dosecurve.FitEmax(line)
	if err != nil {
		t.Fatal(err)
	}
	if !e.AtBound || e.ED50 < 49.9 {
		t.Errorf("straight line: ED50 %v, at bound %v", e.ED50, e.AtBound)
	}
}

// Doses that differ little against their size: low starts see a constant and
// are passed over.
func TestEmaxWithDosesFarFromZero(t *testing.T) {
	data := emaxByHand()
	data.Dose = []float64{1e6, 1e6, 1e6 + 1, 1e6 + 1, 1e6 + 3, 1e6 + 3}
	e, err := dosecurve.FitEmax(data)
	if err == nil && (math.IsNaN(e.Emax+e.ED50+e.AIC) || len(e.Warnings) == 0) {
		t.Errorf("fit %v %v without a warning", e.Emax, e.ED50)
	}
	if err != nil && !errors.Is(err, stats.ErrCollinear) {
		t.Error(err)
	}
	// A thousandth of them is within reach.
	for i := range data.Dose {
		data.Dose[i] = 1e3 + 10*float64(i)
	}
	if _, err = dosecurve.FitEmax(data); err != nil {
		t.Error(err)
	}
}

func TestEmaxProperties(t *testing.T) {
	data := noisy(rand.New(rand.NewPCG(6, 1)), 60)
	before := slices.Clone(data.Response)
	want, err := dosecurve.FitEmax(data)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(before, data.Response) {
		t.Error("inputs changed")
	}
	other := data
	other.Dose, other.Response = slices.Clone(data.Dose), slices.Clone(data.Response)
	slices.Reverse(other.Dose)
	slices.Reverse(other.Response)
	for i := range other.Dose {
		other.Dose[i] *= 1000
		other.Response[i] *= -2
	}
	got, err := dosecurve.FitEmax(other)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "other units and order", []float64{got.ED50, got.Emax, got.Model.ResidualSD},
		[]float64{1000 * want.ED50, -2 * want.Emax, 2 * want.Model.ResidualSD}, 1e-7)
}

func noisy(rng *rand.Rand, n int) dosecurve.EmaxData {
	d := dosecurve.EmaxData{Columns: [][]float64{ones(n)}, Names: []string{"start"}}
	for range n {
		dose := 20 * rng.Float64()
		d.Dose = append(d.Dose, dose)
		d.Response = append(d.Response, 5+10*dose/(4+dose)+rng.NormFloat64())
	}
	return d
}

func TestEmaxIntervalCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	const runs = 300
	covered := 0
	for range runs {
		e, err := dosecurve.FitEmax(noisy(rng, 60))
		if err != nil {
			t.Fatal(err)
		}
		d, err := e.Difference(15, 5, e.Model.ModelBased(), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if truth := 10*15/19.0 - 10*5/9.0; d.Low <= truth && truth <= d.High {
			covered++
		}
	}
	// Monte Carlo error 0.0126; four of them.
	if share := float64(covered) / runs; math.Abs(share-0.95) > 0.05 {
		t.Errorf("intervals cover in %v of the runs", share)
	}
}

func TestSmoothWeights(t *testing.T) {
	dose := []float64{3, 1, 4, 1.5, 9, 2.6, 5, 3.5, 8, 9.7, 9.3, 2.3}
	s, err := dosecurve.NewSmooth(dose)
	if err != nil {
		t.Fatal(err)
	}
	basis, err := spline.NewNatural(s.Knots, s.Low, s.High, false)
	if err != nil {
		t.Fatal(err)
	}
	constant, line := basis.Line()
	columns, err := s.Columns([]float64{7})
	if err != nil {
		t.Fatal(err)
	}
	straight := constant
	for j := range line {
		straight += line[j] * columns[j][0]
	}
	testkit.AlmostEqual(t, "line through the columns", straight, 7, 1e-12)
	for j, row := range s.Relation() {
		want := make([]float64, 4)
		want[j] = 1
		testkit.AllAlmostEqual(t, "relation", row, want, 0)
	}
	for j, row := range s.Curvature() {
		want := make([]float64, 4)
		want[0], want[j+1] = -line[j+1], line[0]
		testkit.AllAlmostEqual(t, "curvature", row, want, 0)
	}
	// Contrasts add up along the way, and a line rises by its length.
	ab, errA := s.Contrast(8, 2)
	bc, errB := s.Contrast(2, 1)
	ac, errC := s.Contrast(8, 1)
	if errA != nil || errB != nil || errC != nil {
		t.Fatal(errA, errB, errC)
	}
	rise := 0.0
	for j := range ac {
		testkit.AlmostEqual(t, "contrast", ab[j]+bc[j], ac[j], 1e-12)
		rise += ac[j] * line[j]
	}
	testkit.AlmostEqual(t, "rise", rise, 7, 1e-12)
}

func TestDoseRefuses(t *testing.T) {
	nan := math.NaN()
	d, r := []float64{0, 1, 2, 3}, []float64{1, 2, 4, 3}
	emax := func(change func(*dosecurve.EmaxData)) func() error {
		return func() error {
			data := emaxByHand()
			change(&data)
			_, err := dosecurve.FitEmax(data)
			return err
		}
	}
	fitted, err := dosecurve.FitEmax(emaxByHand())
	if err != nil {
		t.Fatal(err)
	}
	differ := func(a, b, level float64) func() error {
		return func() error { _, err := fitted.Difference(a, b, fitted.Model.ModelBased(), level); return err }
	}
	bands := func(d, r, edges []float64, level float64) func() error {
		return func() error { _, err := dosecurve.Bands(d, r, edges, level); return err }
	}
	thirds := func(d, r []float64, level float64) func() error {
		return func() error { _, err := dosecurve.Thirds(d, r, level); return err }
	}
	quantile := func(d []float64, share float64) func() error {
		return func() error { _, err := dosecurve.Quantile(d, share); return err }
	}
	smooth := func(d []float64) func() error {
		return func() error { _, err := dosecurve.NewSmooth(d); return err }
	}
	for name, c := range map[string]struct {
		call func() error
		want error
	}{
		"quantile of nothing":      {quantile(nil, 0.5), stats.ErrEmpty},
		"quantile of NaN":          {quantile([]float64{nan}, 0.5), stats.ErrNotFinite},
		"quantile share":           {quantile(d, 1.5), stats.ErrRange},
		"bands of nothing":         {bands(nil, nil, d, 0.95), stats.ErrEmpty},
		"bands length":             {bands(d, r[1:], d, 0.95), stats.ErrLength},
		"bands NaN dose":           {bands([]float64{nan}, []float64{1}, d, 0.95), stats.ErrNotFinite},
		"bands NaN response":       {bands([]float64{1}, []float64{nan}, d, 0.95), stats.ErrNotFinite},
		"bands level":              {bands(d, r, d, 0), stats.ErrRange},
		"bands with one edge":      {bands(d, r, d[:1], 0.95), stats.ErrTooFew},
		"bands edges":              {bands(d, r, []float64{1, 1}, 0.95), stats.ErrRange},
		"bands NaN edge":           {bands(d, r, []float64{1, nan}, 0.95), stats.ErrNotFinite},
		"thirds of nothing":        {thirds(nil, nil, 0.95), stats.ErrEmpty},
		"thirds of one dose":       {thirds(ones(9), make([]float64, 9), 0.95), stats.ErrTooFew},
		"thirds without spread":    {thirds([]float64{1, 2, 3, 4, 5, 6}, []float64{1, 1, 1, 2, 2, 2}, 0.95), stats.ErrNoVariation},
		"curve of nothing":         {smooth(nil), stats.ErrEmpty},
		"curve of one dose":        {smooth(ones(9)), stats.ErrTooFew},
		"curve of few doses":       {smooth([]float64{1, 1, 1, 2, 3, 4}), stats.ErrTooFew},
		"emax of nothing":          {emax(func(e *dosecurve.EmaxData) { e.Response = nil }), stats.ErrEmpty},
		"emax dose missing":        {emax(func(e *dosecurve.EmaxData) { e.Dose = e.Dose[1:] }), stats.ErrLength},
		"emax column missing":      {emax(func(e *dosecurve.EmaxData) { e.Columns[0] = e.Columns[0][1:] }), stats.ErrLength},
		"emax NaN dose":            {emax(func(e *dosecurve.EmaxData) { e.Dose[0] = nan }), stats.ErrNotFinite},
		"emax NaN response":        {emax(func(e *dosecurve.EmaxData) { e.Response[0] = nan }), stats.ErrNotFinite},
		"emax negative dose":       {emax(func(e *dosecurve.EmaxData) { e.Dose[0] = -1 }), stats.ErrRange},
		"emax without dose":        {emax(func(e *dosecurve.EmaxData) { e.Dose = make([]float64, 6) }), stats.ErrNoVariation},
		"emax one dose":            {emax(func(e *dosecurve.EmaxData) { e.Dose = ones(6) }), stats.ErrCollinear},
		"emax bounds":              {emax(func(e *dosecurve.EmaxData) { e.ED50Low, e.ED50High = 3, 2 }), stats.ErrRange},
		"emax endless bounds":      {emax(func(e *dosecurve.EmaxData) { e.ED50Low, e.ED50High = 3, math.Inf(1) }), stats.ErrRange},
		"emax constant response":   {emax(func(e *dosecurve.EmaxData) { e.Response = ones(6) }), stats.ErrNoVariation},
		"emax three persons":       {emax(func(e *dosecurve.EmaxData) { cut(e, 2) }), stats.ErrTooFew},
		"difference negative dose": {differ(-1, 1, 0.95), stats.ErrRange},
		"difference NaN dose":      {differ(nan, 1, 0.95), stats.ErrNotFinite},
		"difference of nothing":    {differ(1, 1, 0.95), stats.ErrNoVariation},
		"difference level":         {differ(2, 1, 1), stats.ErrRange},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", name, err, c.want)
		}
	}
	s, err := dosecurve.NewSmooth([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Contrast(nan, 1); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("contrast: %v", err)
	}
	if _, err := s.Contrast(1, nan); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("contrast: %v", err)
	}
}

func cut(e *dosecurve.EmaxData, n int) {
	e.Response, e.Dose, e.Columns[0] = e.Response[:n], e.Dose[1:n+1], e.Columns[0][:n]
}
