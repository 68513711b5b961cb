package symmetry

import (
	"math"
	"testing"

	"evenlimb/pipeline/result"
)

func TestPercentiles(t *testing.T) {
	// 1 to 11: places 0.1 x 10, 0.5 x 10 and 0.9 x 10 counted from 0.
	eleven := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}
	for share, want := range map[float64]float64{0: 1, 0.1: 2, 0.5: 6, 0.9: 10, 1: 11, 0.25: 3.5} {
		if got := percentile(eleven, share); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: %v, want %v", share, got, want)
		}
	}
	if got := percentile([]float64{7}, 0.9); got != 7 {
		t.Errorf("of one value: %v", got)
	}
	for _, c := range []struct {
		x       float64
		percent bool
		want    float64
	}{{84.4999999, true, 85}, {84.49, true, 84}, {-0.25, false, -0.3}, {-0.2499, false, -0.2}} {
		if got := rounded(c.x, c.percent); got != c.want {
			t.Errorf("%v: %v, want %v", c.x, got, c.want)
		}
	}
}

// TestSpreadNeedsThreeTimesTheSupport has 30 people on the first day and 29 in
// week 4.
func TestSpreadNeedsThreeTimesTheSupport(t *testing.T) {
	in := input()
	for i := range 30 {
		key := in.begin(300)
		in.pair(key, force, 0, 600+float64(10*i), 1000)
		if i > 0 {
			in.pair(key, force, 28, 700+float64(10*(7*i%30)), 1000)
			in.pair(key, force, 49, 720+float64(10*(11*i%30)), 1000)
		}
	}
	f := figures(t, in)
	// Week 0: 60, 61, ... 89 %; places 2.9, 14.5 and 26.1: 62.9, 74.5 and 86.1, told whole.
	for statistic, want := range map[string]float64{"spread_low@w0": 63, "spread_middle@w0": 75, "spread_high@w0": 86} {
		closeTo(t, statistic, f[plant+statistic].Value, want)
	}
	// In week 2 both visits are equally near, and the earlier one counts.
	closeTo(t, "week 2", f[plant+"spread_low@w2"].Value, 63)
	if _, ok := f[plant+"spread_low@w4"]; ok {
		t.Error("29 people have a spread")
	}
	for _, g := range f {
		if g.Statistic == "spread_low" && g.Status == result.Withheld {
			t.Errorf("%s is withheld; it is left out where it cannot be told", g.ID)
		}
	}
}
