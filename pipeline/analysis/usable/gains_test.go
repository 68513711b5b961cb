package usable

import (
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
)

// gained are the counts of what one more item would have added.
func gained(t *testing.T, in Input) map[string]float64 {
	t.Helper()
	found := map[string]float64{}
	for id, n := range counts(t, in) {
		if strings.Contains(id, "/one_more.") {
			found[id] = n
		}
	}
	return found
}

// ten episodes of ten people at two sites, all measured on two days, followed from
// the landmark with their work known: nothing is missing of any of them.
func complete() Input {
	in := input()
	in.Sides, in.Doses = nil, nil
	for key := 1; key <= 10; key++ {
		e := input().Sides[key%2]
		e.EpisodeKey, e.PersonKey, e.InjuryType = key, key, []string{"calf_strain", "hamstring_strain"}[key/6]
		in.Sides = append(in.Sides, e)
		d := input().Doses[0]
		d.EpisodeKey, d.PersonKey, d.Site, d.InjuryType = key, key, e.Site, e.InjuryType
		in.Doses = append(in.Doses, d)
		in.Returns = append(in.Returns, warehouse.ReturnEpisode{EpisodeKey: key, PersonKey: key, Site: e.Site, StartDate: e.StartDate})
		in.pair(key, "girth_calf", 0)
		in.pair(key, "girth_calf", 14)
	}
	in.InjuryTypes, in.TypeFloor = []string{"calf_strain", "hamstring_strain"}, 5
	return in
}

// unpair leaves an episode so many pairs.
func (in *Input) unpair(key, left int) {
	kept := in.Pairs[:0:0]
	for _, p := range in.Pairs {
		if p.EpisodeKey != key || left > 0 {
			kept = append(kept, p)
		}
		if p.EpisodeKey == key {
			left--
		}
	}
	in.Pairs = kept
}

func TestNothingIsMissing(t *testing.T) {
	if got := gained(t, complete()); len(got) != 0 {
		t.Errorf("%v", got)
	}
}

// The item that most lack is told, in each group its own.
func TestTheItemThatMostLack(t *testing.T) {
	in := complete()
	in.unpair(1, 1) // north has the odd keys
	in.unpair(3, 1)
	in.Doses[5].Sets = nil // key 6
	got := gained(t, in)
	want := map[string]float64{
		"data.24m/one_more.second_day": 2, "data.site=north.24m/one_more.second_day": 2, "data.site=south.24m/one_more.sets": 1,
		"data.calf_strain.24m/one_more.second_day": 2, "data.hamstring_strain.24m/one_more.sets": 1,
	}
	if len(got) != len(want) {
		t.Errorf("got %v, want %v", got, want)
	}
	for id, n := range want {
		if got[id] != n {
			t.Errorf("%s is %g, want %g", id, got[id], n)
		}
	}
}

// An episode that lacks two items counts under the first of them, and a person
// with two episodes once.
func TestNobodyIsPromisedTwice(t *testing.T) {
	in := complete()
	in.Returns[0].Unusable = "no_target"
	in.unpair(1, 1)
	if got := gained(t, in); got["data.24m/one_more.target_stage"] != 1 || len(got) != 3 {
		t.Errorf("two items of one episode: %v", got)
	}
	in = complete()
	in.unpair(1, 1)
	in.unpair(3, 1)
	in.Sides[2].PersonKey = 1
	if got := gained(t, in); got["data.24m/one_more.second_day"] != 1 {
		t.Errorf("two episodes of one person: %v", got)
	}
}

// Each item, and beside it what no single item mends.
func TestItems(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(in *Input)
		want   string
	}{
		{"no target", func(in *Input) { in.Returns[0].Unusable = "no_target" }, "target_stage"},
		{"dates that contradict each other", func(in *Input) { in.Returns[0].Unusable = "end_before_start" }, "right_dates"},
		{"data that do not reach the start", func(in *Input) { in.Returns[0].Unusable = "after_data" }, ""},
		{"one day of both sides", func(in *Input) { in.unpair(1, 1) }, "second_day"},
		{"none", func(in *Input) { in.unpair(1, 0) }, ""},
		{"none, the involved side on two days", func(in *Input) {
			in.unpair(1, 0)
			in.Changes = []warehouse.LimbChange{{EpisodeKey: 1, StartDate: in.Sides[0].StartDate, Day: 14}}
		}, "other_side"},
		{"one of the two before care", func(in *Input) {
			in.unpair(1, 0)
			in.Changes = []warehouse.LimbChange{{EpisodeKey: 1, StartDate: in.Sides[0].StartDate, Day: 14, BaselineDay: -1}}
		}, ""},
		{"both sides involved", func(in *Input) { in.unpair(1, 1); in.Sides[0].Bilateral = true }, ""},
		{"sets not recorded", func(in *Input) { in.Doses[0].Sets = nil }, "sets"},
		{"a session without bouts", func(in *Input) { in.Doses[0].Sets, in.Doses[0].MissingReason = nil, "session_without_bouts" }, "bouts"},
		{"work at home", func(in *Input) { in.Doses[0].Sets, in.Doses[0].MissingReason = nil, "home_not_logged" }, "home_sessions"},
		{"a gap between deliveries", func(in *Input) { in.Doses[0].Sets, in.Doses[0].MissingReason = nil, "delivery_gap" }, "delivery"},
		{"a window still open", func(in *Input) { in.Doses[0].Sets, in.Doses[0].MissingReason = nil, "window_open" }, ""},
		{"sets not recorded, back before the landmark", func(in *Input) { in.Doses[0].Sets, in.Doses[0].ReturnDay = nil, n(13) }, ""},
	} {
		in := complete()
		c.change(&in)
		got := gained(t, in)
		if c.want == "" && len(got) != 0 || c.want != "" && got["data.24m/one_more."+c.want] != 1 {
			t.Errorf("%s: %v, want %q", c.name, got, c.want)
		}
	}
}

// Types that few began with are told together, and the counts of all types sum to
// those of the practice.
func TestByInjuryType(t *testing.T) {
	in := complete()
	in.Sides[0].Bilateral = true
	in.TypeFloor = 6
	got := counts(t, in)
	for id, want := range map[string]float64{
		"data.other_types.symmetry.24m/began": 10, "data.other_types.symmetry.24m/used": 9, "data.other_types.symmetry.24m/not_used": 1,
	} {
		if got[id] != want {
			t.Errorf("%s is %g, want %g", id, got[id], want)
		}
	}
	if _, ok := got["data.calf_strain.symmetry.24m/began"]; ok {
		t.Error("a rare type is told on its own")
	}
}
