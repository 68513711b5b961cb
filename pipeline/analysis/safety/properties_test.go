package safety

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// In four(), the variance of the asked rate between persons is 1.1905 times
// that of independent events: scores 15/21, -5/21 and -10/21, squared and
// summed 350/441, times 3/2, over 1 event.
func TestWidening(t *testing.T) {
	for percent, widened := range map[int]bool{19: true, 20: false} {
		in := four()
		in.Rules.WidenAbovePercent = percent
		f := figures(t, in)
		exact, midP := f["safety.24m/rate_asked"], f["safety.24m/rate_asked_midp"]
		says := strings.Contains(strings.Join(exact.Warnings, " "), "1.19 times that of independent events")
		warns := strings.Contains(strings.Join(midP.Warnings, " "), "too narrow")
		wider := *exact.High > 5.571643*1000/21*1.01
		if says != widened || warns != widened || wider != widened || strings.Contains(exact.Method, "widened") != widened {
			t.Errorf("%d %%: said %t, beside it %t, wider %t; want %t", percent, says, warns, wider, widened)
		}
	}
}

func TestRareKindsAreMerged(t *testing.T) {
	had := func(kinds ...string) Input { // each by another person
		in := input(2)
		for person, kind := range kinds {
			in.attend(person+1, 5, 5)
			in.happen(person+1, func(e *warehouse.SafetyEvent) { e.Kind = kind })
		}
		return in
	}
	for name, c := range map[string]struct {
		in   Input
		want []string
	}{
		"all common":                       {had("bruising", "bruising", "numbness", "numbness"), []string{"bruising", "numbness"}},
		"two rare ones":                    {had("bruising", "bruising", "numbness", "fainting"), []string{"bruising", otherKinds}},
		"a single rare one takes another":  {had("bruising", "bruising", "dizziness", "dizziness", "dizziness", "fainting"), []string{"dizziness", otherKinds}},
		"nothing common":                   {had("bruising"), []string{otherKinds}},
		"nothing":                          {had(), nil},
		"twice by one person is still one": {func() Input { in := had("bruising"); in.Events = append(in.Events, in.Events[0]); return in }(), []string{otherKinds}},
	} {
		var got []string
		m := &maker{in: c.in}
		m.period, _ = newPeriod(c.in)
		events := 0
		for _, g := range m.strata(m.group("", nil, "")) {
			got = append(got, g.stratum)
			events += len(g.events)
		}
		if !slices.Equal(got, c.want) || events != len(c.in.Events) {
			t.Errorf("%s: %v with %d of %d events, want %v", name, got, events, len(c.in.Events), c.want)
		}
	}
}

// crowd is a practice of random rows.
func crowd(seed uint64, persons int) Input {
	rng := rand.New(rand.NewPCG(seed, 3))
	in := input(10)
	for person := 1; person <= persons; person++ {
		n := 1 + rng.IntN(20)
		in.attend(person, n, rng.IntN(n+1))
		for range rng.IntN(3) {
			in.happen(person, func(e *warehouse.SafetyEvent) {
				e.OnsetDate = firstDay.AddDate(0, 0, rng.IntN(760)-15)
				e.Kind = []string{"bruising", "bruising", "numbness", "dizziness", "fainting"}[rng.IntN(5)]
				e.Certainty = []string{"confirmed", "suspected", ""}[rng.IntN(3)]
				e.Serious = []*bool{nil, yes(true), yes(false), yes(false)}[rng.IntN(4)]
				e.Watched = rng.IntN(20) > 0
				if rng.IntN(10) == 0 {
					e.Potential, e.Counts = true, false
				}
				if rng.IntN(4) > 0 {
					linked(e, e.OnsetDate, rng.IntN(2) == 0)
				}
				dated(e, rng.IntN(5), rng.IntN(8)-2)
			})
		}
	}
	for i := range in.Sessions {
		in.Sessions[i].SessionDate = firstDay.AddDate(0, 0, rng.IntN(760)-15)
	}
	return in
}

// TestSetHolds checks what every set of figures must keep to: finite numbers,
// sources, statistics that the gate knows, values within their limits, parts
// that sum to their wholes, and an input that is as it was.
func TestSetHolds(t *testing.T) {
	for seed := range uint64(6) {
		in := crowd(seed, []int{0, 1, 5, 60, 200, 200}[seed])
		sessions, events := slices.Clone(in.Sessions), slices.Clone(in.Events)
		set, err := Analyse(in)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(sessions, in.Sessions) || !reflect.DeepEqual(events, in.Events) {
			t.Error("the input was changed")
		}
		sourced := map[string]bool{}
		for _, s := range set.Sources {
			sourced[s.FigureID] = true
		}
		values := map[string]float64{}
		for _, f := range set.Figures {
			checkFigure(t, f)
			if !sourced[f.ID] {
				t.Errorf("%s has no source", f.ID)
			}
			if f.Value != nil {
				values[f.ID] = *f.Value
			}
		}
		checkSums(t, values)
	}
}

