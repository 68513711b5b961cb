package returning

import (
	"testing"
	"time"

	"evenlimb/pipeline/warehouse"
)

var monthEnd = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)

func n(x int) *int { return &x }

// began is an episode that began so many days before the month's end, in care
// to a data-through date follow days after its start.
func began(before, follow int) warehouse.ReturnEpisode {
	start := monthEnd.AddDate(0, 0, -before)
	through := start.AddDate(0, 0, follow)
	return warehouse.ReturnEpisode{
		EpisodeKey: 1, PersonKey: 1, Site: "north", InjuryType: "calf_strain", StartDate: start,
		DataThrough: &through, FollowDays: n(follow), OutDay: follow, OutReason: "in_care",
	}
}

func TestJudge(t *testing.T) {
	type episode = warehouse.ReturnEpisode
	for _, c := range []struct {
		name    string
		change  func(e *episode)
		variant variant
		want    outcome
	}{
		{"in care, watched past the month", func(*episode) {}, asRecorded, outcome{inCare, 100}},
		{"in care, data end before the month", func(e *episode) { e.FollowDays, e.OutDay = n(60), 60 }, asRecorded, outcome{inCare, 60}},
		{"not usable", func(e *episode) { e.Unusable = "no_target" }, asRecorded, outcome{state: unusable}},
		{"no data-through date", func(e *episode) { e.FollowDays = nil }, asRecorded, outcome{state: unusable}},
		{"at the target", func(e *episode) { e.AtTarget = true }, asRecorded, outcome{state: atTarget}},
		{"back on the month's last day", func(e *episode) { e.ReturnDay = n(100) }, asRecorded, outcome{returned, 100}},
		{"back a day later", func(e *episode) { e.ReturnDay = n(101) }, asRecorded, outcome{inCare, 100}},
		{"competing end on the last day", func(e *episode) { e.EndDay = n(100) }, asRecorded, outcome{ended, 100}},
		{"competing end a day later", func(e *episode) { e.EndDay = n(101) }, asRecorded, outcome{inCare, 100}},
		{"back before the competing end", func(e *episode) { e.ReturnDay, e.EndDay = n(50), n(51) }, asRecorded, outcome{returned, 50}},
		{"back on the day of it", func(e *episode) { e.ReturnDay, e.EndDay = n(50), n(50) }, asRecorded, outcome{returned, 50}},
		{"back after it", func(e *episode) { e.ReturnDay, e.EndDay = n(51), n(50) }, asRecorded, outcome{ended, 50}},
		{"lost on the last day", func(e *episode) { e.OutDay, e.OutReason = 100, "gap" }, asRecorded, outcome{lost, 100}},
		{"lost a day later", func(e *episode) { e.OutDay, e.OutReason = 101, "gap" }, asRecorded, outcome{inCare, 100}},
		{"discharged themselves", func(e *episode) { e.OutDay, e.OutReason = 40, "self_discharged" }, asRecorded, outcome{lost, 40}},
		{"lost contact", func(e *episode) { e.OutDay, e.OutReason = 40, "lost_contact" }, asRecorded, outcome{lost, 40}},
		{"transferred", func(e *episode) { e.OutDay, e.OutReason = 40, "transferred" }, asRecorded, outcome{left, 40}},
		{"goal met without the stage", func(e *episode) { e.OutDay, e.OutReason = 40, "goal_met" }, asRecorded, outcome{left, 40}},
		{"lost, had they never returned", func(e *episode) { e.OutDay, e.OutReason = 40, "gap" }, lostNever, outcome{lost, 100}},
		{"lost, had they returned that day", func(e *episode) { e.OutDay, e.OutReason = 40, "gap" }, lostReturn, outcome{returned, 40}},
		{"transferred, had the lost returned", func(e *episode) { e.OutDay, e.OutReason = 40, "transferred" }, lostReturn, outcome{left, 40}},
		{"short hold", func(e *episode) { e.ReturnDayShort, e.ReturnDay = n(20), n(30) }, shortHold, outcome{returned, 20}},
		{"long hold", func(e *episode) { e.ReturnDay, e.ReturnDayLong = n(30), nil }, longHold, outcome{inCare, 100}},
		{"goal met taken as a return", func(e *episode) { e.OutDay, e.OutReason, e.GoalMetDay = 40, "goal_met", n(45) }, goalMetBack, outcome{returned, 45}},
		{"goal met taken as a return after the month", func(e *episode) { e.OutDay, e.OutReason, e.GoalMetDay = 40, "goal_met", n(101) }, goalMetBack, outcome{left, 40}},
		{"goal met, others as recorded", func(e *episode) { e.ReturnDay = n(30) }, goalMetBack, outcome{returned, 30}},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := began(100, 120)
			c.change(&e)
			if got := judge(e, monthEnd, c.variant); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

func TestMedian(t *testing.T) {
	for _, c := range []struct {
		in   []float64
		want float64
	}{{[]float64{3}, 3}, {[]float64{5, 1, 3}, 3}, {[]float64{4, 1, 2, 3}, 2.5}} {
		if got := median(c.in); got != c.want {
			t.Errorf("median %g, want %g", got, c.want)
		}
	}
}
