package symmetry

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

var monthEnd = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)

func rules() settings.Symmetry {
	return settings.Symmetry{
		PairDays: 7, BaselineDaysBefore: 28, BaselineDaysAfter: 7, KnotWeeks: []int{4, 10}, LastWeek: 52, SupportWeeks: 2, SupportPersons: 10,
		HorizonWeeks: []int{6, 12, 26}, ThresholdPercent: 90, ThresholdWeeks: []int{12, 26}, ChangeWeek: 12,
	}
}

func input() Input {
	return Input{Month: monthEnd, WindowMonths: 24, Rules: rules(), InjuryTypes: []string{"calf_strain", "hamstring_strain"}, Batch: 4}
}

// begin adds an episode with a person of its own that began so many days
// before the month's end, and returns its key.
func (in *Input) begin(before int) int {
	key := len(in.Episodes) + 1
	in.Episodes = append(in.Episodes, warehouse.SymmetryEpisode{
		EpisodeKey: key, PersonKey: key, Site: "north", InjuryType: "calf_strain", StartDate: monthEnd.AddDate(0, 0, -before), Severity: "mild",
	})
	return key
}

// pair adds a pair of an episode; the baseline is that of the first pair.
func (in *Input) pair(key int, measure string, day int, involved, uninvolved float64) {
	e := in.Episodes[key-1]
	base := uninvolved
	for _, p := range in.Pairs {
		if p.EpisodeKey == key && p.Measure == measure {
			base = *p.UninvolvedBaseline
		}
	}
	index, against := 100*involved/uninvolved, 100*involved/base
	in.Pairs = append(in.Pairs, warehouse.SidePair{
		EpisodeKey: key, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate, Severity: e.Severity,
		Measure: measure, Day: day, Involved: involved, Uninvolved: uninvolved, UninvolvedDay: day,
		UninvolvedBaseline: &base, IndexPercent: &index, BaselinePercent: &against, SameRater: true,
	})
}

func (in *Input) change(key, day int, value, baseline float64, same bool) {
	e := in.Episodes[key-1]
	in.Changes = append(in.Changes, warehouse.LimbChange{
		EpisodeKey: key, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate,
		Measure: "girth_calf", Day: day, Value: value, Baseline: baseline, SameRater: same,
	})
}

func figures(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		if _, twice := byID[f.ID]; twice {
			t.Errorf("%s stands twice", f.ID)
		}
		if (f.Status == result.Withheld) != (f.Value == nil) || (f.Status == result.Withheld) != (f.Reason != "") {
			t.Errorf("%s: status %s, value %v, reason %q", f.ID, f.Status, f.Value, f.Reason)
		}
		byID[f.ID] = f
	}
	return byID
}

func closeTo(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-9*max(1, math.Abs(want)) {
		t.Errorf("%s: got %v, want %.12g", what, show(got), want)
	}
}

func show(x *float64) any {
	if x == nil {
		return nil
	}
	return *x
}

const (
	force = "strength_plantarflexion"
	calf  = "symmetry.calf_strain.girth_calf.24m/"
	plant = "symmetry.calf_strain." + force + ".24m/"
)

// ten are ten people measured on the first day and after two weeks.
func ten(persons int) (Input, []float64, []float64) {
	in := input()
	in.Rules.HorizonWeeks = []int{2, 6}
	var first, second []float64
	for i := range persons {
		key := in.begin(300 + i)
		a, b := 60+float64(i*i%7), 80+float64(i*3%5)
		in.pair(key, force, 0, 10*a, 1000)
		in.pair(key, force, 14, 9*b, 900)
		in.pair(key, "girth_calf", 0, 36+float64(i%3)/2, 37)
		in.pair(key, "girth_calf", 14, 36.5+float64(i%4)/4, 37)
		first, second = append(first, math.Log(a/100)), append(second, math.Log(b/100))
	}
	return in, first, second
}

// halfSevere are twelve people measured three times, every second one severe and
// lower by 0.15 in logarithms, else the same.
func halfSevere() Input {
	in := input()
	in.Rules.HorizonWeeks = []int{2}
	for i := range 12 {
		key := in.begin(300)
		low := float64(0)
		if i%2 == 1 {
			in.Episodes[key-1].Severity, low = "severe", 0.15
		}
		for k, day := range []int{0, 7, 14} {
			in.pair(key, force, day, 100*math.Exp(-0.3-low+0.05*float64(k)+0.02*float64(i/2%3)+0.01*float64((i/2+k)%2)), 100)
		}
	}
	return in
}

// crowd is a practice of random people of two sites, three severities and one
// to five visits; every tenth person comes twice.
func crowd(size int) Input {
	rng := rand.New(rand.NewPCG(2, 2))
	in := input()
	for i := range size {
		key := in.begin(200 + rng.IntN(400))
		e := &in.Episodes[key-1]
		e.Site = []string{"north", "south"}[rng.IntN(2)]
		e.Severity = []string{"mild", "moderate", "severe"}[rng.IntN(3)]
		if i%10 == 9 {
			e.PersonKey = key - 1
		}
		own := 0.1 * rng.NormFloat64()
		for visit := range 1 + rng.IntN(5) {
			day := 21*visit + rng.IntN(7)
			in.pair(key, force, day, math.Round(1000*math.Exp(own-0.3+0.02*float64(visit)+0.05*rng.NormFloat64())), 1000)
			in.pair(key, "girth_calf", day, 36+own+0.1*rng.NormFloat64(), 37)
			if visit > 0 {
				in.change(key, day, 36+rng.NormFloat64(), 36, rng.IntN(2) == 0)
			}
		}
	}
	return in
}
