package cox

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/testkit"
)

// Events on days 1 (x = 1), 2 (x = 0) and 3 (x = 1), day 4 censored (x = 0).
// With r = exp(b) the partial likelihood is
//
//	r/(2r+2) x 1/(r+2) x r/(r+1)
//
// whose slope is 0 where r^2 - r - 4 = 0, r = (1 + sqrt 17)/2; the information
// is 2r/(r+1)^2 + 2r/(r+2)^2. The hazard at x = 0 rises by 1/(2r+2), 1/(r+2)
// and 1/(r+1). At b = 0 the score is 1/2 - 1/3 + 1/2 = 2/3, the information
// 1/4 + 2/9 + 1/4 = 13/18, the score test (2/3)^2/(13/18) = 8/13.
func byHand() Data {
	return Data{
		Data: survival.Data{Time: []float64{4, 1, 3, 2}, Event: []int{0, 1, 1, 1}},
		X:    [][]float64{{0, 1, 1, 0}},
	}
}

func TestCoxByHand(t *testing.T) {
	// The information is that of the last point but one, a millionth of a
	// standard error away.
	const exact, near = 1e-12, 1e-9
	m := mustFit(t, byHand(), Options{})
	r := (1 + math.Sqrt(17)) / 2
	info := 2*r/((r+1)*(r+1)) + 2*r/((r+2)*(r+2))
	testkit.AlmostEqual(t, "coefficient", m.Coef[0], math.Log(r), exact)
	testkit.AlmostEqual(t, "variance", m.Cov.At(0, 0), 1/info, near)
	testkit.AlmostEqual(t, "likelihood", m.LogLik, math.Log(r*r/(2*(r+1)*(r+1)*(r+2))), exact)
	score, err := m.Score()
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "score test", score.Statistic, 8./13, exact)
	testkit.AlmostEqual(t, "its p", score.P, math.Erfc(math.Sqrt(4./13)), exact) // one degree of freedom
	ratioTest := m.LikelihoodRatio()
	testkit.AlmostEqual(t, "likelihood ratio", ratioTest.Statistic, 2*(m.LogLik-math.Log(1./24)), exact)
	testkit.AlmostEqual(t, "its p", ratioTest.P, math.Erfc(math.Sqrt(ratioTest.Statistic/2)), exact)
	wald, err := m.Wald(0)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "Wald test", wald.Statistic, math.Log(r)*math.Log(r)*info, near)
	testkit.AlmostEqual(t, "its p", wald.P, math.Erfc(math.Sqrt(wald.Statistic/2)), exact)
	b := m.Coefficient(0)
	testkit.AlmostEqual(t, "low of the coefficient", b.Low, math.Log(r)-1.959963984540054/math.Sqrt(info), near)
	testkit.AlmostEqual(t, "high of the coefficient", b.High, math.Log(r)+1.959963984540054/math.Sqrt(info), near)
	ratio := m.HazardRatio(0)
	testkit.AlmostEqual(t, "hazard ratio", ratio.Value, r, exact)
	testkit.AlmostEqual(t, "its error", ratio.SE, r/math.Sqrt(info), near)
	testkit.AlmostEqual(t, "its low", ratio.Low, r*math.Exp(-1.959963984540054/math.Sqrt(info)), near)

	times, cum, err := m.Baseline(0)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "event times", times, []float64{1, 2, 3}, 0)
	steps := []float64{1 / (2*r + 2), 1/(2*r+2) + 1/(r+2), 1/(2*r+2) + 1/(r+2) + 1/(r+1)}
	for j := range cum { // Baseline is at the mean x = 1/2
		testkit.AlmostEqual(t, "baseline", cum[j]/math.Exp(m.Coef[0]*m.Centre[0]), steps[j], exact)
	}
	curve, err := m.Survival([]float64{1}, 0, []float64{0.5, 2})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "survival", curve[1].Value, math.Exp(-r*steps[1]), exact)
	if curve[0].Value != 1 || len(curve[0].Warnings) != 2 || curve[0].Warnings[1].Code != "no-interval" {
		t.Errorf("before the first event: %+v", curve[0])
	}
	// Pairs: day 1 before three others (x 1 against 0, 1, 0), day 2 before two
	// (0 against 1, 0), day 3 before one (1 against 0): 3 agree, 2 are equal, 1 does not.
	c, err := m.Concordance()
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "concordance", c.Value, 4./6, exact)
	for _, e := range []stats.Estimate{c, b, ratio, curve[1]} {
		if e.Level != 0.95 {
			t.Errorf("level %v", e.Level)
		}
	}
	// Limits of 50 %, as those of 95 % are cut at 1.
	narrow, err := mustFit(t, byHand(), Options{Level: 0.5}).Concordance()
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "low of the concordance", narrow.Low, c.Value-0.6744897501960817*c.SE, exact)
	testkit.AlmostEqual(t, "high of the concordance", narrow.High, c.Value+0.6744897501960817*c.SE, exact)
}

