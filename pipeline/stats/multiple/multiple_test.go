package multiple

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

func TestAdjustByHand(t *testing.T) {
	p := []float64{0.04, 0.01, 0.03, 0.5}
	// Holm, in order 0.01 x 4, 0.03 x 3, max(0.09, 0.04 x 2), 0.5 x 1.
	holm, err := Holm(p)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "Holm", holm, []float64{0.09, 0.04, 0.09, 0.5}, 1e-15)
	// Benjamini-Hochberg from the top: 0.5, 0.04 x 4/3, min(0.0533, 0.03 x 2), 0.01 x 4.
	bh, err := BenjaminiHochberg(p)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "Benjamini-Hochberg", bh, []float64{0.16 / 3, 0.04, 0.16 / 3, 0.5}, 1e-15)
	if !reflect.DeepEqual(p, []float64{0.04, 0.01, 0.03, 0.5}) {
		t.Error("the input was changed")
	}
}

func TestAdjustAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "multiple/adjust")
	for _, set := range []string{"sprays", "insurance", "airquality", "anorexia", "birthwt", "mtcars", "lung", "ties"} {
		p := a.Floats(set + ".p")
		holm, err := Holm(p)
		if err != nil {
			t.Fatal(err)
		}
		bh, err := BenjaminiHochberg(p)
		if err != nil {
			t.Fatal(err)
		}
		testkit.AllAlmostEqual(t, set+" Holm", holm, a.Floats(set+".holm"), 1e-12)
		testkit.AllAlmostEqual(t, set+" Benjamini-Hochberg", bh, a.Floats(set+".bh"), 1e-12)
	}
}

func TestAdjustProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 100 {
		p := make([]float64, 1+r.IntN(12))
		for i := range p {
			p[i] = float64(r.IntN(20)) / 20 // ties are common
		}
		for _, adjust := range []func([]float64) ([]float64, error){Holm, BenjaminiHochberg} {
			out, err := adjust(p)
			if err != nil {
				t.Fatal(err)
			}
			turned := slices.Clone(p)
			slices.Reverse(turned)
			back, err := adjust(turned)
			if err != nil {
				t.Fatal(err)
			}
			slices.Reverse(back)
			if !reflect.DeepEqual(out, back) {
				t.Fatalf("order matters: %v and %v", out, back)
			}
			for i := range p {
				if out[i] < p[i] || out[i] > 1 {
					t.Fatalf("%v adjusted to %v", p, out)
				}
			}
		}
	}
}

// Of 2,000 families of ten true nulls about 5 % may hold a finding: Monte
// Carlo SE 0.5 %.
func TestFalseFindingsStayRare(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	const families = 2000
	holmFalse, bhFalse := 0, 0
	for range families {
		p := make([]float64, 10)
		for i := range p {
			p[i] = r.Float64()
		}
		holm, _ := Holm(p)
		bh, _ := BenjaminiHochberg(p)
		if slices.Min(holm) < 0.05 {
			holmFalse++
		}
		if slices.Min(bh) < 0.05 {
			bhFalse++
		}
	}
	for name, n := range map[string]int{"Holm": holmFalse, "Benjamini-Hochberg": bhFalse} {
		if share := float64(n) / families; math.Abs(share-0.05) > 0.015 {
			t.Errorf("%s: %.4f of families hold a false finding", name, share)
		}
	}
}

func TestAdjustRefusesBadInput(t *testing.T) {
	for _, c := range []struct {
		p    []float64
		want error
	}{
		{nil, stats.ErrEmpty},
		{[]float64{0.1, math.NaN()}, stats.ErrNotFinite},
		{[]float64{1.1}, stats.ErrRange},
		{[]float64{-0.1}, stats.ErrRange},
	} {
		if _, err := Holm(c.p); !errors.Is(err, c.want) {
			t.Errorf("Holm(%v): %v", c.p, err)
		}
		if _, err := BenjaminiHochberg(c.p); !errors.Is(err, c.want) {
			t.Errorf("BenjaminiHochberg(%v): %v", c.p, err)
		}
	}
	for _, p := range [][]float64{{0}, {1}, {0, 0, 1}} {
		out, err := Holm(p)
		if err != nil || !reflect.DeepEqual(out, p) {
			t.Errorf("Holm(%v) = %v, %v", p, out, err)
		}
	}
}
