package symmetry

import (
	"testing"

	"evenlimb/pipeline/warehouse"
)

func TestChanges(t *testing.T) {
	in := input()
	for _, c := range []struct {
		day    int
		value  float64
		same   bool
		more   int // a later visit within the weeks, which does not count
		moreAs float64
	}{
		{84, 36.5, true, 0, 0},   // 0.5: no more than one rater's error
		{84, 36.51, true, 0, 0},  // improved
		{84, 36.6, false, 0, 0},  // 0.6: no more than two raters'
		{84, 36.66, false, 0, 0}, // improved
		{70, 35.4, true, 0, 0},   // worse
		{98, 35.5, true, 0, 0},   // unchanged
		{69, 40, true, 0, 0},     // too early
		{99, 40, true, 0, 0},     // too late
		{82, 37, true, 86, 35},   // improved: the earlier of two equally near
		{80, 36.1, true, 85, 37}, // improved: the nearer
	} {
		key := in.begin(200)
		in.pair(key, "girth_calf", 0, 36, 37)
		in.change(key, c.day, c.value, 36, c.same)
		if c.more > 0 {
			in.change(key, c.more, c.moreAs, 36, true)
		}
	}
	f := figures(t, in)
	for statistic, want := range map[string]float64{"change_known": 8, "improved": 4, "no_real_change": 3, "worse": 1} {
		closeTo(t, statistic, f[calf+statistic].Value, want)
	}
}

func TestChangeOfAnUnknownError(t *testing.T) {
	in := input()
	in.pair(in.begin(200), force, 0, 36, 37)
	f := figures(t, in)
	if g := f[plant+"change_known"]; g.Reason != "The error of measuring is not known for this measure." {
		t.Errorf("%v, %q", show(g.Value), g.Reason)
	}
	if _, ok := f[plant+"improved"]; ok {
		t.Error("what cannot be told stands a second time")
	}
	less := measure{less: true, sameMDC: number(1)}
	if v, ok := less.verdict(warehouse.LimbChange{Value: 5, Baseline: 7, SameRater: true}); v != "improved" || !ok {
		t.Errorf("a fall where less is better: %s", v)
	}
	if _, ok := less.verdict(warehouse.LimbChange{Value: 5, Baseline: 7}); ok {
		t.Error("two raters' error is not known, and a verdict came")
	}
}
