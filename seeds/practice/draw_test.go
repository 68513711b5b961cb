package practice

import (
	"bytes"
	"math"
	"runtime"
	"slices"
	"testing"
	"time"
)

func everything(p *Practice) []byte {
	var all bytes.Buffer
	for _, d := range p.Deliveries() {
		for _, f := range d.Files {
			all.WriteString(d.ReceivedOn.Format(time.DateOnly) + f.Sender + f.Name)
			all.Write(f.Data)
		}
	}
	return all.Bytes()
}

func TestTheSameSeedGivesTheSameBytesOnAnyNumberOfCores(t *testing.T) {
	first := everything(small(t, 200))
	cores := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(cores)
	if !bytes.Equal(first, everything(small(t, 200))) {
		t.Error("one core gives other bytes")
	}
	s := Default()
	s.Episodes, s.Seed = 200, 2
	p, err := Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(first, everything(p)) {
		t.Error("another seed gives the same bytes")
	}
}

// A larger practice holds the records of the smaller one.
func TestSizeDoesNotShiftDraws(t *testing.T) {
	few, many := small(t, 60), small(t, 120)
	for table := range few.rows {
		for i, r := range few.rows[table] {
			if !bytes.Equal(r.line, many.rows[table][i].line) {
				t.Fatalf("%s: row %d is %s in a larger practice, %s in a smaller", tableNames[table], i, many.rows[table][i].line, r.line)
			}
		}
	}
}

// The default practice has the sizes and the mix that the demo and the tests
// of figures rely on.
func TestTheDefaultPracticeIsLargeAndUnequal(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		s := Default()
		s.Seed = seed
		w, err := newWorld(s)
		if err != nil {
			t.Fatal(err)
		}
		from := dayOf(s.Start.AddDate(0, s.Months-24, 0))
		begun, episodes, attended := map[string]int{}, 0, 0
		for number := range s.Episodes {
			for _, st := range w.life(number) {
				episodes++
				attended += len(st.course.visits)
				if st.episode.start >= from && st.episode.start <= s.lastMonthEnd() {
					begun[st.episode.injury.code]++
				}
			}
		}
		large := 0
		for _, n := range begun {
			if n >= 100 {
				large++
			}
		}
		if rare := begun["distal_biceps_repair"]; rare < 1 || rare > 9 {
			t.Errorf("seed %d: %d episodes of the rare type, wanted 1 to 9", seed, rare)
		}
		if len(begun) < 9 || large < 7 || episodes < 2300 || episodes > 2700 {
			t.Errorf("seed %d: %d types, %d of them with 100 episodes in 24 months, %d episodes in all", seed, len(begun), large, episodes)
		}
		if attended < 32_000 || attended > 48_000 {
			t.Errorf("seed %d: %d appointments", seed, attended)
		}
	}
}

func TestScenariosThatCannotBeAreRefused(t *testing.T) {
	for name, spoil := range map[string]func(*Scenario){
		"no sites": func(s *Scenario) { s.Sites = 0 }, "many sites": func(s *Scenario) { s.Sites = 13 }, "nobody": func(s *Scenario) { s.Episodes = 0 },
		"few months": func(s *Scenario) { s.Months = 5 }, "mid-month": func(s *Scenario) { s.Start = s.Start.AddDate(0, 0, 3) },
		"no hazard": func(s *Scenario) { s.HazardFactor = 0 },
	} {
		s := Default()
		spoil(&s)
		if _, err := Draw(s); err == nil {
			t.Errorf("%s: drawn without an error", name)
		}
	}
}

func TestPracticesOfOtherSizesCanBeDelivered(t *testing.T) {
	for _, size := range []struct{ sites, episodes, months int }{{1, 1, 6}, {1, 30, 6}, {3, 40, 12}, {12, 60, 36}} {
		s := Default()
		s.Sites, s.Episodes, s.Months = size.sites, size.episodes, size.months
		p, err := Draw(s)
		if err != nil {
			t.Fatal(err)
		}
		deliveries := p.Deliveries()
		if n := len(deliveries); n < 9 || n > 13 {
			t.Errorf("%v: %d deliveries, wanted a history and 8 to 12 nights", size, n)
		}
		for i := 1; i < len(deliveries); i++ {
			if !deliveries[i].ReceivedOn.After(deliveries[i-1].ReceivedOn) {
				t.Errorf("%v: deliveries are not in order of their dates", size)
			}
		}
	}
}

