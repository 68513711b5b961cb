package adjust

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/stats/propensity"
	"evenlimb/pipeline/testkit"
)

var loose = propensity.Limits{MaxImbalance: 1}

// people who begin care: how severe decides both dose and return, age decides the
// return alone, and dose speeds it by effect a unit of its logarithm. The return
// comes after an exponential wait; watching ends at random before or after the
// horizon of 100 days.
type world struct {
	effect    float64
	anyEffect float64
	none      float64 // share without any work
}

const worldHorizon = 100

func (w world) wait(severity int, age, dose float64) float64 {
	speed := 0.5 - 0.5*float64(severity) - 0.2*age
	if dose > 0 {
		speed += w.anyEffect + w.effect*math.Log(dose/15)
	}
	return 80 * math.Exp(-speed)
}

// back is the share back by the horizon of people like one.
func (w world) back(severity int, age, dose float64) float64 {
	return 1 - math.Exp(-worldHorizon/w.wait(severity, age, dose))
}

func (w world) draw(rng *rand.Rand, n int) Sample {
	s := Sample{Horizon: worldHorizon}
	mild, severe, age := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		severity := rng.IntN(3)
		mild[i], severe[i], age[i] = is(severity == 0), is(severity == 2), rng.NormFloat64()
		dose := 15 * math.Exp(0.35*float64(1-severity)+0.45*rng.NormFloat64())
		if rng.Float64() < w.none*float64(1+severity)/2 {
			dose = 0
		}
		day, event := w.wait(severity, age[i], dose)*rng.ExpFloat64(), 1
		if other := 400 * rng.ExpFloat64(); other < day {
			day, event = other, 0
		}
		s.Person, s.Clinician = append(s.Person, i), append(s.Clinician, i%12)
		s.Dose, s.Day, s.Event = append(s.Dose, dose), append(s.Day, int(math.Ceil(day))), append(s.Event, event)
	}
	s.Severity = [][]float64{mild, severe}
	s.Covariates = []Covariate{{"mild", mild}, {"severe", severe}, {"age", age}}
	return s
}

func is(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// truth is the mean difference over the people of a world between two doses, each
// from many people: the quartiles of those with some, and some against none.
func (w world) truth(rng *rand.Rand) (quartiles, some float64) {
	s := w.draw(rng, 200000)
	order, once := make([]int, 0, len(s.Dose)), ones(len(s.Dose))
	var doses []float64
	for _, d := range s.Dose {
		if d > 0 {
			order, doses = append(order, len(doses)), append(doses, d)
		}
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(doses[i], doses[j]) })
	from, to := quantile(doses, order, once[:len(doses)], 0.25), quantile(doses, order, once[:len(doses)], 0.75)
	people := 0
	for i := range s.Dose {
		severity, age := 1, s.Covariates[2].Values[i]
		switch {
		case s.Severity[0][i] == 1:
			severity = 0
		case s.Severity[1][i] == 1:
			severity = 2
		}
		if s.Dose[i] > 0 {
			quartiles += w.back(severity, age, to) - w.back(severity, age, from)
			people++
		}
		own := 15 * math.Exp(0.35*float64(1-severity)+0.45*rng.NormFloat64()) // what those like them do who do some
		some += w.back(severity, age, own) - w.back(severity, age, 0)
	}
	return quartiles / float64(people), some / float64(len(s.Dose))
}

// Severity makes both low doses and late returns. Raw contrasts say so; standardised
// and weighted ones hold the difference that many people would have, at about
// their level. 120 practices: the true coverage of 95 % is seen as 104 to 119
// (exact 99.9 % limits).
func TestStandardisedContrastsHoldTheTruth(t *testing.T) {
	w := world{effect: 0.6, anyEffect: 0.3, none: 0.25}
	rng := rand.New(rand.NewPCG(1, 2))
	quartiles, some := w.truth(rng)
	const practices = 120
	var covered [3]int
	var bias, square [3]float64
	rawBias := 0.0
	for range practices {
		s := w.draw(rng, 300)
		one, err := CompareAny(t.Context(), s, Options{Replicates: 200, Seed: rng.Uint64(), Level: 0.95})
		if err != nil {
			t.Fatal(err)
		}
		a, err := CompareAmounts(t.Context(), withSome(s), Options{Replicates: 200, Seed: rng.Uint64(), Level: 0.95, Reference: 15, Limits: loose, LeastClinicians: 10})
		if err != nil {
			t.Fatal(err)
		}
		for k, told := range []struct {
			c     Contrast
			truth float64
		}{{one.Standardised, some}, {a.Standardised, quartiles}, {a.Weighted.Contrast, quartiles}} {
			if told.c.Low <= told.truth && told.truth <= told.c.High {
				covered[k]++
			}
			off := told.c.Value - told.truth
			bias[k] += off / practices
			square[k] += off * off / practices
		}
		rawBias += (a.Raw.Value - quartiles) / practices
	}
	for k, name := range []string{"some or none", "standardised", "weighted"} {
		se := math.Sqrt(square[k] / practices)
		t.Logf("%s: covered %d of %d, bias %.4f (%.4f)", name, covered[k], practices, bias[k], se)
		if covered[k] < 104 || math.Abs(bias[k]) > 4*se {
			t.Errorf("%s: covered %d of %d, bias %.4f with a standard error of %.4f", name, covered[k], practices, bias[k], se)
		}
	}
	if rawBias < 0.03 {
		t.Errorf("the raw contrast is off by %.3f only: severity does not stand in its way", rawBias)
	}
}

