package symmetry

import (
	"testing"
	"time"
)

func TestFlow(t *testing.T) {
	in := input()
	a, _, c := in.begin(100), in.begin(100), in.begin(100)
	in.Episodes[c-1].Bilateral = true
	d, e := in.begin(10), in.begin(1000)
	for _, key := range []int{a, d, e} {
		in.pair(key, "girth_calf", 0, 36, 37)
	}
	in.pair(in.begin(5), "girth_calf", 6, 36, 37) // after the month's end
	in.pair(in.begin(5), "girth_calf", 5, 36, 37) // on its last day
	in.pair(in.begin(5), "girth_calf", 4, 36, 37)
	in.Pairs[len(in.Pairs)-1].UninvolvedDay = 6 // so was the other side
	in.pair(in.begin(100), "girth_calf", -1, 36, 37)
	in.pair(in.begin(100), force, 0, 900, 1000) // in strength alone
	f := figures(t, in)
	for statistic, want := range map[string]float64{"began": 9, "pairs": 3, "bilateral": 1, "no_pair": 5} {
		closeTo(t, statistic, f["symmetry.girth.24m/"+statistic].Value, want)
	}
	for statistic, want := range map[string]float64{"began": 9, "pairs": 1, "bilateral": 1, "no_pair": 7} {
		closeTo(t, statistic, f["symmetry.strength.24m/"+statistic].Value, want)
	}
	if got := f["symmetry.girth.24m/began"].Measure; got != "girth" {
		t.Errorf("measure %q", got)
	}
}

func TestPeriodEdges(t *testing.T) {
	from := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		start time.Time
		want  bool
	}{{from.AddDate(0, 0, -1), false}, {from, true}, {monthEnd, true}, {monthEnd.AddDate(0, 0, 1), false}} {
		in := input()
		in.begin(0)
		in.Episodes[0].StartDate = c.start
		in.pair(1, "girth_calf", 0, 36, 37)
		in.begin(100)
		in.pair(2, "girth_calf", 0, 36, 37)
		want := 1.0
		if c.want {
			want = 2
		}
		f := figures(t, in)
		closeTo(t, c.start.Format(time.DateOnly), f["symmetry.girth.24m/began"].Value, want)
		closeTo(t, c.start.Format(time.DateOnly), f["symmetry.girth.24m/pairs"].Value, want)
	}
}

func TestMeasuredAndReturnedAtAWeek(t *testing.T) {
	in := input()
	for _, day := range []int{27, 28, 42, 56, 57} { // week 6 is days 28 to 56
		in.pair(in.begin(200), "girth_calf", day, 36, 37)
	}
	for i, day := range []int{42, 43} {
		in.Episodes[i].ReturnDay = &day
	}
	late, key := 30, in.begin(29)
	in.Episodes[key-1].ReturnDay = &late // after the month's end
	f := figures(t, in)
	closeTo(t, "measured", f[calf+"measured@w6"].Value, 3)
	closeTo(t, "returned by week 6", f["symmetry.calf_strain.24m/returned_already@w6"].Value, 1)
	closeTo(t, "returned by week 12", f["symmetry.calf_strain.24m/returned_already@w12"].Value, 2)
}

// The visit nearest to the week counts, of two the earlier.
func TestPlainMeanTakesTheNearestVisit(t *testing.T) {
	in := input()
	for i := range 10 {
		key := in.begin(200)
		in.pair(key, "girth_calf", 39, 30, 37)
		in.pair(key, "girth_calf", 41, 36+float64(i%2), 37)
		in.pair(key, "girth_calf", 43, 20, 37)
	}
	f := figures(t, in)
	closeTo(t, "plain mean", f[calf+"plain_mean@w6"].Value, -0.5)
}

// TestLateWeeksAreStatedWhereSupported has nine and ten people who come to week
// 26; up to week 12 every week is stated.
func TestLateWeeksAreStatedWhereSupported(t *testing.T) {
	for _, persons := range []int{9, 10} {
		in := input()
		for i := range persons {
			key := in.begin(300)
			for day := 0; day <= 182; day += 14 {
				in.pair(key, force, day, float64(800+10*i+day*(3+i*i%5)/5), 1000)
			}
		}
		f := figures(t, in)
		for _, statistic := range []string{"measured", "plain_mean", "typical_index", "baseline_index", "reached_90"} {
			if _, ok := f[plant+statistic+"@w26"]; ok != (persons == 10) {
				t.Errorf("%d people: %s is stated at week 26: %t", persons, statistic, ok)
			}
			if _, ok := f[plant+statistic+"@w12"]; !ok {
				t.Errorf("%s is not stated at week 12", statistic)
			}
		}
		if _, ok := f["symmetry.calf_strain.24m/returned_already@w26"]; ok != (persons == 10) {
			t.Errorf("%d people: the returned are stated at week 26: %t", persons, ok)
		}
	}
}

// TestRareTypesAreNotTold has nine and ten people who began.
func TestRareTypesAreNotTold(t *testing.T) {
	for _, persons := range []int{9, 10} {
		in := input()
		in.TypeFloor = 10
		for range persons {
			in.pair(in.begin(300), "girth_calf", 7, 36, 37)
		}
		f := figures(t, in)
		if _, ok := f[calf+"measured@w6"]; ok != (persons == 10) {
			t.Errorf("%d people have figures of their type: %t", persons, ok)
		}
		closeTo(t, "began", f["symmetry.girth.24m/began"].Value, float64(persons))
	}
}
