package symmetry

import (
	"math"
	"testing"

	"evenlimb/pipeline/warehouse"
)

const (
	knee   = "strength_knee_extension" // errors at 95 %: 29.5 N for one rater, 36.7 N for two
	kneeID = "symmetry.calf_strain." + knee + ".24m/"
)

// pairOf is one comparison with 500 on the other side, without a study around it.
func pairOf(measure string, involved float64, same bool) warehouse.SidePair {
	index := involved / 5
	return warehouse.SidePair{Measure: measure, Involved: involved, Uninvolved: 500, IndexPercent: &index, SameRater: same}
}

func TestErrorOfAnIndex(t *testing.T) {
	for _, c := range []struct {
		name string
		pair warehouse.SidePair
		want float64
	}{
		// 29.5/sqrt(2) = 20.859650 N either side; 100 x 20.859650/500 = 4.171930 points from
		// the involved side, the same times 400/500 from the other: sqrt(1 + 0.64) = 1.280625.
		{"one rater", pairOf(knee, 400, true), 5.342677},
		{"two raters", pairOf(knee, 400, false), 5.342677 * 36.7 / 29.5},
		// The involved side at nothing: what remains is its own error.
		{"index of 0", pairOf(knee, 0, true), 4.171930},
	} {
		of, _ := measureOf(c.pair.Measure)
		got, ok := of.indexError(c.pair)
		if !ok || math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %v, %v; want %v", c.name, got, ok, c.want)
		}
	}
	for name, p := range map[string]warehouse.SidePair{
		"no error known": pairOf(force, 400, true),
		"no index":       {Measure: knee, Involved: 400, SameRater: true},
	} {
		of, _ := measureOf(p.Measure)
		if points, ok := of.indexError(p); ok {
			t.Errorf("%s: an error of %v", name, points)
		}
	}
	less := measure{less: true, sameMDC: number(math.Sqrt2)}
	index := 100 * 2 / 2.5 // seconds: the other side over the involved one
	if got, ok := less.indexError(warehouse.SidePair{Involved: 2.5, Uninvolved: 2, IndexPercent: &index, SameRater: true}); !ok || math.Abs(got-100/2.5*math.Hypot(1, 0.8)) > 1e-9 {
		t.Errorf("less is better: %v, %v", got, ok)
	}
}

func TestWhoLiesAtTheThreshold(t *testing.T) {
	in := input()
	for _, c := range []struct {
		day      int
		involved float64 // of 500 N on the other side; half the interval is 5.6 points at 90, 6.9 with two raters
		two      bool    // raters
		later    float64 // index at a later visit, two weeks off; 0: none
	}{
		{84, 450, false, 0},  // 90: undecided
		{84, 478, false, 0},  // 95.6, error 5.77: undecided
		{84, 480, false, 0},  // 96, error 5.78: clear of it
		{70, 480, true, 0},   // 96, error 7.19: undecided
		{98, 423, false, 0},  // 84.6, error 5.46: undecided
		{84, 422, false, 0},  // 84.4, error 5.46: below
		{83, 300, false, 98}, // below; the later visit does not count
		{69, 300, false, 0},  // too early
		{99, 300, false, 0},  // too late
	} {
		key := in.begin(200)
		in.pair(key, knee, c.day, c.involved, 500)
		in.Pairs[len(in.Pairs)-1].SameRater = !c.two
		if c.later > 0 {
			in.pair(key, knee, 85+10, 5*c.later, 500)
		}
	}
	f := figures(t, in)
	for statistic, want := range map[string]float64{"judged_90": 7, "clear_of_90": 1, "undecided_90": 4, "below_90": 2} {
		closeTo(t, statistic, f[kneeID+statistic].Value, want)
	}
	// Errors by size: 300 of 500, 422, 423, 450, 478, 480, and 480 with two raters; the middle one is that of 450.
	// 100/500 x 29.5/sqrt(2) x sqrt(1 + 0.81) = 5.6127, told to a tenth.
	closeTo(t, "error", f[kneeID+"error_at_90"].Value, 5.6)
}

