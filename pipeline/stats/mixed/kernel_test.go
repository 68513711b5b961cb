package mixed

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

// small and nested problems with every form of random effects.
func problems(t *testing.T) map[string]*problem {
	t.Helper()
	rng := rand.New(rand.NewPCG(8, 1))
	const rows = 120
	data := Data{Columns: make([][]float64, 2), Names: []string{"constant", "week"}}
	var inner, above, weeks []float64
	for i := range rows {
		episode := i / 5
		week := 10 * rng.Float64()
		weeks, inner, above = append(weeks, week), append(inner, float64(episode)), append(above, float64(episode/3))
		data.Y = append(data.Y, week+rng.NormFloat64()+math.Sin(float64(episode))*(1+week/4)+math.Cos(float64(episode/3)))
		data.Columns[0], data.Columns[1] = append(data.Columns[0], 1), append(data.Columns[1], week)
	}
	codes := func(xs []float64) []int {
		out := make([]int, len(xs))
		for i, x := range xs {
			out[i] = int(x)
		}
		return out
	}
	out := map[string]*problem{}
	for name, c := range map[string]struct{ slope, above, aboveSlope, ml bool }{
		"intercept":              {},
		"intercept, ML":          {ml: true},
		"slope":                  {slope: true},
		"slope, ML":              {slope: true, ml: true},
		"nested":                 {above: true},
		"nested, ML":             {above: true, ml: true},
		"nested, slope above":    {above: true, aboveSlope: true},
		"nested, slope in both":  {slope: true, above: true, aboveSlope: true},
		"nested, slope in inner": {slope: true, above: true},
	} {
		d := data
		d.Group.Group = codes(inner)
		if c.slope {
			d.Group.Slope = weeks
		}
		if c.above {
			d.Above = &Random{Group: codes(above)}
			if c.aboveSlope {
				d.Above.Slope = weeks
			}
		}
		pr, err := prepare(d, Options{ML: c.ml})
		if err != nil {
			t.Fatal(name, err)
		}
		out[name] = pr
	}
	return out
}

func evaluate(t *testing.T, pr *problem, theta []float64) *solution {
	t.Helper()
	s, ok := pr.evaluate(theta)
	if !ok {
		t.Fatal("no criterion at", theta)
	}
	pr.differentiate(s)
	return s
}

// The exact derivatives against central differences, away from the minimum.
func TestDerivatives(t *testing.T) {
	const h = 1e-5
	for name, pr := range problems(t) {
		theta := make([]float64, pr.parameters())
		for a := range theta {
			theta[a] = 0.7 - 0.2*float64(a)
		}
		s := evaluate(t, pr, theta)
		q := len(theta)
		for a := range theta {
			beside := func(step float64) *solution {
				moved := append([]float64(nil), theta...)
				moved[a] += step
				return evaluate(t, pr, moved)
			}
			low, high := beside(-h), beside(h)
			testkit.AlmostEqual(t, name+": gradient", s.gradient[a], (high.criterion-low.criterion)/(2*h), 1e-6)
			for b := range q {
				testkit.AlmostEqual(t, name+": Hessian", s.hessian[a*q+b], (high.gradient[b]-low.gradient[b])/(2*h), 1e-6)
			}
			for i, got := range s.xhxShift[a] {
				testkit.AlmostEqual(t, name+": change of the covariance", got, (high.xhxInverse[i]-low.xhxInverse[i])/(2*h), 1e-5)
			}
		}
	}
}

// Small made-up data of every form: the fit is answered or refused, all of it is
// finite, and no other parameters are better. Half of the data hold nothing but
// noise, where variances run to zero.
func TestNoParametersAreBetter(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 5))
	fitted, boundary := 0, 0
	for run := range 600 {
		rows := 8 + rng.IntN(40)
		d := Data{Columns: make([][]float64, 2), Names: []string{"constant", "x"}, Y: make([]float64, rows)}
		groups := 2 + rng.IntN(8)
		effects := make([]float64, groups)
		if run%2 == 0 {
			for g := range effects {
				effects[g] = 3 * rng.NormFloat64()
			}
		}
		d.Group.Group = make([]int, rows)
		above := make([]int, rows)
		for i := range rows {
			g := rng.IntN(groups)
			x := float64(rng.IntN(5))
			d.Group.Group[i], above[i] = g, g/2
			d.Columns[0], d.Columns[1] = append(d.Columns[0], 1), append(d.Columns[1], x)
			d.Y[i] = x + effects[g]*(1+x*rng.Float64()) + rng.NormFloat64()
		}
		if run%3 > 0 {
			d.Group.Slope = d.Columns[1]
		}
		if run%5 == 0 {
			d.Above = &Random{Group: above}
		}
		if run%10 == 0 {
			d.Above.Slope = d.Columns[1]
		}
		m, err := Fit(d, Options{ML: run%7 == 0})
		if err != nil {
			if !errors.Is(err, stats.ErrTooFew) && !errors.Is(err, stats.ErrOneGroup) {
				t.Errorf("run %d: %v", run, err)
			}
			continue
		}
		fitted++
		if len(m.Warnings) > 0 {
			boundary++
		}
		numbers := append(append(append([]float64{m.LogLik, m.ResidualSD, m.Group.InterceptSD, m.Group.SlopeSD, m.Group.Correlation}, m.Coef...), m.SE...), m.DF...)
		for _, x := range numbers {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("run %d: %v", run, numbers)
			}
		}
		for range 60 {
			theta := append([]float64(nil), m.solution.theta...)
			wide := math.Pow(10, -3*rng.Float64())
			for a := range theta {
				theta[a] += wide * rng.NormFloat64()
			}
			if s, ok := m.problem.evaluate(theta); ok && s.criterion < m.solution.criterion-1e-7 {
				t.Errorf("run %d: %v is better than %v by %v", run, theta, m.solution.theta, m.solution.criterion-s.criterion)
				break
			}
		}
	}
	if fitted < 400 || boundary < 100 {
		t.Errorf("%d fits, %d on the boundary: too few to tell", fitted, boundary)
	}
}

// The closed forms for one level against the general code.
func TestSmallAgreesWithNested(t *testing.T) {
	for _, name := range []string{"intercept", "slope", "slope, ML"} {
		pr := problems(t)[name]
		theta := []float64{0.7, 0.5, 0.3}[:pr.parameters()]
		s := evaluate(t, pr, theta)
		p, elements := pr.p, len(theta)
		small, general := newSlopes(elements, p), newSlopes(elements, p)
		pr.slopesSmall(s, small)
		pr.slopesNested(s, general)
		testkit.AllAlmostEqual(t, name+": trace", small.trace, general.trace, 1e-10)
		testkit.AllAlmostEqual(t, name+": quad", small.quad, general.quad, 1e-10)
		testkit.AllAlmostEqual(t, name+": curve", small.curve, general.curve, 1e-10)
		for e := range elements {
			testkit.AllAlmostEqual(t, name+": P'EP", small.ppe[e], general.ppe[e], 1e-9)
			testkit.AllAlmostEqual(t, name+": P'Ew", small.pew[e], general.pew[e], 1e-9)
		}
		a := &sums{xhx: make([]float64, p*p), xhy: make([]float64, p)}
		b := &sums{xhx: make([]float64, p*p), xhy: make([]float64, p)}
		pr.sumSmall(theta, a)
		if !pr.sumNested(theta, b) {
			t.Fatal("no factor")
		}
		testkit.AllAlmostEqual(t, name+": sums", append(append(a.xhx, a.xhy...), a.yhy, a.logDet), append(append(b.xhx, b.xhy...), b.yhy, b.logDet), 1e-8)
	}
}
