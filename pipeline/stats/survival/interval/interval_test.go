package interval

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

var inf = math.Inf(1)

// Six persons: (0,1] twice, (0,2], (1,3], (2,3], not seen after 2. The innermost
// intervals are (0,1], (1,2] and (2,3]; mass there is a, b, c and the likelihood
//
//	a^2 (a+b) (b+c) c^2 with a + b + c = 1.
//
// By the symmetry a = c. At a = c = 1/2, b = 0 the gradient of b is
// (1/(a+b) + 1/(b+c))/6 = 4/6, below 1: that is the maximum, 1/64.
func TestTurnbullByHand(t *testing.T) {
	c, err := Turnbull(Data{Lower: []float64{0, 0, 0, 1, 2, 2}, Upper: []float64{1, 1, 2, 3, 3, inf}})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "from", c.From, []float64{0, 2}, 0)
	testkit.AllAlmostEqual(t, "to", c.To, []float64{1, 3}, 0)
	testkit.AllAlmostEqual(t, "mass", c.Mass, []float64{0.5, 0.5}, 1e-8)
	testkit.AlmostEqual(t, "likelihood", c.LogLik, -math.Log(64), 1e-9)
	for _, w := range []struct{ t, least, most float64 }{{0, 0, 0}, {0.5, 0, 0.5}, {1, 0.5, 0.5}, {2.5, 0.5, 1}, {3, 1, 1}} {
		least, most := c.By(w.t)
		testkit.AlmostEqual(t, "least", least, w.least, 1e-8)
		testkit.AlmostEqual(t, "most", most, w.most, 1e-8)
	}
	if c.N != 6 || c.Events != 5 || c.Gradient > 1+1e-8 || len(c.Warnings) != 0 {
		t.Errorf("%+v", c)
	}
}

// With exact and censored times alone the curve is that of Kaplan-Meier: events
// on days 2, 4, 4 and censoring on days 3, 4, 5 leave 5/6 and 5/12 (see the
// hand-worked case there).
func TestTurnbullOfExactTimes(t *testing.T) {
	c, err := Turnbull(Data{Lower: []float64{2, 3, 4, 4, 4, 5}, Upper: []float64{2, inf, 4, inf, 4, inf}})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "mass", c.Mass, []float64{1. / 6, 5. / 12, 5. / 12}, 1e-8)
	if !math.IsInf(c.To[2], 1) {
		t.Errorf("the rest lies after the last censoring, not by %v", c.To[2])
	}
}

// visits draws event times seen at visits three weeks apart or so.
func visits(seed uint64, n int) (Data, [][]float64) {
	r := rand.New(rand.NewPCG(seed, 5))
	var d Data
	x := [][]float64{make([]float64, n)}
	for i := range n {
		x[0][i] = r.NormFloat64()
		event := 60 * math.Exp(0.4*x[0][i]+0.7*math.Log(r.ExpFloat64()))
		last, next := 0.0, 0.0
		for next < event && next < 180 {
			last, next = next, next+float64(10+r.IntN(20))
		}
		if event > next {
			last, next = next, inf
		}
		d.Lower, d.Upper = append(d.Lower, last), append(d.Upper, next)
	}
	return d, x
}

func shuffle(d Data, x []float64, order []int) (Data, []float64) {
	var out Data
	var y []float64
	for _, i := range order {
		out.Lower, out.Upper = append(out.Lower, d.Lower[i]), append(out.Upper, d.Upper[i])
		if d.Person != nil {
			out.Person = append(out.Person, d.Person[i])
		}
		y = append(y, x[i])
	}
	return out, y
}

