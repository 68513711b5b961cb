package impute

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat"
)

var nan = math.NaN()

func TestPoolByHand(t *testing.T) {
	// Values 1, 2, 3 with variance 2 each: within 2, between (4/3) x 1, in all
	// 10/3; its share 0.4. Old degrees of freedom 2/0.16 = 12.5; with 20 when
	// complete, observed 21/23 x 20 x 0.6 = 252/23; together 1/(0.08 + 23/252).
	p, err := Pool([]float64{1, 2, 3}, []float64{2, 2, 2}, 20, 0.95)
	must(t, err)
	df := 1 / (0.08 + 23.0/252)
	testkit.AlmostEqual(t, "value", p.Value, 2, 1e-15)
	testkit.AlmostEqual(t, "level", p.Level, 0.95, 0)
	testkit.AlmostEqual(t, "se", p.SE, math.Sqrt(10.0/3), 1e-14)
	testkit.AlmostEqual(t, "df", p.DegreesOfFreedom, df, 1e-12)
	testkit.AlmostEqual(t, "lost", p.Lost, (2.0/3+2/(df+3))/(5.0/3), 1e-12)
	p, err = Pool([]float64{1, 2, 3}, []float64{2, 2, 2}, 0, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "df, large", p.DegreesOfFreedom, 12.5, 1e-12)
	// No difference between imputations: the interval is the normal one.
	p, err = Pool([]float64{5, 5}, []float64{1, 1}, 0, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "high", p.High, 5+1.959963984540054, 1e-8)
	if p.Lost > 1e-8 || len(p.Warnings) != 0 {
		t.Errorf("lost %v, warnings %v", p.Lost, p.Warnings)
	}
	// Values 0 and 10 with variance 1: nearly all is lost.
	p, err = Pool([]float64{0, 10}, []float64{1, 1}, 0, 0.95)
	must(t, err)
	if p.Warnings[0].Code != "much-lost" {
		t.Errorf("warnings %v", p.Warnings)
	}
}

func TestNearestByHand(t *testing.T) {
	foretold := []float64{5, 1, 3, 9, 7, 4}
	order := []int{1, 2, 5, 0, 4, 3} // 1 3 4 5 7 9
	for at, want := range map[float64][]int{
		-10: {1, 2, 5, 0, 4},
		20:  {3, 4, 0, 5, 2},
		4.4: {5, 0, 2, 4, 1}, // 4, 5, 3, 7, 1
	} {
		if got := nearest(order, foretold, at); !reflect.DeepEqual(got, want) {
			t.Errorf("nearest to %v: %v, want %v", at, got, want)
		}
	}
}

// persons with a measured y that follows x, and a three-level kind that does
// too, some of them without one or the other.
func persons() []Variable {
	r := rand.New(rand.NewPCG(3, 14))
	n := 80
	x, y, kind := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
		y[i] = math.Round(10*(2*x[i]+0.3*r.NormFloat64())) / 10
		kind[i] = []float64{10, 20, 40}[min(2, max(0, int(1.5+x[i]+0.3*r.NormFloat64())))]
		switch i % 8 {
		case 2:
			y[i] = nan
		case 5:
			kind[i] = nan
		}
	}
	return []Variable{{"x", Measured, x}, {"y", Measured, y}, {"kind", Categorical, kind}}
}

func TestChainedKeepsWhatIsKnown(t *testing.T) {
	v, kept := persons(), persons()
	var first [][][]float64
	for _, workers := range []int{1, 2, 0} {
		filled, err := Chained(context.Background(), v, Options{Imputations: 4, Iterations: 5, Seed: 7, Workers: workers})
		must(t, err)
		if first == nil {
			first = filled
		}
		if !reflect.DeepEqual(filled, first) {
			t.Errorf("%d workers give other values", workers)
		}
	}
	other, err := Chained(context.Background(), v, Options{Imputations: 4, Iterations: 5, Seed: 8})
	must(t, err)
	if reflect.DeepEqual(other, first) || reflect.DeepEqual(first[0], first[1]) {
		t.Error("seed or number of the imputation changes nothing")
	}
	closeTo, known := 0, 0
	for _, f := range first {
		for j := range v {
			for i, value := range f[j] {
				original := v[j].Values[i]
				if !math.IsNaN(original) {
					known++
					if value != original {
						t.Fatalf("%s of person %d became %v", v[j].Name, i, value)
					}
				} else if !slices.Contains(v[j].Values, value) {
					t.Fatalf("%s of person %d became %v, which nobody has", v[j].Name, i, value)
				} else if j == 1 && math.Abs(value-2*f[0][i]) < 1.2 {
					closeTo++
				}
			}
		}
	}
	// 10 missing y in each of 4: y is within 4 residual SD of 2x nearly always.
	if closeTo < 35 || known == 0 {
		t.Errorf("%d of 40 filled-in values follow x", closeTo)
	}
	for j := range v {
		for i := range v[j].Values {
			if a, b := v[j].Values[i], kept[j].Values[i]; a != b && !(math.IsNaN(a) && math.IsNaN(b)) {
				t.Fatal("the input was changed")
			}
		}
	}
	// Nothing missing: copies.
	whole := []Variable{v[0]}
	filled, err := Chained(context.Background(), whole, Options{Imputations: 2, Iterations: 1})
	must(t, err)
	if !reflect.DeepEqual(filled[1][0], v[0].Values) {
		t.Error("complete values changed")
	}
	filled[0][0][0]++
	if filled[0][0][0] == v[0].Values[0] {
		t.Error("the result shares the input")
	}
}