// withSome keeps those with some work.
func withSome(s Sample) Sample {
	out := Sample{Horizon: s.Horizon, Severity: make([][]float64, len(s.Severity)), Covariates: make([]Covariate, len(s.Covariates))}
	for j, c := range s.Covariates {
		out.Covariates[j].Name = c.Name
	}
	for i, d := range s.Dose {
		if d == 0 {
			continue
		}
		out.Person, out.Clinician = append(out.Person, s.Person[i]), append(out.Clinician, s.Clinician[i])
		out.Dose, out.Day, out.Event = append(out.Dose, d), append(out.Day, s.Day[i]), append(out.Event, s.Event[i])
		for j, c := range s.Covariates {
			out.Covariates[j].Values = append(out.Covariates[j].Values, c.Values[i])
		}
	}
	for j := range out.Severity {
		out.Severity[j] = out.Covariates[j].Values
	}
	return out
}

// Three come back, on days 1, 2 and 3, and a fourth is watched to day 2 alone. By
// day 2 the share back is 1/4 + 3/4 x 1/3 = 1/2. Four times the influence on it
// of one who is back on day 1 is 1 - 1/2, as everybody after them counts the same:
// by hand from the sums in the comment of package survival.
func TestPseudoValuesByHand(t *testing.T) {
	p := newPseudo([]int{1, 2, 3, 2}, []int{1, 1, 1, 0}, 2)
	y := make([]float64, 4)
	if share := p.values(ones(4), y, p.steps()); math.Abs(share-0.5) > 1e-15 {
		t.Errorf("share %v", share)
	}
	testkit.AllAlmostEqual(t, "pseudo-values", y, []float64{1, 1, 0, 0}, 1e-12)
}

// A row counted twice is two rows.
func TestWeightsAreRepeatedRows(t *testing.T) {
	day, event := []int{3, 5, 5, 9, 12, 20}, []int{1, 2, 1, 0, 1, 0}
	weight := []float64{2, 1, 0, 3, 1, 1}
	var longDay, longEvent []int
	for i, w := range weight {
		for range int(w) {
			longDay, longEvent = append(longDay, day[i]), append(longEvent, event[i])
		}
	}
	short, long := newPseudo(day, event, 15), newPseudo(longDay, longEvent, 15)
	y, want := make([]float64, len(day)), make([]float64, len(longDay))
	a, b := short.values(weight, y, short.steps()), long.values(ones(len(longDay)), want, long.steps())
	testkit.AlmostEqual(t, "share", a, b, 1e-14)
	var got []float64
	mean := 0.0
	for i, w := range weight {
		for range int(w) {
			got = append(got, y[i])
			mean += y[i] / float64(len(longDay))
		}
	}
	testkit.AllAlmostEqual(t, "pseudo-values", got, want, 1e-12)
	testkit.AlmostEqual(t, "their mean", mean, a, 1e-12)
}

// A column that others tell has no coefficient of its own, and the fit is that
// without it: y = 1 + 2x.
func TestATwinColumnIsLeftOut(t *testing.T) {
	x, y := []float64{0, 1, 2, 5}, []float64{1, 3, 5, 11}
	s := newSquares([][]float64{ones(4), x, {1, 2, 3, 6}})
	gram, moments := make([]float64, 6), make([]float64, 3)
	s.gram(ones(4), gram)
	s.moments(ones(4), y, moments)
	coef, kept := make([]float64, 3), make([]bool, 3)
	solve(gram, moments, span(0, 3), make([]float64, 9), coef, kept)
	testkit.AllAlmostEqual(t, "coefficients", coef, []float64{1, 2, 0}, 1e-12)
	if !kept[0] || !kept[1] || kept[2] {
		t.Errorf("kept %v", kept)
	}
}

// Each limit of the weights is passed on it and not beyond it.
func TestWeightsAreWithheldBeyondTheirLimits(t *testing.T) {
	s := withSome(world{effect: 0.6}.draw(rand.New(rand.NewPCG(3, 4)), 200))
	all := func(limits propensity.Limits) Weighted {
		d, err := newAmounts(s, Options{Level: 0.95, Reference: 15, Limits: limits})
		if err != nil {
			t.Fatal(err)
		}
		return d.weights
	}
	w := all(loose)
	if len(w.Withheld) > 0 || w.Share <= 0 || w.Share > 1 || w.After.Value > w.Before.Value || w.Before.Name == "" {
		t.Fatalf("%+v", w)
	}
	for _, c := range []struct {
		name       string
		on, beyond propensity.Limits
		reason     string
	}{
		{"share", propensity.Limits{MinShare: w.Share, MaxImbalance: 1}, propensity.Limits{MinShare: w.Share + 1e-9, MaxImbalance: 1}, "% of the people in effect"},
		{"persons", propensity.Limits{MinPersons: w.Persons, MaxImbalance: 1}, propensity.Limits{MinPersons: w.Persons + 1e-6, MaxImbalance: 1}, "people in effect, fewer than"},
		{"imbalance", propensity.Limits{MaxImbalance: w.After.Value}, propensity.Limits{MaxImbalance: w.After.Value - 1e-9}, "still goes with " + w.After.Name},
	} {
		if got := all(c.on); len(got.Withheld) > 0 {
			t.Errorf("%s, on the limit: %q", c.name, got.Withheld)
		}
		if got := all(c.beyond); len(got.Withheld) != 1 || !strings.Contains(got.Withheld[0], c.reason) {
			t.Errorf("%s, beyond it: %q", c.name, got.Withheld)
		}
	}
}