func TestAThresholdNeedsAKnownError(t *testing.T) {
	in := input()
	in.pair(in.begin(200), force, 84, 900, 1000)
	if _, ok := figures(t, in)[plant+"judged_90"]; ok {
		t.Error("an index was judged by an error that nobody knows")
	}
	in = input()
	in.pair(in.begin(200), knee, 0, 400, 500)
	f := figures(t, in)
	closeTo(t, "judged", f[kneeID+"judged_90"].Value, 0)
	if g := f[kneeID+"error_at_90"]; g.Value != nil || g.Reason == "" {
		t.Errorf("an error of nobody: %v, %q", show(g.Value), g.Reason)
	}
}

func TestChangesUpToTheLastVisit(t *testing.T) {
	in := input()
	for _, c := range []struct {
		day   int
		value float64
		last  int // a later visit; 0: none
		then  float64
	}{
		{84, 36.6, 0, 0},      // improved, at week 12
		{84, 36.6, 200, 36.5}, // improved at week 12, at the last visit no more
		{84, 36, 150, 35.4},   // worse at the last visit
		{20, 37, 0, 0},        // improved, last seen in week 2
	} {
		key := in.begin(300)
		in.pair(key, "girth_calf", 0, 36, 37)
		in.change(key, c.day, c.value, 36, true)
		if c.last > 0 {
			in.change(key, c.last, c.then, 36, true)
		}
	}
	past := in.begin(100) // the visit lies after the month
	in.pair(past, "girth_calf", 0, 36, 37)
	in.change(past, 80, 36, 36, true)
	in.change(past, 101, 39, 36, true)
	f := figures(t, in)
	for statistic, want := range map[string]float64{
		"improved": 2, "change_known_last": 5, "improved_last": 2, "no_real_change_last": 2, "worse_last": 1,
		"last_visit_weeks": 12, // days 20, 80, 84, 150, 200
	} {
		closeTo(t, statistic, f[calf+statistic].Value, want)
	}
}

// Two episodes of one person are one person in each figure.
func TestPersonsOfChangesAreCountedOnce(t *testing.T) {
	in := input()
	for range 2 {
		key := in.begin(300)
		in.Episodes[key-1].PersonKey = 1
		in.pair(key, "girth_calf", 0, 36, 37)
		in.pair(key, knee, 84, 400, 500)
		in.change(key, 84, 37, 36, true)
	}
	f := figures(t, in)
	for _, id := range []string{calf + "change_known_last", calf + "last_visit_weeks", kneeID + "judged_90", kneeID + "error_at_90"} {
		if g := f[id]; g.Persons == nil || *g.Persons != 1 || *g.Episodes != 2 {
			t.Errorf("%s: %v persons and %v episodes", id, g.Persons, g.Episodes)
		}
	}
}

func TestImportantChanges(t *testing.T) {
	const grip = "symmetry.calf_strain.strength_grip.24m/" // important from 6.5 kg on
	in := input()
	for _, c := range []struct{ at12, last float64 }{{26.4999, 26.4999}, {26.5, 26.5}, {26.5, 20}, {20, 13.5}} {
		key := in.begin(300)
		in.pair(key, "strength_grip", 0, 20, 40)
		for i, value := range []float64{c.at12, c.last} {
			in.change(key, 84+20*i, value, 20, true)
			in.Changes[len(in.Changes)-1].Measure = "strength_grip"
		}
	}
	f := figures(t, in)
	for statistic, want := range map[string]float64{
		"change_compared": 4, "important_better": 2, "not_important": 2, "important_worse": 0,
		"change_compared_last": 4, "important_better_last": 1, "not_important_last": 2, "important_worse_last": 1,
	} {
		closeTo(t, statistic, f[grip+statistic].Value, want)
	}
	if _, ok := f[grip+"improved_last"]; ok {
		t.Error("real change of an unknown error")
	}
	if _, ok := f[calf+"change_compared"]; ok {
		t.Error("important change of a measure for which none is known")
	}
}
