package resample

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func meanOf(xs []float64) Statistic {
	return func(draw []int) ([]float64, error) {
		var s float64
		for _, i := range draw {
			s += xs[i]
		}
		return []float64{s / float64(len(draw))}, nil
	}
}

func TestIntervalsByHand(t *testing.T) {
	// Draws 1..9 (shuffled): rank (9+1) x 0.1 = 1 at the lower end, 9 at the
	// upper, so the interval is 1 to 9 and both limits are outermost draws.
	d := &Draws{Point: []float64{5.5}, Values: [][]float64{{3, 1, 2, 9, 8, 7, 4, 5, 6}}, Persons: 4}
	e, err := d.Percentile(0, 0.8)
	must(t, err)
	testkit.AllAlmostEqual(t, "interval", []float64{e.Low, e.High}, []float64{1, 9}, 1e-9)
	if e.Value != 5.5 || e.N != 4 || e.Level != 0.8 || e.Warnings[0].Code != "few-draws" {
		t.Errorf("%+v", e)
	}
	// Their standard deviation: squares 16+9+4+1+0+1+4+9+16 = 60, /8.
	testkit.AlmostEqual(t, "se", e.SE, math.Sqrt(7.5), 1e-12)
	// At level 0.5: rank 2.5, between 2 and 3 on the normal scale:
	// z(0.2) = -0.84162, z(0.25) = -0.67449, z(0.3) = -0.52440; 2 + 0.52685.
	e, err = d.Percentile(0, 0.5)
	must(t, err)
	testkit.AlmostEqual(t, "low", e.Low, 2.5268, 1e-4)
	testkit.AlmostEqual(t, "high", e.High, 10-e.Low, 1e-9)
	// Symmetric draws and influences: neither bias nor skewness, BCa is the
	// percentile interval. Ties with the value count as not below.
	d.Point[0] = 5.5
	d.Values[0] = []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	plain, err := d.Percentile(0, 0.5)
	must(t, err)
	bca, err := d.BCa(0, 0.5, []float64{3, 5, 6, 8})
	must(t, err)
	testkit.AlmostEqual(t, "BCa se", bca.SE, plain.SE, 1e-12)
	testkit.AlmostEqual(t, "BCa level", bca.Level, 0.5, 0)
	testkit.AllAlmostEqual(t, "BCa", []float64{bca.Low, bca.High}, []float64{plain.Low, plain.High}, 1e-9)
	// Value 1, influences 1-2 three times and 1+2: squares 12, cubes 24, a = 24/(6 x 12^1.5).
	a, err := d.acceleration(1, []float64{2, 2, 2, -2})
	must(t, err)
	testkit.AlmostEqual(t, "acceleration", a, 24/(6*math.Pow(12, 1.5)), 1e-12)
	left, err := Jackknife(context.Background(), 3, meanOf([]float64{1, 2, 6}), 0)
	must(t, err)
	testkit.AllAlmostEqual(t, "left out", left[0], []float64{4, 3.5, 1.5}, 1e-15)
}

func TestSameNumbersForAnyCoreCount(t *testing.T) {
	xs := []float64{1, 5, 2, 8, 3, 3, 9, 1}
	kept := slices.Clone(xs)
	var first *Draws
	for _, workers := range []int{1, 2, 7, 0} {
		d, err := Bootstrap(context.Background(), len(xs), meanOf(xs), Options{Replicates: 101, Seed: 4, Workers: workers})
		must(t, err)
		if first == nil {
			first = d
		}
		if !reflect.DeepEqual(d, first) {
			t.Errorf("%d workers give other numbers", workers)
		}
	}
	other, err := Bootstrap(context.Background(), len(xs), meanOf(xs), Options{Replicates: 101, Seed: 5})
	must(t, err)
	if reflect.DeepEqual(other.Values, first.Values) {
		t.Error("another seed gives the same numbers")
	}
	// A longer run begins with the shorter one.
	longer, err := Bootstrap(context.Background(), len(xs), meanOf(xs), Options{Replicates: 150, Seed: 4})
	must(t, err)
	if !reflect.DeepEqual(longer.Values[0][:101], first.Values[0]) {
		t.Error("more replicates change the earlier draws")
	}
	if !reflect.DeepEqual(xs, kept) {
		t.Error("the input was changed")
	}
}

// The bootstrap variance of a mean is known: the variance with divisor n over
// n. 4,000 draws, whose variance has a relative SE of about 2.2 %.
func TestBootstrapVarianceOfAMean(t *testing.T) {
	xs := []float64{1, 5, 2, 8, 3, 3, 9, 1, 4, 6}
	d, err := Bootstrap(context.Background(), len(xs), meanOf(xs), Options{Replicates: 4000, Seed: 1})
	must(t, err)
	n := float64(len(xs))
	testkit.AlmostEqual(t, "variance", stat.Variance(d.Values[0], nil), stat.Variance(xs, nil)*(n-1)/n/n, 0.1)
}