func TestIntervalProperties(t *testing.T) {
	d, x := visits(1, 150)
	before := Data{Lower: slices.Clone(d.Lower), Upper: slices.Clone(d.Upper)}
	c, err := Turnbull(d)
	if err != nil {
		t.Fatal(err)
	}
	checkOptimal(t, "visits", d, c)
	w, err := Weibull(d, x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d, before) {
		t.Fatal("inputs were changed")
	}
	order := rand.New(rand.NewPCG(2, 2)).Perm(150)
	mixed, y := shuffle(d, x[0], order)
	c2, err := Turnbull(mixed)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "row order", c2.LogLik, c.LogLik, 1e-10)
	w2, err := Weibull(mixed, [][]float64{y}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "row order", w2.Coef, w.Coef, 1e-8)

	// Every row twice: the same curve, twice the likelihood; within a person
	// the same variance as once.
	twice, y := shuffle(d, x[0], append(order, order...))
	twice.Person = append(append([]int(nil), order...), order...)
	if c2, err = Turnbull(twice); err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "doubling", c2.LogLik, 2*c.LogLik, 1e-9)
	if w2, err = Weibull(twice, [][]float64{y}, Options{}); err != nil {
		t.Fatal(err)
	}
	once := d
	once.Person = make([]int, 150)
	for i := range once.Person {
		once.Person[i] = i
	}
	once.Weight = slices.Repeat([]float64{2}, 150) // other than 1: the sandwich
	w3, err := Weibull(once, x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "doubling within persons", flat(w2.Cov), flat(w3.Cov), 1e-6)

	// Time in weeks: intercept less log 7, the rest unchanged.
	weeks := Data{Lower: slices.Clone(d.Lower), Upper: slices.Clone(d.Upper)}
	for i := range weeks.Lower {
		weeks.Lower[i] /= 7
		weeks.Upper[i] /= 7
	}
	if w2, err = Weibull(weeks, x, Options{}); err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "weeks", []float64{w2.Coef[0] + math.Log(7), w2.Coef[1], w2.LogScale}, []float64{w.Coef[0], w.Coef[1], w.LogScale}, 1e-8)
	a, err := w.Quantile([]float64{0.3}, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Share([]float64{0.3}, a.Value)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "share by the median", s.Value, 0.5, 1e-10)
	// On the scale of log -log(1-p), where the interval is symmetric, the error
	// is SE over the slope (1-p) (-log(1-p)) = log(2)/2.
	z, wide := math.Log(math.Log(2)), 1.959963984540054*s.SE/(math.Log(2)/2)
	testkit.AlmostEqual(t, "low", s.Low, -math.Expm1(-math.Exp(z-wide)), 1e-9)
	testkit.AlmostEqual(t, "high", s.High, -math.Expm1(-math.Exp(z+wide)), 1e-9)
	f := w.Factor(0)
	testkit.AlmostEqual(t, "error of the factor", f.SE, math.Exp(w.Coef[1])*math.Sqrt(w.Cov.At(1, 1)), 1e-12)
	for _, e := range []stats.Estimate{a, s, f} {
		if e.Level != 0.95 {
			t.Errorf("level %v", e.Level)
		}
	}
}