// Two of four have the event at once, x = 1 and x = 0 in both pairs: at b = 0
// Efron's likelihood is 1/(4 x 3), Breslow's 1/(4 x 4), and both peak there.
func TestTiesByHand(t *testing.T) {
	in := Data{
		Data: survival.Data{Time: []float64{1, 1, 2, 2}, Event: []int{1, 1, 0, 0}},
		X:    [][]float64{{1, 0, 1, 0}},
	}
	for ties, want := range map[Ties]float64{Efron: 12, Breslow: 16} {
		m := mustFit(t, in, Options{Ties: ties})
		testkit.AlmostEqual(t, "coefficient", m.Coef[0], 0, 1e-10)
		testkit.AlmostEqual(t, "likelihood", m.LogLik, -math.Log(want), 1e-12)
	}
}

// made draws late entry, ties, weights, strata and persons of two rows; the
// hazard grows with the first column.
func made(seed uint64, n int) Data {
	r := rand.New(rand.NewPCG(seed, 9))
	d := Data{X: [][]float64{make([]float64, n), make([]float64, n)}}
	for i := range n {
		d.X[0][i], d.X[1][i] = r.NormFloat64(), float64(r.IntN(2))
		entry := float64(r.IntN(10))
		d.Entry = append(d.Entry, entry)
		event, end := 60*r.ExpFloat64()/math.Exp(0.5*d.X[0][i]), 20+100*r.Float64()
		d.Time = append(d.Time, entry+math.Ceil(math.Min(event, end)))
		d.Event = append(d.Event, map[bool]int{true: 1}[event < end])
		d.Weight = append(d.Weight, 0.5+r.Float64())
		d.Person = append(d.Person, i/2)
		d.Strata = append(d.Strata, r.IntN(3))
		d.Offset = append(d.Offset, 0.1*r.NormFloat64())
	}
	return d
}

func permuted(d Data, order []int) Data {
	out := Data{X: make([][]float64, len(d.X))}
	for _, i := range order {
		out.Time, out.Entry = append(out.Time, d.Time[i]), append(out.Entry, d.Entry[i])
		out.Event, out.Weight = append(out.Event, d.Event[i]), append(out.Weight, d.Weight[i])
		out.Person, out.Strata = append(out.Person, d.Person[i]), append(out.Strata, d.Strata[i])
		out.Offset = append(out.Offset, d.Offset[i])
		for j := range d.X {
			out.X[j] = append(out.X[j], d.X[j][i])
		}
	}
	return out
}

func sameFit(t *testing.T, what string, got, want *Model) {
	t.Helper()
	testkit.AllAlmostEqual(t, what+": coefficients", got.Coef, want.Coef, 1e-9)
	testkit.AllAlmostEqual(t, what+": covariance", flat(got.Cov), flat(want.Cov), 1e-8)
}

