package symmetry

import (
	"math"
	"testing"
)

const (
	raises  = "heel_raises"
	raiseID = "symmetry.calf_strain.heel_raises.24m/"
)

// TestWhatCanBeZero has twelve people who do 20 raises on the other side at first
// and 25 in week 6; on the involved side nothing at first, and 10 to 21 in week 6,
// but for two who still do nothing.
func TestWhatCanBeZero(t *testing.T) {
	in := input()
	in.Rules.HorizonWeeks = []int{6}
	for i := range 12 {
		key := in.begin(300)
		in.pair(key, raises, 0, 0, 20)
		now := float64(10 + i)
		if i < 2 {
			now = 0
		}
		in.pair(key, raises, 42, now, 25)
		in.pair(key, raises, 63, now+2, 25)
	}
	f := figures(t, in)
	// 100 x (now - 25)/20: the ten others do 12 to 21, 165 together: (165 - 12 x 25)/20/12 = -56.25 %.
	closeTo(t, "plain mean", f[raiseID+"plain_mean@w6"].Value, -56.25)
	g := f[raiseID+"at_zero@w6"]
	closeTo(t, "share at zero", g.Value, 2.0/12)
	if *g.Events != 2 || *g.Persons != 12 || g.Low == nil || *g.Low <= 0 || *g.High >= 0.6 {
		t.Errorf("%d of %d, %v to %v", *g.Events, *g.Persons, show(g.Low), show(g.High))
	}
	// Half a point off the plain mean at most: all were measured at every visit.
	if g := f[raiseID+"baseline_difference@w6"]; g.Value == nil || math.Abs(*g.Value+56.25) > 0.5 || g.Unit != "% of the other side's baseline" {
		t.Errorf("typical difference %v %s", show(g.Value), g.Unit)
	}
	if g := f[raiseID+"difference_curve@w0"]; g.Value == nil || math.Abs(*g.Value+100) > 0.5 {
		t.Errorf("at first %v", show(g.Value))
	}
	if g := f[raiseID+"involved_curve@w0"]; g.Value == nil || math.Abs(*g.Value) > 0.2 {
		t.Errorf("the involved side at first: %v", show(g.Value))
	}
	if _, ok := f[raiseID+"typical_index@w6"]; ok {
		t.Error("a logarithm was taken of what can be zero")
	}
	closeTo(t, "measured on both sides", f["symmetry.endurance.24m/pairs"].Value, 12)
	if _, ok := f["symmetry.hop.24m/pairs"]; ok {
		t.Error("hops, which nobody did, are spoken of")
	}
}

func TestDifferenceOfATimedTask(t *testing.T) {
	timed, _ := measureOf("hop_timed_6m")
	p := pairOf("hop_timed_6m", 3, true)
	p.Uninvolved, p.UninvolvedBaseline = 2, number(2.5)
	if got, ok := timed.compared().of(p); !ok || got != -40 { // a second longer, of 2.5 s
		t.Errorf("%v, %v; want -40", got, ok)
	}
	p.UninvolvedBaseline = number(0)
	if _, ok := timed.compared().of(p); ok {
		t.Error("a percentage of nothing")
	}
	p.UninvolvedBaseline = nil
	if _, ok := timed.compared().of(p); ok {
		t.Error("a percentage of a baseline that is not there")
	}
	in := input()
	for range 10 {
		in.pair(in.begin(300), "hop_timed_6m", 42, 3, 2)
	}
	if _, ok := figures(t, in)["symmetry.calf_strain.hop_timed_6m.24m/at_zero@w6"]; ok {
		t.Error("a time of zero")
	}
}