// Exponential by hand: with no columns and scale 1 the likelihood of exact
// times peaks at their mean. Times 1, 2, 4 and their Weibull fit satisfy
// sum t^k log t / sum t^k - 1/k = mean log t, and the scale parameter is the
// k-mean of the times.
func TestWeibullByHand(t *testing.T) {
	in := Data{Lower: []float64{1, 2, 4}, Upper: []float64{1, 2, 4}}
	r, err := Weibull(in, nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	k := math.Exp(-r.LogScale)
	var sum, logs, mean float64
	for _, x := range in.Lower {
		sum += math.Pow(x, k)
		logs += math.Pow(x, k) * math.Log(x)
		mean += math.Log(x) / 3
	}
	testkit.AlmostEqual(t, "shape equation", logs/sum-1/k, mean, 1e-8)
	testkit.AlmostEqual(t, "scale equation", r.Coef[0], math.Log(math.Pow(sum/3, 1/k)), 1e-8)
}

// 200 trials of 120 persons seen at visits, with slope 0.4: the mean within
// four Monte Carlo errors plus 0.02, the intervals hold it 190 times on average
// (Monte Carlo error 3.1).
func TestWeibullHoldsItsCoverage(t *testing.T) {
	inside, sum, squares := 0, 0.0, 0.0
	for seed := range uint64(200) {
		d, x := visits(50+seed, 120)
		r, err := Weibull(d, x, Options{})
		if err != nil {
			t.Fatal(err)
		}
		sum += r.Coef[1]
		squares += r.Coef[1] * r.Coef[1]
		if e := r.Factor(0); e.Low <= math.Exp(0.4) && math.Exp(0.4) <= e.High {
			inside++
		}
	}
	mean := sum / 200
	if mc := math.Sqrt((squares/200 - mean*mean) / 200); math.Abs(mean-0.4) > 4*mc+0.02 {
		t.Errorf("mean slope %v, 0.4 expected", mean)
	}
	if inside < 180 {
		t.Errorf("%d of 200 intervals hold the truth", inside)
	}
}

func TestIntervalHardData(t *testing.T) {
	for name, in := range map[string]Data{
		"one person":         {Lower: []float64{3}, Upper: []float64{5}},
		"one exact":          {Lower: []float64{3}, Upper: []float64{3}},
		"all the same":       {Lower: []float64{3, 3, 3}, Upper: []float64{5, 5, 5}},
		"all tied exact":     {Lower: []float64{3, 3, 3}, Upper: []float64{3, 3, 3}},
		"day 0 exact":        {Lower: []float64{0, 0, 1}, Upper: []float64{0, 2, 3}},
		"all before a visit": {Lower: []float64{0, 0, 0}, Upper: []float64{2, 3, 4}},
		"one seen of many":   {Lower: []float64{0, 4, 5, 6, 7}, Upper: []float64{3, inf, inf, inf, inf}},
		"nested":             {Lower: []float64{0, 1, 2}, Upper: []float64{9, 8, 7}},
		"huge":               {Lower: []float64{0, 1e200, 1e-200}, Upper: []float64{1e-300, 1e300, inf}},
		"tiny weights":       {Lower: []float64{1, 2, 3}, Upper: []float64{2, 3, inf}, Weight: []float64{1e-12, 1, 1e12}},
	} {
		c, err := Turnbull(in)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := stats.CheckFinite(name, append(c.Mass, c.LogLik, c.Gradient)); err != nil || c.Gradient > 1+1e-8 {
			t.Errorf("%s: %v, gradient %v", name, err, c.Gradient)
		}
		r, err := Weibull(in, nil, Options{})
		if err != nil {
			if !errors.Is(err, stats.ErrNotConverged) && !errors.Is(err, stats.ErrNoVariation) && !errors.Is(err, stats.ErrRange) {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		e, err := r.Share(nil, 2)
		q, err2 := r.Quantile(nil, 0.5)
		if err != nil || err2 != nil || stats.CheckFinite(name, []float64{e.Value, e.Low, e.High, e.SE, q.Value, q.Low, q.High, q.SE}) != nil {
			t.Errorf("%s: %+v %+v %v %v", name, e, q, err, err2)
		}
	}
}

func TestIntervalRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Data)
		want   error
	}{
		"empty":          {func(d *Data) { *d = Data{} }, stats.ErrEmpty},
		"upper length":   {func(d *Data) { d.Upper = d.Upper[:1] }, stats.ErrLength},
		"weight length":  {func(d *Data) { d.Weight = []float64{1} }, stats.ErrLength},
		"person length":  {func(d *Data) { d.Person = []int{1} }, stats.ErrLength},
		"NaN lower":      {func(d *Data) { d.Lower[0] = math.NaN() }, stats.ErrNotFinite},
		"NaN upper":      {func(d *Data) { d.Upper[0] = math.NaN() }, stats.ErrNotFinite},
		"infinite lower": {func(d *Data) { d.Lower[0] = inf }, stats.ErrNotFinite},
		"NaN weight":     {func(d *Data) { d.Weight = []float64{math.NaN(), 1, 1} }, stats.ErrNotFinite},
		"negative":       {func(d *Data) { d.Lower[0] = -1 }, stats.ErrRange},
		"upside down":    {func(d *Data) { d.Upper[0] = 0.5 }, stats.ErrRange},
		"weight 0":       {func(d *Data) { d.Weight = []float64{1, 0, 1} }, stats.ErrRange},
		"none seen":      {func(d *Data) { d.Upper = []float64{inf, inf, inf} }, stats.ErrNoEvents},
	} {
		d := Data{Lower: []float64{1, 2, 3}, Upper: []float64{2, 4, inf}}
		c.change(&d)
		if _, err := Turnbull(d); !errors.Is(err, c.want) {
			t.Errorf("%s: Turnbull says %v", name, err)
		}
		if _, err := Weibull(d, nil, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: Weibull says %v", name, err)
		}
	}
	d, x := visits(3, 30)
	for name, c := range map[string]struct {
		x    [][]float64
		want error
	}{
		"column length": {[][]float64{{1}}, stats.ErrLength},
		"NaN column":    {[][]float64{slices.Repeat([]float64{math.NaN()}, 30)}, stats.ErrNotFinite},
		"zero variance": {[][]float64{make([]float64, 30)}, stats.ErrNoVariation},
		"collinear":     {[][]float64{x[0], x[0]}, stats.ErrCollinear},
	} {
		if _, err := Weibull(d, c.x, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Weibull(d, x, Options{Level: -1}); !errors.Is(err, stats.ErrRange) {
		t.Errorf("level: %v", err)
	}
	d.Person = make([]int, 30)
	if _, err := Weibull(d, x, Options{}); !errors.Is(err, stats.ErrTooFew) {
		t.Errorf("one person: %v", err)
	}
	d.Person = nil
	r, err := Weibull(d, x, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []float64{0, -1, math.NaN(), inf} {
		if _, err := r.Share([]float64{0}, bad); !errors.Is(err, stats.ErrRange) {
			t.Errorf("share by %v: %v", bad, err)
		}
		if _, err := r.Quantile([]float64{0}, bad); !errors.Is(err, stats.ErrRange) {
			t.Errorf("quantile %v: %v", bad, err)
		}
	}
	if _, err := r.Share(nil, 1); !errors.Is(err, stats.ErrLength) {
		t.Errorf("no covariates: %v", err)
	}
	if _, err := r.Quantile([]float64{math.NaN()}, 0.5); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("NaN covariate: %v", err)
	}
}

// Small random data with exact, overlapping, nested and open intervals, many of
// them tied: the maximum is reached every time.
func TestTurnbullIsOptimalOnAnyMixture(t *testing.T) {
	for seed := range uint64(100) {
		r := rand.New(rand.NewPCG(seed, 9))
		var d Data
		for range 3 + r.IntN(60) {
			low := float64(r.IntN(12))
			high := low + 1 + float64(r.IntN(8))
			switch r.IntN(4) {
			case 0:
				high = low
			case 1:
				high = inf
			}
			d.Lower, d.Upper = append(d.Lower, low), append(d.Upper, high)
			d.Weight = append(d.Weight, 0.5+r.Float64())
		}
		if d.seen() == 0 {
			continue
		}
		c, err := Turnbull(d)
		if err != nil {
			t.Fatal(err)
		}
		checkOptimal(t, "mixture", d, c)
	}
}

// By hand: two between 0 and 10, two between 20 and 30: half of all lie in each.
func TestEvenByHand(t *testing.T) {
	c, err := Turnbull(Data{Lower: []float64{0, 0, 20, 20}, Upper: []float64{10, 10, 30, math.Inf(1)}})
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[float64]float64{0: 0, 5: 0.25, 10: 0.5, 15: 0.5, 25: 0.75, 30: 1, 99: 1} {
		if got := c.Even(at); math.Abs(got-want) > 1e-9 {
			t.Errorf("by %g: %g, want %g", at, got, want)
		}
	}
	open, err := Turnbull(Data{Lower: []float64{0, 20}, Upper: []float64{10, math.Inf(1)}})
	if err != nil {
		t.Fatal(err)
	}
	if got := open.Even(50); math.Abs(got-0.5) > 1e-9 {
		t.Errorf("what was never seen does not count: %g", got)
	}
}
