package symmetry

import (
	"math"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival/interval"
	"evenlimb/pipeline/warehouse"
)

func TestReachOf(t *testing.T) {
	type visit struct {
		day   int
		index float64
	}
	for name, c := range map[string]struct {
		visits       []visit
		lower, upper float64
		provisional  bool
	}{
		"between two visits":      {[]visit{{0, 60}, {20, 89.9}, {41, 90}, {60, 90}}, 21, 42, false},
		"at the first":            {[]visit{{0, 95}, {20, 92}}, 0, 1, false},
		"does not hold":           {[]visit{{0, 60}, {20, 92}, {41, 80}, {60, 80}}, 61, math.Inf(1), false},
		"holds later":             {[]visit{{0, 60}, {20, 92}, {41, 80}, {60, 91}, {80, 93}}, 42, 61, false},
		"at the last visit":       {[]visit{{0, 60}, {20, 92}}, 1, 21, true},
		"never":                   {[]visit{{0, 60}, {20, 80}}, 21, math.Inf(1), false},
		"once, above":             {[]visit{{3, 99}}, 0, 4, true},
		"once, below":             {[]visit{{3, 60}}, 4, math.Inf(1), false},
		"one that cannot be read": {[]visit{{0, 60}, {10, math.NaN()}, {20, 92}, {30, 92}}, 1, 21, false},
	} {
		t.Run(name, func(t *testing.T) {
			var pairs []warehouse.SidePair
			for _, v := range c.visits {
				p := warehouse.SidePair{EpisodeKey: 1, PersonKey: 1, Day: v.day}
				if !math.IsNaN(v.index) {
					p.IndexPercent = &v.index
				}
				pairs = append(pairs, p)
			}
			r, ok := reachOf(pairs, 90)
			if !ok || r.lower != c.lower || r.upper != c.upper || r.provisional != c.provisional || r.last != c.visits[len(c.visits)-1].day {
				t.Errorf("got %+v", r)
			}
		})
	}
	if _, ok := reachOf([]warehouse.SidePair{{EpisodeKey: 1}}, 90); ok {
		t.Error("no index, and something was read")
	}
}

// Half of the mass before day 10 and half between days 10 and 20.
func TestMassIsSpreadEvenly(t *testing.T) {
	c := &interval.Curve{From: []float64{0, 10, 30}, To: []float64{10, 20, math.Inf(1)}, Mass: []float64{0.25, 0.5, 0.25}}
	for day, want := range map[float64]float64{0: 0, 5: 0.125, 10: 0.25, 15: 0.5, 20: 0.75, 25: 0.75, 100: 0.75} {
		if got := c.Even(day); got != want {
			t.Errorf("by day %g: %g, want %g", day, got, want)
		}
	}
}

// Of twenty people seen to week 14, five came to 90 % between days 20 and 41,
// five between days 83 and 97, ten never: by week 12 (day 84, the 85th) a
// quarter, and a 14th of the second quarter.
func TestReachedByHand(t *testing.T) {
	in := input()
	for i := range 20 {
		key := in.begin(300)
		for _, day := range []int{0, 20, 41, 83, 97, 110} {
			index := 70.0
			if i < 5 && day >= 41 || i >= 5 && i < 10 && day >= 97 {
				index = 92
			}
			in.pair(key, force, day, index, 100)
		}
	}
	f := figures(t, in)
	g := f[plant+"reached_90@w12"]
	closeTo(t, "reached by week 12", g.Value, 0.25+0.25/14)
	if *g.Persons != 20 || *g.Events != 5 || g.Status != result.Final || *g.Low >= *g.Value || *g.High <= *g.Value {
		t.Errorf("%+v", g)
	}
	if _, ok := f[plant+"reached_90@w26"]; ok {
		t.Error("week 26 is stated, at which nobody was measured")
	}
	if _, ok := f[calf+"reached_90@w12"]; ok {
		t.Error("girth has an index")
	}
}

// Ten persons seen at week 10 or later are enough for week 12; nine are not.
func TestReachedNeedsTen(t *testing.T) {
	for persons, stated := range map[int]bool{10: true, 9: false} {
		in := input()
		for i := range 15 {
			key := in.begin(300)
			last := 70
			if i >= persons {
				last = 69
			}
			in.pair(key, force, 0, 70, 100)
			in.pair(key, force, 30, 95-float64(i), 100)
			in.pair(key, force, last, 95-float64(i), 100)
		}
		g := figures(t, in)[plant+"reached_90@w12"]
		if (g.Value != nil) != stated {
			t.Errorf("%d persons: %v, %q", persons, show(g.Value), g.Reason)
		}
	}
}

func TestReachedAtTheLastVisitIsProvisional(t *testing.T) {
	in := input()
	for i := range 12 {
		key := in.begin(300)
		in.pair(key, force, 0, 70, 100)
		in.pair(key, force, 80, 85+float64(i), 100)
	}
	if g := figures(t, in)[plant+"reached_90@w12"]; g.Status != result.Provisional || len(g.Warnings) == 0 {
		t.Errorf("status %s, warnings %q", g.Status, g.Warnings)
	}
}

// Nobody, or everybody, came to it: nothing to draw an interval from.
func TestNobodyOrEverybodyReached(t *testing.T) {
	for index, want := range map[float64]float64{70: -1, 95: 1} {
		in := input()
		for range 12 {
			key := in.begin(300)
			in.pair(key, force, 0, index, 100)
			in.pair(key, force, 80, index, 100)
		}
		g := figures(t, in)[plant+"reached_90@w12"]
		if want < 0 {
			if g.Reason != "Too few came to 90 % to tell when." {
				t.Errorf("nobody: %v, %q", show(g.Value), g.Reason)
			}
			continue
		}
		closeTo(t, "everybody", g.Value, want)
		if g.Low != nil || g.Level != 0 {
			t.Errorf("an interval %v to %v", show(g.Low), show(g.High))
		}
	}
}