func TestCoxProperties(t *testing.T) {
	for _, opt := range []Options{{}, {Ties: Breslow}, {Variance: CR2}} {
		d := made(1, 200)
		everything := make([]int, 200)
		for i := range everything {
			everything[i] = i
		}
		before := permuted(d, everything)
		m := mustFit(t, d, opt)
		if !reflect.DeepEqual(d, before) {
			t.Fatal("inputs were changed")
		}
		r := rand.New(rand.NewPCG(2, 2))
		sameFit(t, "row order", mustFit(t, permuted(d, r.Perm(200)), opt), m)

		units := permuted(d, everything)
		for i := range units.X[0] {
			units.X[0][i] = 1000*units.X[0][i] + 5e4
		}
		u := mustFit(t, units, opt)
		testkit.AlmostEqual(t, "units", 1000*u.Coef[0], m.Coef[0], 1e-9)
		testkit.AlmostEqual(t, "units of the error", 1000*math.Sqrt(u.Cov.At(0, 0)), math.Sqrt(m.Cov.At(0, 0)), 1e-9)

		renamed := permuted(d, everything)
		for i := range renamed.Strata {
			renamed.Strata[i] = 10 - renamed.Strata[i]
			renamed.Person[i] = -7 * renamed.Person[i]
		}
		sameFit(t, "names of strata and persons", mustFit(t, renamed, opt), m)

		// Each row cut in two at a day within it, the event in the later part.
		var cut Data
		cut.X = make([][]float64, 2)
		for i := range everything {
			mid := math.Floor((d.Entry[i] + d.Time[i]) / 2)
			if mid <= d.Entry[i] {
				mid = d.Entry[i] + 0.5
			}
			one := permuted(d, []int{i})
			for part := range 2 {
				entry, time, event := one.Entry[0], mid, 0
				if part == 1 {
					entry, time, event = mid, one.Time[0], one.Event[0]
				}
				cut.Entry, cut.Time, cut.Event = append(cut.Entry, entry), append(cut.Time, time), append(cut.Event, event)
				cut.Weight, cut.Person = append(cut.Weight, one.Weight[0]), append(cut.Person, one.Person[0])
				cut.Strata, cut.Offset = append(cut.Strata, one.Strata[0]), append(cut.Offset, one.Offset[0])
				for j := range cut.X {
					cut.X[j] = append(cut.X[j], one.X[j][0])
				}
			}
		}
		sameFit(t, "rows cut in two", mustFit(t, cut, opt), m)
	}
	// A weight of two is two rows of one person, exactly so with Breslow's ties.
	d := made(3, 120)
	for i := range d.Weight {
		d.Weight[i] = 2
	}
	twice := permuted(d, append(rand.New(rand.NewPCG(4, 4)).Perm(120), rand.New(rand.NewPCG(5, 5)).Perm(120)...))
	twice.Weight = nil
	sameFit(t, "weights of two", mustFit(t, twice, Options{Ties: Breslow}), mustFit(t, d, Options{Ties: Breslow, Variance: Robust}))
}

// Without ties the score test of a group column is the log-rank test, late
// entry and strata included.
func TestScoreTestIsLogRank(t *testing.T) {
	d := made(6, 150)
	r := rand.New(rand.NewPCG(6, 6))
	for i := range d.Time {
		d.Time[i] += 0.9 * r.Float64()
	}
	d.Weight, d.Offset, d.Person = nil, nil, nil
	group := ints(d.X[1])
	d.X = d.X[1:]
	m := mustFit(t, d, Options{})
	score, err := m.Score()
	if err != nil {
		t.Fatal(err)
	}
	test, err := survival.LogRank(d.Data, group, 2, d.Strata)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "score test", score.Statistic, test.Statistic, 1e-9)
}

// A huge weight that leaves the risk set must not take the digits of the rest
// with it: without that row nothing changes at later events.
func TestLateEntryKeepsItsDigits(t *testing.T) {
	d := made(7, 80)
	d.Weight, d.Person, d.Strata, d.Offset = nil, nil, nil, nil
	m := mustFit(t, d, Options{})
	heavy := made(7, 80)
	heavy.Person, heavy.Strata = nil, nil
	for i := range heavy.Weight {
		heavy.Weight[i], heavy.Offset[i] = 1, 0
	}
	heavy.Time, heavy.Entry = append(heavy.Time, 1000), append(heavy.Entry, 999)
	heavy.Event, heavy.Weight, heavy.Offset = append(heavy.Event, 0), append(heavy.Weight, 1), append(heavy.Offset, 60)
	heavy.X[0], heavy.X[1] = append(heavy.X[0], 0), append(heavy.X[1], 1)
	heavy.Time, heavy.Entry = append(heavy.Time, 1000), append(heavy.Entry, 0)
	heavy.Event, heavy.Weight, heavy.Offset = append(heavy.Event, 0), append(heavy.Weight, 1e-9), append(heavy.Offset, 0)
	heavy.X[0], heavy.X[1] = append(heavy.X[0], 0), append(heavy.X[1], 0)
	h := mustFit(t, heavy, Options{Variance: ModelBased})
	testkit.AllAlmostEqual(t, "coefficients", h.Coef, m.Coef, 1e-6)
}