// Categories follow x: filled-in shares must be those of the persons alike.
func TestCategoriesFollowTheirModel(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	n := 600
	side, kind := make([]float64, n), make([]float64, n)
	for i := range side {
		side[i] = float64(i % 2)
		kind[i] = float64(r.IntN(2)) // half and half on side 0
		if side[i] == 1 && r.Float64() < 0.6 {
			kind[i] = 2
		}
		if i >= 400 {
			kind[i] = nan
		}
	}
	filled, err := Chained(context.Background(), []Variable{{"side", Categorical, side}, {"kind", Categorical, kind}},
		Options{Imputations: 10, Iterations: 2, Seed: 1})
	must(t, err)
	var count [2][3]float64
	for _, f := range filled {
		for i := 400; i < n; i++ {
			count[i%2][int(f[1][i])] += 1.0 / 1000
		}
	}
	// Shares of 200 persons a side are known to 0.035; the pseudo-persons pull
	// them by less than 0.01.
	for s, want := range [][]float64{{0.5, 0.5, 0}, {0.2, 0.2, 0.6}} {
		for k, share := range want {
			if math.Abs(count[s][k]-share) > 0.09 {
				t.Errorf("side %d, kind %d: share %.3f, want %.3f", s, k, count[s][k], share)
			}
		}
	}
}

// The slope of y on x when x goes missing the likelier, the larger y is: 200
// samples of 150, 5 imputations. Monte Carlo SE of the coverage 0.015.
func TestImputationIsProper(t *testing.T) {
	const samples, n = 200, 150
	r := rand.New(rand.NewPCG(21, 4))
	covered, biased := 0, 0.0
	var pooled []float64
	for s := range samples {
		x, y, gap := make([]float64, n), make([]float64, n), make([]float64, n)
		ones := make([]float64, n)
		var cx, cy, cOnes []float64
		for i := range x {
			x[i] = r.NormFloat64()
			y[i] = x[i] + r.NormFloat64()
			ones[i], gap[i] = 1, x[i]
			if r.Float64() < 0.9/(1+math.Exp(-1.5*y[i])) {
				gap[i] = nan
			} else {
				cx, cy, cOnes = append(cx, x[i]), append(cy, y[i]), append(cOnes, 1)
			}
		}
		slope := func(ones, x, y []float64) (float64, float64) {
			m, err := regress.LeastSquares(regress.Data{Y: y, Columns: [][]float64{ones, x}, Names: []string{"1", "x"}})
			must(t, err)
			return m.Coef[1], m.SE[1] * m.SE[1]
		}
		b, _ := slope(cOnes, cx, cy)
		biased += b / samples
		filled, err := Chained(context.Background(), []Variable{{"x", Measured, gap}, {"y", Measured, y}},
			Options{Imputations: 5, Iterations: 1, Seed: uint64(s)})
		must(t, err)
		var values, variances []float64
		for _, f := range filled {
			b, v := slope(ones, f[0], f[1])
			values, variances = append(values, b), append(variances, v)
		}
		p, err := Pool(values, variances, n-2, 0.95)
		must(t, err)
		pooled = append(pooled, p.Value)
		if p.Low <= 1 && 1 <= p.High {
			covered++
		}
	}
	mean := stat.Mean(pooled, nil)
	if share := float64(covered) / samples; share < 0.88 || share > 0.99 {
		t.Errorf("coverage %.3f", share)
	}
	if math.Abs(mean-1) > 0.05 || math.Abs(biased-1) < 2*math.Abs(mean-1) {
		t.Errorf("imputed %.3f, complete cases %.3f, truth 1", mean, biased)
	}
}

