package shrink

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat"
)

func TestPoolByHand(t *testing.T) {
	// Equal standard errors have a closed form: Tau^2 is the variance of the
	// values less se^2. Values 1, 3, 8, 4: mean 4, variance (9+1+16+0)/3 = 26/3;
	// se 1: Tau^2 = 23/3. The SE of the mean is sqrt(26/3/4) and t(0.975, 3) is
	// 3.182446305. The first group keeps (23/3)/(26/3) = 23/26 of its distance.
	p, err := RandomEffects([]float64{1, 3, 8, 4}, []float64{1, 1, 1, 1}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "tau", p.Tau, math.Sqrt(23.0/3), 1e-12)
	testkit.AlmostEqual(t, "mean", p.Value, 4, 1e-14)
	testkit.AlmostEqual(t, "se", p.SE, math.Sqrt(26.0/12), 1e-12)
	testkit.AlmostEqual(t, "low", p.Low, 4-3.182446305284263*math.Sqrt(26.0/12), 1e-9)
	testkit.AlmostEqual(t, "high", p.High, 4+3.182446305284263*math.Sqrt(26.0/12), 1e-9)
	testkit.AlmostEqual(t, "shrunken", p.Shrunk[0].Value, 4-3*23.0/26, 1e-12)
	testkit.AlmostEqual(t, "its se", p.Shrunk[0].SE, math.Sqrt(23.0/26+9.0/676*26/12), 1e-12)
	if p.N != 4 || p.Level != 0.95 || p.Shrunk[2].Level != 0.95 || p.Warnings[0].Code != "few-groups" {
		t.Errorf("%+v", p)
	}
	// Values that agree: Tau 0, all at the weighted mean (1 x 4 + 2 x 1)/5.
	p, err = RandomEffects([]float64{1, 2}, []float64{1, 2}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "mean", p.Value, 1.2, 1e-14)
	codes := []string{}
	for _, w := range p.Warnings {
		codes = append(codes, w.Code)
	}
	if p.Tau != 0 || p.Shrunk[0].Value != p.Shrunk[1].Value || !slices.Contains(codes, "no-spread") {
		t.Errorf("%+v", p)
	}
	// Five equal values: half width 0, narrower than if Tau were known.
	p, err = RandomEffects([]float64{3, 3, 3, 3, 3}, []float64{1, 1, 1, 1, 1}, 0.95)
	must(t, err)
	if p.Warnings[len(p.Warnings)-1].Code != "narrower-than-fixed" || p.Low != 3 || p.High != 3 {
		t.Errorf("%+v", p)
	}
}

func TestPoolAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "shrink/pool")
	for _, set := range []string{"gravity", "michelson", "dyestuff", "sprays", "sleep", "orthodont", "insurance", "even"} {
		file := "pool_" + set + ".csv"
		p, err := RandomEffects(a.Column(file, "value"), a.Column(file, "se"), 0.95)
		must(t, err)
		var shrunk, shrunkSE []float64
		for _, s := range p.Shrunk {
			shrunk, shrunkSE = append(shrunk, s.Value), append(shrunkSE, s.SE)
			testkit.AlmostEqual(t, set+" half widths", (s.High-s.Low)/s.SE, (p.High-p.Low)/p.SE, 1e-9)
		}
		testkit.AlmostEqual(t, set+" tau", p.Tau, a.Float(set+".tau"), 1e-8)
		testkit.AlmostEqual(t, set+" mean", p.Value, a.Float(set+".mean"), 1e-9)
		testkit.AlmostEqual(t, set+" se", p.SE, a.Float(set+".se"), 1e-8)
		testkit.AlmostEqual(t, set+" low", p.Low, a.Float(set+".low"), 1e-8)
		testkit.AlmostEqual(t, set+" high", p.High, a.Float(set+".high"), 1e-8)
		testkit.AllAlmostEqual(t, set+" shrunken", shrunk, a.Floats(set+".shrunk"), 1e-8)
		testkit.AllAlmostEqual(t, set+" shrunken se", shrunkSE, a.Floats(set+".shrunk_se"), 1e-8)
		// lme4's criterion is minimised without its derivative: fewer digits.
		if math.Abs(p.Tau-a.Float(set+".lme4_tau")) > 1e-5*math.Max(p.Tau, 1) {
			t.Errorf("%s: tau %v, lme4 %v", set, p.Tau, a.Float(set+".lme4_tau"))
		}
		testkit.AlmostEqual(t, set+" lme4 mean", p.Value, a.Float(set+".lme4_mean"), 1e-6)
		testkit.AllAlmostEqual(t, set+" lme4 shrunken", shrunk, a.Floats(set+".lme4_shrunk"), 1e-5)
	}
}

func TestPoolProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for range 50 {
		k := 2 + r.IntN(10)
		value, se := make([]float64, k), make([]float64, k)
		for i := range value {
			value[i], se[i] = r.NormFloat64()*3, 0.2+2*r.Float64()
		}
		keptValue, keptSE := slices.Clone(value), slices.Clone(se)
		p, err := RandomEffects(value, se, 0.9)
		must(t, err)
		if !reflect.DeepEqual(value, keptValue) || !reflect.DeepEqual(se, keptSE) {
			t.Fatal("the input was changed")
		}
		for i, s := range p.Shrunk {
			if (s.Value-p.Value)*(s.Value-value[i]) > 1e-12 {
				t.Errorf("group %d moved from %v past the mean %v to %v", i, value[i], p.Value, s.Value)
			}
		}
		// The maximum is one: no point of a fine grid has a higher likelihood.
		m := model{y: value, v: make([]float64, k)}
		for i, s := range se {
			m.v[i] = s * s
		}
		top := m.logLikelihood(p.Tau * p.Tau)
		for x := 0.0; x < 40; x += 0.05 {
			if m.logLikelihood(x) > top+1e-10 {
				t.Fatalf("likelihood at %v is above that at Tau^2 %v", x, p.Tau*p.Tau)
			}
		}
		// Another unit and order.
		slices.Reverse(value)
		slices.Reverse(se)
		for i := range value {
			value[i], se[i] = 100-10*value[i], 10*se[i]
		}
		q, err := RandomEffects(value, se, 0.9)
		must(t, err)
		testkit.AlmostEqual(t, "tau in tenths", q.Tau, 10*p.Tau, 1e-6)
		testkit.AlmostEqual(t, "mean in tenths", q.Value, 100-10*p.Value, 1e-8)
		testkit.AlmostEqual(t, "upper limit in tenths", q.High, 100-10*p.Low, 1e-8)
		testkit.AlmostEqual(t, "shrunken in tenths", q.Shrunk[0].Value, 100-10*p.Shrunk[k-1].Value, 1e-7)
	}
}

// 1,000 sets of 8 groups: coverage of the mean, Monte Carlo SE 0.007, and the
// shrunken values nearer to the truth than the raw ones.
func TestPoolCovers(t *testing.T) {
	const sets = 1000
	r := rand.New(rand.NewPCG(6, 6))
	covered := 0
	var raw, shrunk []float64
	for range sets {
		value, se, truth := make([]float64, 8), make([]float64, 8), make([]float64, 8)
		for i := range value {
			se[i] = 0.3 + r.Float64()
			truth[i] = 2 + 0.7*r.NormFloat64()
			value[i] = truth[i] + se[i]*r.NormFloat64()
		}
		p, err := RandomEffects(value, se, 0.95)
		must(t, err)
		if p.Low <= 2 && 2 <= p.High {
			covered++
		}
		for i := range value {
			raw = append(raw, (value[i]-truth[i])*(value[i]-truth[i]))
			shrunk = append(shrunk, (p.Shrunk[i].Value-truth[i])*(p.Shrunk[i].Value-truth[i]))
		}
	}
	if share := float64(covered) / sets; share < 0.925 || share > 0.975 {
		t.Errorf("the mean is covered in %.3f", share)
	}
	if a, b := stat.Mean(raw, nil), stat.Mean(shrunk, nil); b > 0.8*a {
		t.Errorf("mean squared error raw %.3f, shrunken %.3f", a, b)
	}
}

func TestPoolRefusesBadInput(t *testing.T) {
	for name, c := range map[string]struct {
		value, se []float64
		level     float64
		want      error
	}{
		"empty":     {nil, nil, 0.95, stats.ErrEmpty},
		"length":    {[]float64{1, 2}, []float64{1}, 0.95, stats.ErrLength},
		"NaN":       {[]float64{1, math.NaN()}, []float64{1, 1}, 0.95, stats.ErrNotFinite},
		"infinite":  {[]float64{1, 2}, []float64{1, math.Inf(1)}, 0.95, stats.ErrNotFinite},
		"level":     {[]float64{1, 2}, []float64{1, 1}, 1, stats.ErrRange},
		"one group": {[]float64{1}, []float64{1}, 0.95, stats.ErrTooFew},
		"se 0":      {[]float64{1, 2}, []float64{1, 0}, 0.95, stats.ErrRange},
		"se tiny":   {[]float64{1, 2}, []float64{1, 1e-60}, 0.95, stats.ErrRange},
		"huge":      {[]float64{1, 1e300}, []float64{1, 1e290}, 0.95, stats.ErrRange},
	} {
		if _, err := RandomEffects(c.value, c.se, c.level); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	for _, se := range []float64{1e-49, 1e-6, 1e100} {
		p, err := RandomEffects([]float64{1, 2, 5}, []float64{se, 1, 1}, 0.95)
		if se == 1e100 {
			p, err = RandomEffects([]float64{1, 2, 5}, []float64{se, se, se}, 0.95)
		}
		must(t, err)
		for _, x := range []float64{p.Value, p.Low, p.High, p.SE, p.Tau, p.Shrunk[0].Value, p.Shrunk[2].SE} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("se %v: %+v", se, p)
			}
		}
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