// 300 trials of 100 persons, log hazard ratio 0.5: the mean estimate within
// four Monte Carlo errors plus the known small-sample bias of 0.02, the
// intervals hold it 285 times on average (Monte Carlo error 3.8).
func TestCoxHoldsItsCoverage(t *testing.T) {
	inside, sum, squares := 0, 0.0, 0.0
	for seed := range uint64(300) {
		d := made(100+seed, 100)
		d.Weight, d.Person, d.Strata, d.Offset = nil, nil, nil, nil
		e := mustFit(t, d, Options{}).Coefficient(0)
		sum += e.Value
		squares += e.Value * e.Value
		if e.Low <= 0.5 && 0.5 <= e.High {
			inside++
		}
	}
	mean := sum / 300
	mc := math.Sqrt((squares/300 - mean*mean) / 300)
	if math.Abs(mean-0.5) > 4*mc+0.02 {
		t.Errorf("mean estimate %v, 0.5 expected within %v", mean, 4*mc+0.02)
	}
	if inside < 272 {
		t.Errorf("%d of 300 intervals hold the truth", inside)
	}
}

func TestStandardiseTwoEnds(t *testing.T) {
	d := made(8, 150)
	d.Weight, d.Person, d.Strata, d.Offset = nil, nil, nil, nil
	other := permutedPlain(d)
	for i := range other.Event {
		other.Event[i] = 1 - d.Event[i] // the former censored end by cause 2
	}
	m1, m2 := mustFit(t, d, Options{}), mustFit(t, other, Options{})
	times := []float64{10, 40, 80}
	shares, err := Standardise([]*Model{m1, m2}, d.X, nil, nil, times)
	if err != nil {
		t.Fatal(err)
	}
	swapped, err := Standardise([]*Model{m2, m1}, d.X, nil, nil, times)
	if err != nil {
		t.Fatal(err)
	}
	weight := make([]float64, 150)
	for i := range weight {
		weight[i] = 3
	}
	weighted, err := Standardise([]*Model{m1, m2}, d.X, nil, weight, times)
	if err != nil {
		t.Fatal(err)
	}
	codes := survival.Data{Time: d.Time, Entry: d.Entry, Event: make([]int, 150)}
	for i, e := range d.Event {
		codes.Event[i] = 2 - e
	}
	raw, err := survival.AalenJohansen(codes, 2, survival.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, day := range times {
		testkit.AlmostEqual(t, "sum", shares[0][i]+shares[1][i]+shares[2][i], 1, 1e-12)
		testkit.AlmostEqual(t, "order of the ends", swapped[2][i], shares[1][i], 1e-12)
		testkit.AlmostEqual(t, "equal weights", weighted[1][i], shares[1][i], 1e-12)
		// Averaged over the very persons of the fit it is close to the raw curve.
		if e := raw[1].At(day); math.Abs(e.Value-shares[1][i]) > e.SE {
			t.Errorf("day %v: standardised %v, raw %v", day, shares[1][i], e.Value)
		}
	}
}

// permutedPlain copies the parts that a plain Data has.
func permutedPlain(d Data) Data {
	return Data{
		Data: survival.Data{Time: slices.Clone(d.Time), Entry: slices.Clone(d.Entry), Event: slices.Clone(d.Event)},
		X:    [][]float64{slices.Clone(d.X[0]), slices.Clone(d.X[1])},
	}
}
