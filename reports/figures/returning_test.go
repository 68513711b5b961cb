package figures

import (
	"math"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
)

// week is one point of a curve; a value below zero stands for none.
func week(x, value float64) disclosure.Shown {
	var s disclosure.Shown
	s.ID, s.X = "return.calf_strain.24m/cumulative", &x
	if value >= 0 {
		s.Value = &value
	}
	return s
}

func TestACurveEndsAtItsFirstHole(t *testing.T) {
	for _, c := range []struct {
		name string
		in   []disclosure.Shown
		want int // points drawn
	}{
		{"whole", []disclosure.Shown{week(0, 0), week(1, 0.1), week(2, 0.2)}, 3},
		{"a week hidden", []disclosure.Shown{week(0, 0), week(1, 0.1), week(2, -1), week(3, 0.3)}, 2},
		{"a week left out", []disclosure.Shown{week(0, 0), week(1, 0.1), week(26, 0.2)}, 2},
		{"no week 0", []disclosure.Shown{week(1, 0.1), week(2, 0.2)}, 0},
		{"none", nil, 0},
	} {
		got, err := weekly(c.in)
		if err != nil || len(got) != c.want {
			t.Errorf("%s: %d points (%v), wanted %d", c.name, len(got), err, c.want)
		}
	}
	var long []disclosure.Shown
	for w := range 60 {
		long = append(long, week(float64(w), 0.5))
	}
	if got, err := weekly(long); err != nil || len(got) != lastWeek+1 {
		t.Errorf("a curve of 60 weeks has %d points (%v)", len(got), err)
	}
}

func TestACurveOfSomethingElseThanSharesIsAnError(t *testing.T) {
	if _, err := weekly([]disclosure.Shown{week(0, 0), week(1, 47)}); err == nil || !strings.Contains(err.Error(), "cumulative") {
		t.Errorf("47 drawn as a share: %v", err)
	}
}

func TestTheBandBeginsAtTheFirstInterval(t *testing.T) {
	none, some := math.NaN(), 0.1
	at := func(limits ...float64) []point {
		var ps []point
		for i, l := range limits {
			ps = append(ps, point{x: float64(i), low: l, high: l})
		}
		return ps
	}
	for _, c := range []struct {
		in       []point
		from, to float64 // -1: no band
	}{
		{at(some, some, some), 0, 2},
		{at(none, none, some, some), 2, 3},
		{at(none, some, some, none, some), 1, 2},
		{at(none, none), -1, -1},
		{nil, -1, -1},
	} {
		got := banded(c.in)
		if len(got) == 0 {
			if c.from >= 0 {
				t.Errorf("%v has no band", c.in)
			}
			continue
		}
		if got[0].x != c.from || got[len(got)-1].x != c.to {
			t.Errorf("%v: a band from %g to %g, wanted %g to %g", c.in, got[0].x, got[len(got)-1].x, c.from, c.to)
		}
	}
}

func TestWithoutLimitsThereIsNoBand(t *testing.T) {
	s := calf()
	set := s.figures()
	for i := range set.Figures {
		set.Figures[i].Low, set.Figures[i].High = nil, nil
	}
	r := release(t, set, s)
	p, err := ReturnCurve(r, s.code)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(p.SVG), "#BDD7E7") {
		t.Error("a band is drawn")
	}
	if strings.Contains(drawnText(t, p.SVG), "Shaded") {
		t.Error("a band is spoken of")
	}
	withLimits, err := ReturnCurve(gate(t, s), s.code)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(withLimits.SVG), "#BDD7E7") {
		t.Error("no band is drawn where there are limits")
	}
	if faults, err := Check(p.SVG); err != nil || len(faults) > 0 {
		t.Errorf("faults %q, %v", faults, err)
	}
}