// Means of skewed data, 300 samples of 40, 299 draws each: Monte Carlo SE of
// the coverage 0.015.
func TestIntervalsCover(t *testing.T) {
	const samples = 300
	r := rand.New(rand.NewPCG(11, 3))
	percentile, bca := 0, 0
	for s := range samples {
		xs := make([]float64, 40)
		for i := range xs {
			xs[i] = distuv.Exponential{Rate: 1, Src: r}.Rand()
		}
		d, err := Bootstrap(context.Background(), len(xs), meanOf(xs), Options{Replicates: 299, Seed: uint64(s)})
		must(t, err)
		left, err := Jackknife(context.Background(), len(xs), meanOf(xs), 0)
		must(t, err)
		p, err := d.Percentile(0, 0.95)
		must(t, err)
		b, err := d.BCa(0, 0.95, left[0])
		must(t, err)
		if p.Low <= 1 && 1 <= p.High {
			percentile++
		}
		if b.Low <= 1 && 1 <= b.High {
			bca++
		}
	}
	for name, n := range map[string]int{"percentile": percentile, "BCa": bca} {
		if share := float64(n) / samples; share < 0.87 || share > 0.98 {
			t.Errorf("%s covers %.3f", name, share)
		}
	}
}

func TestBootstrapRefusesAndReports(t *testing.T) {
	ctx := context.Background()
	ended, cancel := context.WithCancel(ctx)
	cancel()
	mean := meanOf([]float64{1, 2, 4})
	failing := func(draw []int) ([]float64, error) {
		if draw[0] == 2 || len(draw) < 3 {
			return nil, stats.ErrSeparation
		}
		if draw[0] == 1 && draw[1] == 1 {
			return []float64{math.NaN()}, nil
		}
		return mean(draw)
	}
	growing := func(draw []int) ([]float64, error) {
		if slices.Equal(draw, []int{0, 1, 2}) {
			return []float64{1}, nil
		}
		return []float64{1, 2}, nil
	}
	broken := func([]int) ([]float64, error) { return nil, stats.ErrNoEvents }
	notFinite := func([]int) ([]float64, error) { return []float64{math.Inf(1)}, nil }
	nothing := func([]int) ([]float64, error) { return nil, nil }
	opt := Options{Replicates: 50, Seed: 1}
	boot := func(ctx context.Context, n int, s Statistic, o Options) func() error {
		return func() error { _, err := Bootstrap(ctx, n, s, o); return err }
	}
	jack := func(n int, s Statistic) func() error {
		return func() error { _, err := Jackknife(ctx, n, s, 2); return err }
	}
	d := &Draws{Point: []float64{2}, Values: [][]float64{{1, 2, 3}}, Persons: 3}
	same := &Draws{Point: []float64{2}, Values: [][]float64{{2, 2}}, Persons: 3}
	above := &Draws{Point: []float64{0}, Values: [][]float64{{1, 2, 3}}, Persons: 3}
	percentile := func(d *Draws, k int, level float64) func() error {
		return func() error { _, err := d.Percentile(k, level); return err }
	}
	bca := func(d *Draws, left ...float64) func() error {
		return func() error { _, err := d.BCa(0, 0.95, left); return err }
	}
	for name, c := range map[string]struct {
		want error
		call func() error
	}{
		"one person":       {stats.ErrTooFew, boot(ctx, 1, mean, opt)},
		"one draw":         {stats.ErrTooFew, boot(ctx, 3, mean, Options{Replicates: 1})},
		"share":            {stats.ErrRange, boot(ctx, 3, mean, Options{Replicates: 9, MaxFailed: 1})},
		"too many failed":  {stats.ErrNotConverged, boot(ctx, 3, failing, Options{Replicates: 50, MaxFailed: 0.1})},
		"other length":     {stats.ErrLength, boot(ctx, 3, growing, opt)},
		"fails at once":    {stats.ErrNoEvents, boot(ctx, 3, broken, opt)},
		"infinite":         {stats.ErrNotFinite, boot(ctx, 3, notFinite, opt)},
		"nothing":          {stats.ErrEmpty, boot(ctx, 3, nothing, opt)},
		"ended":            {context.Canceled, boot(ended, 3, mean, opt)},
		"jackknife of two": {stats.ErrTooFew, jack(2, mean)},
		"jackknife fails":  {stats.ErrNotConverged, jack(3, failing)},
		"jackknife broken": {stats.ErrNoEvents, jack(3, broken)},
		"jackknife grows":  {stats.ErrLength, jack(3, growing)},
		"no such number":   {stats.ErrRange, percentile(d, 1, 0.95)},
		"level":            {stats.ErrRange, percentile(d, 0, 1)},
		"all equal":        {stats.ErrNoVariation, percentile(same, 0, 0.95)},
		"left length":      {stats.ErrLength, bca(d, 1, 2)},
		"left NaN":         {stats.ErrNotFinite, bca(d, 1, 2, math.NaN())},
		"left equal":       {stats.ErrNoVariation, bca(d, 1, 1, 1)},
		"one side":         {stats.ErrTooFew, bca(above, 1, 2, 3)},
	} {
		if err := c.call(); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	some, err := Bootstrap(ctx, 3, failing, Options{Replicates: 50, MaxFailed: 0.9})
	must(t, err)
	e, err := some.Percentile(0, 0.5)
	must(t, err)
	if some.Failed == 0 || len(some.Values[0])+some.Failed != 50 || e.Warnings[0].Code != "failed-draws" {
		t.Errorf("failed %d, %+v", some.Failed, e)
	}
}