// Ten clinicians are judged and nine are not; somebody whose clinician is not known
// is nobody's.
func TestCliniciansFromTenOn(t *testing.T) {
	s := withSome(world{effect: 0.6}.draw(rand.New(rand.NewPCG(5, 6)), 200))
	for _, clinicians := range []int{10, 9} {
		for i := range s.Clinician {
			s.Clinician[i] = i % clinicians
		}
		s.Clinician[0] = -1
		a, err := CompareAmounts(t.Context(), s, Options{Replicates: 50, Seed: 1, Level: 0.95, Reference: 15, Limits: loose, LeastClinicians: 10})
		if err != nil {
			t.Fatal(err)
		}
		if a.Clinicians != clinicians || a.ByClinician.HasInterval != (clinicians == 10) {
			t.Errorf("%d clinicians: %d, %v", clinicians, a.Clinicians, a.ByClinician.HasInterval)
		}
		if a.ByClinician.HasInterval {
			testkit.AlmostEqual(t, "one value, two intervals", a.ByClinician.Value, a.Standardised.Value, 1e-9)
		}
	}
}

// The curve is nought at the reference, rises where dose speeds the return, and a
// relation this strong is told from chance; where dose does nothing it is not.
func TestTheCurveAndItsTests(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	opt := Options{Replicates: 400, Seed: 1, Level: 0.95, Reference: 15, Grid: []float64{8, 15, 30}, Limits: loose}
	a, err := CompareAmounts(t.Context(), withSome(world{effect: 1}.draw(rng, 600)), opt)
	if err != nil {
		t.Fatal(err)
	}
	if a.Curve[1].Value != 0 || a.Curve[1].HasInterval || a.Curve[0].High >= 0 || a.Curve[2].Low <= 0 || a.RawCurve[1] != 0 {
		t.Errorf("curve %+v", a.Curve)
	}
	if a.Relation.P > 1e-4 || a.Relation.DF1 != 4 || a.Curvature.DF1 != 3 {
		t.Errorf("relation %+v, curvature %+v", a.Relation, a.Curvature)
	}
	few := 0
	for range 40 {
		if a, err = CompareAmounts(t.Context(), withSome(world{}.draw(rng, 150)), opt); err != nil {
			t.Fatal(err)
		}
		if a.Relation.P < 0.05 {
			few++
		}
	}
	if few > 8 { // the exact 99.9 % limit of 5 % of 40
		t.Errorf("%d of 40 tests of nothing are below 0.05", few)
	}
}

// The index rises by five times the log of dose, and severity lowers both.
func TestAMeasureByDose(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	s := withSome(world{}.draw(rng, 400))
	value := make([]float64, len(s.Dose))
	for i, d := range s.Dose {
		value[i] = 80 + 5*math.Log(d) - 6*s.Severity[1][i] + 2*rng.NormFloat64()
	}
	m, err := CompareMeasure(t.Context(), s, value, true, Options{Replicates: 300, Seed: 1, Level: 0.95})
	if err != nil {
		t.Fatal(err)
	}
	truth := 5 * math.Log(m.To/m.From)
	if m.Spline.Low > truth || m.Spline.High < truth || math.Abs(m.Spline.Value-truth) > 1 {
		t.Errorf("%.2f (%.2f to %.2f), truth %.2f", m.Spline.Value, m.Spline.Low, m.Spline.High, truth)
	}
	if math.Abs(m.Emax.Value-truth) > 1 || m.EmaxAIC == 0 || math.Abs(m.EmaxAIC-m.SplineAIC) > 20 {
		t.Errorf("Emax %.2f, AIC %.1f and %.1f", m.Emax.Value, m.EmaxAIC, m.SplineAIC)
	}
}

// Severity goes with dose and return; a covariate that goes with neither is weaker.
func TestTheStrongestAssociation(t *testing.T) {
	s := withSome(world{effect: 0.6}.draw(rand.New(rand.NewPCG(11, 12)), 2000))
	for _, a := range Associations(s) {
		switch a.Name {
		case "severe":
			if a.Treatment > 0.7 || a.Outcome > 0.8 {
				t.Errorf("%+v", a)
			}
		case "age":
			if math.Abs(math.Log(a.Treatment)) > 0.15 {
				t.Errorf("%+v", a)
			}
		}
	}
}
