package usable

import (
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/warehouse"
)

var lastDay = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)

func n(x int) *int { return &x }

func sets(x float64) *float64 { return &x }

// input has four episodes at two sites, begun 100 days before the month's end:
// the third with both sides involved.
func input() Input {
	in := Input{Month: lastDay, WindowMonths: 24, Sites: []string{"north", "south"}, Batch: 4}
	for key := 1; key <= 4; key++ {
		site := []string{"north", "south"}[key%2]
		start := lastDay.AddDate(0, 0, -100)
		in.Sides = append(in.Sides, warehouse.SymmetryEpisode{EpisodeKey: key, PersonKey: key, Site: site, StartDate: start, Bilateral: key == 3})
		in.Doses = append(in.Doses, warehouse.DoseEpisode{
			EpisodeKey: key, PersonKey: key, Site: site, StartDate: start, LandmarkDay: 14, Sets: sets(8), FollowDays: n(100), OutDay: 100, OutReason: "in_care",
		})
	}
	return in
}

func (in *Input) pair(key int, measure string, day int) {
	e := in.Sides[key-1]
	in.Pairs = append(in.Pairs, warehouse.SidePair{EpisodeKey: key, PersonKey: key, Site: e.Site, StartDate: e.StartDate, Measure: measure, Day: day, UninvolvedDay: day})
}

func counts(t *testing.T, in Input) map[string]float64 {
	t.Helper()
	set, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]float64{}
	for _, f := range set.Figures {
		values[f.ID] = *f.Value
	}
	if _, err := disclosure.Release(disclosure.Input{
		Figures: set, Audience: disclosure.Circulating, Floors: disclosure.Floors{Circulating: 10, Site: 20, Inside: 5, Curve: 20},
	}); err != nil { // which refuses totals that do not add up
		t.Error(err)
	}
	return values
}

// Two days of one measure are a course; a day of each of two measures, a day
// before care, a day after the month, and both sides involved are none.
func TestSides(t *testing.T) {
	in := input()
	for _, p := range []struct {
		key     int
		measure string
		day     int
	}{
		{1, "girth_calf", 0},
		{1, "girth_calf", 100},
		{2, "girth_calf", 0},
		{2, "strength_plantarflexion", 0},
		{2, "girth_calf", -1},
		{2, "girth_calf", 101},
		{3, "girth_calf", 0},
		{3, "girth_calf", 7},
	} {
		in.pair(p.key, p.measure, p.day)
	}
	got := counts(t, in)
	for id, want := range map[string]float64{
		"data.symmetry.24m/began": 4, "data.symmetry.24m/used": 1, "data.symmetry.24m/not_used": 3,
		"data.site=south.symmetry.24m/began": 2, "data.site=south.symmetry.24m/used": 1, "data.site=north.symmetry.24m/used": 0,
	} {
		if got[id] != want {
			t.Errorf("%s is %g, want %g", id, got[id], want)
		}
	}
}

func TestDoses(t *testing.T) {
	in := input()
	in.Doses[0].Sets = nil                              // not known
	in.Doses[1].ReturnDay = n(13)                       // back before the landmark
	in.Doses[2].ReturnDay = n(14)                       // on it
	in.Doses[3].StartDate = lastDay.AddDate(0, -24, -1) // before the period
	in.Sides = nil
	got := counts(t, in)
	for id, want := range map[string]float64{
		"data.dose.24m/began": 3, "data.dose.24m/used": 1, "data.dose.24m/not_used": 2, "data.site=north.dose.24m/began": 1,
	} {
		if got[id] != want {
			t.Errorf("%s is %g, want %g", id, got[id], want)
		}
	}
	if _, ok := got["data.symmetry.24m/began"]; ok {
		t.Error("a question without rows has counts")
	}
}

// An episode of a site that nobody named counts for the practice alone, and then
// no site sums to it.
func TestUnknownSite(t *testing.T) {
	in := input()
	in.Doses[0].Site = "east"
	if got := counts(t, in); got["data.dose.24m/began"] != 4 || got["data.site=south.dose.24m/began"] != 1 {
		t.Errorf("%v", got)
	}
}

func TestBadInput(t *testing.T) {
	for _, in := range []Input{{WindowMonths: 24}, {Month: lastDay}} {
		if _, err := Analyse(in); err == nil || !strings.Contains(err.Error(), "both must be given") {
			t.Errorf("got %v", err)
		}
	}
}
