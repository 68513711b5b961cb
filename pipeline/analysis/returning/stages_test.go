package returning

import (
	"math"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// stay is one on a stage from a day on, of the episode with the number, which
// is watched to day 100.
func stay(episode int, stage string, rank, from int, to *int, leftBy string) warehouse.StageStay {
	e := began(100, 120)
	return warehouse.StageStay{
		EpisodeKey: episode, PersonKey: episode, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate,
		Ladder: "lower_limb", Stage: stage, Rank: rank, BelowTarget: true, Visit: 1, Entered: "reached", FromDay: from, ToDay: to, LeftBy: leftBy,
		FollowDays: 120, OutDay: 120, OutReason: "in_care",
	}
}

// climbers are the five of the curve: at the end of day 14 three are watched,
// one jogging, one walking, one judged by the ladder of work.
func climbers() Input {
	in := input(five()...)
	in.Rules.AtRiskFloor = 1
	work := stay(5, "off_work", 0, 0, nil, "")
	work.Ladder = "work"
	in.Stays = []warehouse.StageStay{
		stay(1, "walking", 1, 0, n(10), "reached"), stay(1, "full_participation", 7, 10, nil, ""),
		stay(2, "walking", 1, 0, nil, ""),
		stay(3, "walking", 1, 0, n(14), "reached"), stay(3, "jogging", 3, 14, nil, ""),
		stay(4, "protected", 0, 0, n(12), "reached"),
		work,
	}
	return in
}

// By hand: at the end of day 14, 1/5 are back and nothing else has ended, so 4/5
// are dealt to the three watched. On day 21 one is watched, on the other ladder.
func TestSpreadOverStagesByHand(t *testing.T) {
	f := figures(t, climbers())
	const picture = "return.calf_strain.24m/"
	for id, want := range map[string]float64{
		"stage.jogging@w2": 4.0 / 15, "stage.walking@w2": 4.0 / 15, "stage.unplaced@w2": 4.0 / 15, "stage.protected@w2": 0,
		"stage.protected@w0": 1.0 / 5, "stage.walking@w0": 3.0 / 5, "stage.unplaced@w0": 1.0 / 5,
		"stage.unplaced@w4": 4.0 / 15, "stage.walking@w4": 0,
	} {
		near(t, id, f[picture+id].Value, want)
	}
	for _, id := range []string{"stage.fast_running@w2", "stage.off_work@w2", "stage.full_participation@w2"} {
		if _, ok := f[picture+id]; ok {
			t.Errorf("%s stands, and nobody not yet back stood there", id)
		}
	}
	for _, week := range []string{"@w0", "@w2", "@w4", "@w8"} {
		sum := 0.0
		for id, g := range f {
			if strings.HasPrefix(id, picture) && strings.HasSuffix(id, week) && (strings.HasPrefix(g.Statistic, "stage.") || g.Statistic == "cumulative" || g.Statistic == "competing") {
				sum += *g.Value
			}
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("the shares of %s sum to %v", week, sum)
		}
	}
	// sd of 4/5 x 1/3: the curve's is sqrt(4/5 x 1/5 / 5), the other sqrt(1/3 x 2/3 / 3).
	want := math.Sqrt(1.0/9*(0.16/5) + 0.64*(2.0/27))
	near(t, "standard error", f[picture+"stage.jogging@w2"].StdError, want)
	in := climbers()
	in.Rules.AtRiskFloor = 4
	if g := figures(t, in)[picture+"stage.jogging@w2"]; g.Status != result.Withheld || g.Value != nil {
		t.Errorf("three are watched and the floor is four: %v", g.Value)
	}
}

// By hand, days on the stage: one moves on after 7, one falls back after 10, one
// has a competing end after 14, one is last seen after 5, and one, who reached it
// 4 days before care and so comes under watch late, moves on after 20. At day 7
// one of 4 moves on: 1/4. Day 10, one of 3 falls: 3/4 x 1/3 = 1/4. Day 14, one of
// 2 stops. Day 20 the last moves on: 1/4 + 1/4.
func TestStepsByHand(t *testing.T) {
	in := input(five()...)
	ended := stay(3, "jogging", 3, 5, nil, "")
	ended.EndDay = n(19)
	left := stay(4, "jogging", 3, 5, nil, "")
	left.OutDay, left.OutReason = 10, "other"
	again := stay(2, "jogging", 3, 30, n(31), "reached")
	again.Visit = 2
	ready := stay(1, "jogging", 3, 0, n(2), "reached")
	ready.Entered = "start"
	atOnce := stay(3, "fast_running", 4, 19, nil, "")
	atOnce.EndDay = n(19)
	in.Stays = []warehouse.StageStay{
		ready, stay(1, "jogging", 3, 5, n(12), "reached"), stay(2, "jogging", 3, 5, n(15), "lost"), again, ended, atOnce, left,
		stay(5, "jogging", 3, -4, n(16), "reached"),
	}
	f := figures(t, in)
	const picture = "return.calf_strain.24m/"
	for id, want := range map[string]float64{
		"moved_on.jogging@w6": 1.0 / 2, "fell_back.jogging@w6": 1.0 / 4, "next_weeks.jogging": 20.0 / 7,
		"moved_on_from_start.jogging@w6": 1, "next_weeks_from_start.jogging": 2.0 / 7,
	} {
		near(t, id, f[picture+id].Value, want)
	}
	if g := f[picture+"moved_on.jogging@w6"]; *g.Persons != 5 || *g.Episodes != 5 || *g.Events != 2 {
		t.Errorf("%+v", g)
	}
	if _, ok := f[picture+"moved_on.fast_running@w6"]; ok {
		t.Error("somebody whose care ended on the day the stage was reached counts")
	}
	in.StageFloor = 6
	if _, ok := figures(t, in)[picture+"moved_on.jogging@w6"]; ok {
		t.Error("five persons stand where the floor is six")
	}
}

// A stay counts as it stood at the month's end.
func TestBecameOfIsCutAtTheLastDay(t *testing.T) {
	last := began(100, 120).StartDate.AddDate(0, 0, 20)
	s := stay(1, "jogging", 3, 5, n(20), "reached")
	if what, day := becameOf(s, last); what != movedOn || day != 20 {
		t.Errorf("%d on day %d", what, day)
	}
	s.ToDay = n(21)
	if what, day := becameOf(s, last); what != stayed || day != 20 {
		t.Errorf("%d on day %d", what, day)
	}
	s.ToDay, s.EndDay = n(19), n(19)
	if what, day := becameOf(s, last); what != movedOn || day != 19 {
		t.Errorf("%d on day %d", what, day)
	}
}