func TestHardDataAreFilledOrRefused(t *testing.T) {
	ctx := context.Background()
	opt := Options{Imputations: 2, Iterations: 3, Seed: 1}
	x := []float64{1, 2, 3, 4, 5, 6, 7, 8}
	twice := []float64{2, 4, 6, 8, 10, 12, 14, 16}
	gap := []float64{1, nan, 3, nan, 5, 6, 7, 8}
	constant := []float64{3, 3, 3, 3, 3, 3, 3, 3}
	apart := []float64{0, 0, nan, 0, 1, 1, nan, 1}
	for name, v := range map[string][]Variable{
		"collinear": {{"x", Measured, x}, {"twice", Measured, twice}, {"gap", Measured, gap}},
		"constant":  {{"constant", Measured, constant}, {"gap", Measured, gap}},
		"foretold":  {{"x", Measured, x}, {"gap", Measured, gap}},
		"separated": {{"x", Measured, x}, {"apart", Categorical, apart}},
		"alone":     {{"apart", Categorical, apart}},
		"both":      {{"gap", Measured, gap}, {"apart", Categorical, apart}},
	} {
		filled, err := Chained(ctx, v, opt)
		must(t, err)
		for _, f := range filled {
			for j := range f {
				if err := stats.CheckFinite(v[j].Name, f[j]); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
		}
	}
	ended, cancel := context.WithCancel(ctx)
	cancel()
	many := make([]float64, 60)
	for i := range many {
		many[i] = float64(i)
	}
	few := []Variable{{"a", Measured, []float64{1, 5, 2}}, {"b", Measured, []float64{2, 1, 9}}, {"gap", Measured, []float64{1, nan, 4}}}
	chained := func(ctx context.Context, v []Variable, opt Options) func() error {
		return func() error { _, err := Chained(ctx, v, opt); return err }
	}
	pool := func(values, variances []float64, df, level float64) func() error {
		return func() error { _, err := Pool(values, variances, df, level); return err }
	}
	one := []Variable{{"gap", Measured, gap}}
	for name, c := range map[string]struct {
		want error
		call func() error
	}{
		"no variables":     {stats.ErrEmpty, chained(ctx, nil, opt)},
		"nobody":           {stats.ErrEmpty, chained(ctx, []Variable{{"x", Measured, nil}}, opt)},
		"nobody has it":    {stats.ErrEmpty, chained(ctx, []Variable{{"x", Measured, []float64{nan, nan}}}, opt)},
		"lengths":          {stats.ErrLength, chained(ctx, []Variable{{"x", Measured, x}, {"y", Measured, x[:3]}}, opt)},
		"infinite":         {stats.ErrNotFinite, chained(ctx, []Variable{{"x", Measured, []float64{1, math.Inf(1)}}}, opt)},
		"huge":             {stats.ErrRange, chained(ctx, []Variable{{"x", Measured, []float64{1, 1e101}}}, opt)},
		"one value":        {stats.ErrNoVariation, chained(ctx, []Variable{{"x", Measured, []float64{1, 1, nan}}}, opt)},
		"many codes":       {stats.ErrRange, chained(ctx, []Variable{{"x", Categorical, many}}, opt)},
		"one imputation":   {stats.ErrRange, chained(ctx, one, Options{Imputations: 1, Iterations: 1})},
		"no rounds":        {stats.ErrRange, chained(ctx, one, Options{Imputations: 2})},
		"too few":          {stats.ErrTooFew, chained(ctx, few, opt)},
		"ended":            {context.Canceled, chained(ended, one, opt)},
		"pool nothing":     {stats.ErrEmpty, pool(nil, nil, 0, 0.95)},
		"pool one":         {stats.ErrTooFew, pool([]float64{1}, []float64{1}, 0, 0.95)},
		"pool lengths":     {stats.ErrLength, pool([]float64{1, 2}, []float64{1}, 0, 0.95)},
		"pool NaN":         {stats.ErrNotFinite, pool([]float64{1, nan}, []float64{1, 1}, 0, 0.95)},
		"pool variance":    {stats.ErrRange, pool([]float64{1, 2}, []float64{1, 0}, 0, 0.95)},
		"pool df":          {stats.ErrRange, pool([]float64{1, 2}, []float64{1, 1}, -1, 0.95)},
		"pool level":       {stats.ErrRange, pool([]float64{1, 2}, []float64{1, 1}, 0, 1)},
		"pool all is lost": {stats.ErrTooFew, pool([]float64{1, 1e60}, []float64{1e-60, 1e-60}, 10, 0.95)},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}