// stories draws people of a scenario and reads their outcomes as outcomes does,
// without writing records.
func stories(t *testing.T, s Scenario, people int) map[string][]outcome {
	t.Helper()
	w, err := newWorld(s)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string][]outcome{}
	for number := range people {
		for _, st := range w.life(number) {
			e, c := &st.episode, &st.course
			through := int(w.siteEnds[e.person.site] - e.start)
			if e.atTarget() || through < 0 {
				continue
			}
			o := outcome{through, 0}
			on, held := c.heldReturn(e.target, 14)
			switch {
			case held:
				o = outcome{on, 1}
			case slices.Contains(causes[:], c.finish):
				o = outcome{c.finishOn, 2}
			case c.finish != inCare && c.told <= through || through-c.last > e.injury.gap:
				o = outcome{c.last, 0}
			}
			all[e.injury.code] = append(all[e.injury.code], o)
		}
	}
	return all
}

// Losses that look at the state break what the estimate relies on, and so the
// estimate: the base scenario passes where the variants fail.
func TestInformativeLossesMoveTheCurve(t *testing.T) {
	truth := committed(t)
	want, _ := truth.Find("return.lateral_elbow_tendinopathy/cumulative@w26")
	for _, variant := range []struct {
		name   string
		change func(*Scenario)
		side   float64 // sign of the bias; 0 for none
	}{
		{"base", func(*Scenario) {}, 0},
		{"the slower, the sooner lost", func(s *Scenario) { s.LossByState = true }, 1},
		{"the returned stay away", func(s *Scenario) { s.LossBetweenVisits = true }, -1},
	} {
		s := Default()
		s.Seed = 31
		variant.change(&s)
		got, se := cumulative(stories(t, s, 20_000)["lateral_elbow_tendinopathy"], 7*26)
		off := (got - want.Value) / math.Hypot(se, want.SE)
		if variant.side == 0 && math.Abs(off) > 4 || variant.side != 0 && off*variant.side < 4 {
			t.Errorf("%s: %.4f, truth %.4f: %.1f standard errors off", variant.name, got, want.Value, off)
		}
	}
}

// The courses of limbs lie in the space of the spline that symmetry is fitted
// with: second derivative 0 at the first knot and from week 10 on, cubic
// between.
func TestCoursesOfLimbsAreNaturalSplines(t *testing.T) {
	second := func(f func(float64) float64, week float64) float64 {
		const h = 1e-3
		return (f(week+h) - 2*f(week) + f(week-h)) / (h * h)
	}
	for name, f := range map[string]func(float64) float64{"recovered": recovered, "spared": spared} {
		for _, week := range []float64{11, 15, 30} {
			if s := second(f, week); math.Abs(s) > 1e-6 {
				t.Errorf("%s bends by %g at week %g", name, s, week)
			}
		}
		// A cubic has a straight second derivative.
		if a, b, c := second(f, 5), second(f, 6), second(f, 7); math.Abs(a-2*b+c) > 1e-6 || math.Abs(b) < 1e-4 {
			t.Errorf("%s is no cubic from week 4 to 10: second derivatives %g, %g, %g", name, a, b, c)
		}
		if s := second(f, 0.01); math.Abs(s) > 1e-3 {
			t.Errorf("%s bends by %g at the start", name, s)
		}
	}
	if r6, r26 := recovered(6), recovered(26); r6 < 0.45 || r6 > 0.55 || r26 < 0.7 || r26 > 0.8 {
		t.Errorf("recovered %.2f by week 6 and %.2f by week 26", r6, r26)
	}
}
