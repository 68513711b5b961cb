package spline_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/spline"
	"evenlimb/pipeline/testkit"
)

func natural(t *testing.T, knots []float64, low, high float64, intercept bool) *spline.Natural {
	t.Helper()
	b, err := spline.NewNatural(knots, low, high, intercept)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// By hand: without inner knots and constant, on 0 to 1, the B-splines kept are
// the Bernstein polynomials 3x(1-x)^2, 3x^2(1-x), x^3. A natural cubic without
// knots is a line, so the one column is c*x with x = (B1 + 2 B2 + 3 B3)/3, whose
// coefficient vector (1,2,3)/3 has to be a unit vector up to sign:
// c = 3/sqrt(1+4+9) = 0.8018. Second derivatives at the ends are (-12,6,0) and
// (0,6,-12), and (1,2,3) is orthogonal to both.
func TestNaturalByHand(t *testing.T) {
	b := natural(t, nil, 0, 1, false)
	if b.Columns() != 1 {
		t.Fatalf("%d columns, want 1", b.Columns())
	}
	for _, x := range []float64{-1, 0, 0.25, 1, 3} {
		row, err := b.Row(x)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AlmostEqual(t, "column", math.Abs(row[0]), math.Abs(x)*3/math.Sqrt(14), 1e-14)
	}
}

func TestNaturalColumnsCount(t *testing.T) {
	for _, intercept := range []bool{false, true} {
		want := 3
		if intercept {
			want = 4
		}
		if got := natural(t, []float64{4, 10}, 0, 26, intercept).Columns(); got != want {
			t.Errorf("intercept %v: %d columns, want %d", intercept, got, want)
		}
	}
}

func TestNaturalIsSmoothAndStraightOutside(t *testing.T) {
	knots, low, high := []float64{4, 10}, 0.0, 26.0
	b := natural(t, knots, low, high, false)
	row := func(x float64) []float64 {
		r, err := b.Row(x)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	second := func(x, h float64, j int) float64 {
		return (row(x + h)[j] - 2*row(x)[j] + row(x - h)[j]) / (h * h)
	}
	for j := range b.Columns() {
		for _, x := range []float64{-3, -1, 27, 40} {
			if d := second(x, 0.5, j); math.Abs(d) > 1e-12 {
				t.Errorf("column %d bends at %v: %v", j, x, d)
			}
		}
		// The second derivative runs into zero at the boundary from inside and
		// has no jump at a knot.
		for _, x := range []float64{low, 4, 10, high} {
			if jump := second(x+1e-3, 1e-3, j) - second(x-1e-3, 1e-3, j); math.Abs(jump) > 1e-3 {
				t.Errorf("column %d: second derivative jumps by %v at %v", j, jump, x)
			}
		}
	}
}

func TestLineDrawsTheLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 1))
	for range 50 {
		knots := make([]float64, rng.IntN(6))
		for i := range knots {
			knots[i] = rng.Float64()*20 - 5
		}
		slices.Sort(knots)
		for _, intercept := range []bool{false, true} {
			b := natural(t, knots, -6, 17, intercept)
			constant, coefficients := b.Line()
			for _, x := range []float64{-20, -6, 0, 3.3, 17, 99} {
				row, err := b.Row(x)
				if err != nil {
					t.Fatal(err)
				}
				got := constant
				for j := range row {
					got += row[j] * coefficients[j]
				}
				if math.Abs(got-x) > 1e-12*20 {
					t.Errorf("line at %v = %v", x, got)
				}
			}
		}
	}
}

// Shifting and stretching x and the knots together leaves the columns alone.
func TestNaturalFollowsTheUnit(t *testing.T) {
	weeks := natural(t, []float64{4, 10}, 0, 26, false)
	days := natural(t, []float64{7*4 + 3, 7*10 + 3}, 3, 7*26+3, false)
	for x := -5.0; x < 35; x += 0.7 {
		a, errA := weeks.Row(x)
		b, errB := days.Row(7*x + 3)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		testkit.AllAlmostEqual(t, "columns", b, a, 1e-11)
	}
}

func TestDesignLeavesInputsAlone(t *testing.T) {
	x, knots := []float64{9, 1, 5}, []float64{4, 8}
	b := natural(t, knots, 0, 10, true)
	columns, err := b.Design(x)
	if err != nil {
		t.Fatal(err)
	}
	columns[0][0] = -99
	if !slices.Equal(x, []float64{9, 1, 5}) || !slices.Equal(knots, []float64{4, 8}) {
		t.Error("inputs changed")
	}
	again, err := b.Design(x)
	if err != nil {
		t.Fatal(err)
	}
	if again[0][0] == -99 {
		t.Error("two designs share memory")
	}
}

func TestNaturalRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		knots     []float64
		low, high float64
		want      error
	}{
		"knot on the boundary":  {[]float64{0, 4}, 0, 10, stats.ErrRange},
		"knot on the upper end": {[]float64{4, 10}, 0, 10, stats.ErrRange},
		"knots out of order":    {[]float64{6, 4}, 0, 10, stats.ErrRange},
		"two knots in one":      {[]float64{4, 4}, 0, 10, stats.ErrRange},
		"empty boundary":        {nil, 5, 5, stats.ErrRange},
		"boundary turned round": {nil, 5, 1, stats.ErrRange},
		"NaN knot":              {[]float64{math.NaN()}, 0, 10, stats.ErrNotFinite},
		"endless boundary":      {nil, 0, math.Inf(1), stats.ErrNotFinite},
	} {
		if _, err := spline.NewNatural(c.knots, c.low, c.high, false); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", name, err, c.want)
		}
	}
	b := natural(t, []float64{4}, 0, 10, false)
	if _, err := b.Row(math.Inf(-1)); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("Row: error %v", err)
	}
	if _, err := b.Design([]float64{1, math.NaN()}); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("Design: error %v", err)
	}
	if _, err := b.Design(nil); !errors.Is(err, stats.ErrEmpty) {
		t.Errorf("Design of nothing: error %v", err)
	}
}