func checkFigure(t *testing.T, f result.Figure) {
	t.Helper()
	for _, x := range []*float64{f.Value, f.Low, f.High, f.StdError, f.Exposure} {
		if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0) || *x < 0) {
			t.Errorf("%s holds %g", f.ID, *x)
		}
	}
	if f.Value != nil && f.Low != nil && f.High != nil && (*f.Low > *f.Value || *f.High < *f.Value) {
		t.Errorf("%s: %g outside %g to %g", f.ID, *f.Value, *f.Low, *f.High)
	}
	if disclosure.KindOf(f.Question, f.Statistic, f.X != nil) == disclosure.Unknown {
		t.Errorf("the gate does not know %s", f.ID)
	}
	if (f.Value == nil) != (f.Reason != "") || (f.Value == nil && f.High == nil) != (f.Status == result.Withheld) {
		t.Errorf("%s: value %v, status %s, reason %q", f.ID, f.Value, f.Status, f.Reason)
	}
	if strings.HasPrefix(f.Statistic, "rate_") && f.Value != nil && *f.Value == 0 {
		t.Errorf("%s is 0 per 1,000", f.ID)
	}
}

func checkSums(t *testing.T, values map[string]float64) {
	t.Helper()
	for whole, parts := range map[string][]string{
		"safety.24m/events":            {"safety.24m/events_suspected", "safety.24m/events_confirmed", "safety.24m/events_certainty_not_recorded"},
		"safety.24m/sessions_attended": {"safety.site=north.24m/sessions_attended", "safety.site=south.24m/sessions_attended"},
		"safety.24m/sessions_asked":    {"safety.site=north.24m/sessions_asked", "safety.site=south.24m/sessions_asked"},
	} {
		sum := 0.0
		for _, part := range parts {
			sum += values[part]
		}
		if sum != values[whole] {
			t.Errorf("%s is %g, its parts sum to %g", whole, values[whole], sum)
		}
	}
	kinds := 0.0
	for id, v := range values {
		if strings.HasSuffix(id, "/events") && strings.Contains(id, "by=") && !strings.Contains(id, "by=serious") {
			kinds += v
		}
	}
	if kinds != values["safety.24m/events"] {
		t.Errorf("the kinds sum to %g events, the practice had %g", kinds, values["safety.24m/events"])
	}
}

// Twice the same practice has the same rates, known better.
func TestTwiceThePractice(t *testing.T) {
	in := crowd(4, 200)
	one := figures(t, in)
	for _, s := range in.Sessions {
		s.PersonKey, s.EpisodeKey = s.PersonKey+1000, s.EpisodeKey+10000
		in.Sessions = append(in.Sessions, s)
	}
	for _, e := range in.Events {
		e.PersonKey, e.EpisodeKey = e.PersonKey+1000, e.EpisodeKey+10000
		in.Events = append(in.Events, e)
	}
	two := figures(t, in)
	for _, id := range []string{"safety.24m/rate_all", "safety.24m/rate_asked", "safety.site=north.24m/rate_all", "safety.by=serious.24m/rate_all_midp"} {
		near(t, id, two[id].Value, *one[id].Value)
		if *two[id].High-*two[id].Low >= *one[id].High-*one[id].Low {
			t.Errorf("%s is known no better from twice the practice", id)
		}
	}
}

// What nobody may overlook is shown of the smallest practice, with nothing
// beside it, while its rates are not.
func TestSeriousEventsOfATinyPractice(t *testing.T) {
	set, err := Analyse(four())
	if err != nil {
		t.Fatal(err)
	}
	released, err := disclosure.Release(disclosure.Input{
		Figures: set, Audience: disclosure.Circulating, Floors: disclosure.Floors{Circulating: 10, Site: 20, Inside: 5, Curve: 20},
	})
	if err != nil {
		t.Fatal(err)
	}
	for id, want := range map[string]float64{"safety.24m/serious_events": 2, "safety.24m/open_clocks": 2, "safety.24m/clocks_not_computable": 1} {
		f, _ := released.Lookup(id)
		near(t, id, f.Value, want)
		if f.Persons != nil || f.Episodes != nil || f.Events != nil || f.InputsHash != "" {
			t.Errorf("%s has something beside it: %+v", id, f)
		}
	}
	for _, id := range []string{"safety.24m/rate_all", "safety.24m/rate_asked", "safety.24m/events", "safety.by=serious.24m/events"} {
		if f, _ := released.Lookup(id); f.Status != result.Hidden || f.Value != nil || f.High != nil {
			t.Errorf("%s rests on four people and is shown", id)
		}
	}
}
