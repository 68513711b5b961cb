package safety

import (
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// four people with 10 sessions each; three events count.
func four() Input {
	in := input(2)
	in.attend(1, 10, 6)
	in.attend(2, 10, 5)
	in.attend(3, 10, 10)
	in.attend(4, 10, 0)
	in.happen(1, func(e *warehouse.SafetyEvent) { linked(e, midDay, true); dated(e, 2, 1) })
	in.happen(2, func(e *warehouse.SafetyEvent) {
		linked(e, midDay, false)
		dated(e, 0, -1)
		e.Certainty, e.Serious = "suspected", nil
	})
	in.happen(3, func(e *warehouse.SafetyEvent) {
		dated(e, 4, 14)
		e.Kind, e.Certainty, e.Serious = "numbness", "", yes(true)
	})
	in.happen(4, func(e *warehouse.SafetyEvent) { e.Potential, e.Counts, e.Serious = true, false, yes(true) })
	in.happen(4, func(e *warehouse.SafetyEvent) {
		e.RuledOut, e.Counts, e.Certainty, e.Serious = true, false, "ruled_out", yes(true)
	})
	in.happen(1, func(e *warehouse.SafetyEvent) { // before the period, and open to this day
		e.OnsetDate, e.Serious = firstDay.AddDate(0, 0, -1), yes(true)
		dated(e, 0, -1)
	})
	in.happen(2, func(e *warehouse.SafetyEvent) { // past the site's data, and its dates contradict each other
		e.Watched, e.Serious, e.OrderImpossible = false, yes(true), true
		e.AwareDate, e.ReportedDate = on(midDay), on(midDay.AddDate(0, 0, -1))
	})
	return in
}

// By hand: 3 events in 40 sessions are 75 per 1,000; poisson.test(3) and
// poisson.test(1) of R give the limits of the counts, 0.618672 to 8.767273 and
// 0.02531781 to 5.571643. In sessions with symptoms asked: 1 in 21.
func TestRatesByHand(t *testing.T) {
	f := figures(t, four())
	for id, want := range map[string][3]float64{
		"safety.24m/rate_all":                                 {75, 0.618672 * 25, 8.767273 * 25},
		"safety.24m/rate_asked":                               {1000.0 / 21, 0.02531781 * 1000 / 21, 5.571643 * 1000 / 21},
		"safety.site=north.24m/rate_all":                      {100, 0.2422093 * 50, 7.224688 * 50},
		"safety.calf_strain.24m/rate_all":                     {100, 0.2422093 * 50, 7.224688 * 50},
		"safety.by=serious.24m/rate_all":                      {25, 0.02531781 * 25, 5.571643 * 25},
		"safety.by=other_kinds.24m/events":                    {3, 0, 0},
		"safety.24m/events":                                   {3, 0, 0},
		"safety.24m/events_suspected":                         {1, 0, 0},
		"safety.24m/events_confirmed":                         {1, 0, 0},
		"safety.24m/events_certainty_not_recorded":            {1, 0, 0},
		"safety.24m/sessions_attended":                        {40, 0, 0},
		"safety.24m/sessions_asked":                           {21, 0, 0},
		"safety.24m/asked_share":                              {21.0 / 40, 0, 0},
		"safety.24m/seriousness_not_recorded":                 {1, 0, 0},
		"safety.24m/not_linked":                               {1, 0, 0},
		"safety.24m/potential_events":                         {1, 0, 0},
		"safety.24m/ruled_out_events":                         {1, 0, 0},
		"safety.24m/serious_events":                           {2, 0, 0}, // the one past the site's data counts
		"safety.24m/open_clocks":                              {2, 0, 0}, // the old one, and the one of unknown seriousness
		"safety.24m/clocks_not_computable":                    {1, 0, 0},
		"safety.24m/onset_to_aware_median_days":               {2, 0, 0},
		"safety.24m/aware_to_reported_median_days":            {7.5, 0, 0},
		"safety.by=serious.24m/aware_to_reported_median_days": {14, 0, 0},
	} {
		near(t, id, f[id].Value, want[0])
		if want[2] > 0 {
			near(t, id+" low", f[id].Low, want[1])
			near(t, id+" high", f[id].High, want[2])
		}
	}
	rate := f["safety.24m/rate_all"]
	if *rate.Persons != 4 || *rate.Episodes != 4 || *rate.Events != 3 || *rate.Exposure != 40 || rate.Level != 0.95 || len(rate.Warnings) != 0 {
		t.Errorf("%+v", rate)
	}
	if asked := f["safety.24m/rate_asked"]; *asked.Persons != 3 || *asked.Exposure != 21 {
		t.Errorf("rate_asked rests on %d persons and %g sessions", *asked.Persons, *asked.Exposure)
	}
	if delay := f["safety.24m/aware_to_reported_median_days"]; *delay.Missing != 1 || delay.Low != nil || !slices.Contains(delay.Warnings, "Too few events for limits of the median.") {
		t.Errorf("%+v", delay)
	}
	if w := strings.Join(f["safety.by=serious.24m/rate_all"].Warnings, " "); !strings.Contains(w, "whether they were serious: 1.") {
		t.Errorf("serious: %q", w)
	}
}

func TestNoEventIsNoZero(t *testing.T) {
	f := figures(t, four())
	for id, want := range map[string]string{
		"safety.site=south.24m/rate_asked":      "No event in 5 sessions in which symptoms were asked about: up to 738 per 1,000 (3.69/5, two-sided 95 %).",
		"safety.site=south.24m/rate_asked_midp": "No event in 5 sessions in which symptoms were asked about: up to 599 per 1,000 (3.00/5, two-sided 95 %).",
	} {
		g := f[id]
		if g.Value != nil || g.Low != nil || g.StdError != nil || g.High == nil || g.Status != result.Final || g.Reason != want {
			t.Errorf("%s: %+v", id, g)
		}
	}
	near(t, "high", f["safety.site=south.24m/rate_asked"].High, 3.688879*200)
}

// TestRareTypesAreToldTogether has two people of each type, and a floor of three.
func TestRareTypesAreToldTogether(t *testing.T) {
	in := four()
	in.KindFloor = 3
	f := figures(t, in)
	near(t, "events of the rare types", f["safety.other_types.24m/events"].Value, 3)
	near(t, "their sessions", f["safety.other_types.24m/sessions_attended"].Value, 40)
	if _, alone := f["safety.calf_strain.24m/events"]; alone {
		t.Error("a type of two people stands alone")
	}
}

func TestNoSessionNoRate(t *testing.T) {
	in := input(10)
	in.attend(1, 3, 0)
	f := figures(t, in)
	for id, want := range map[string]string{
		"safety.24m/rate_asked":                    "Symptoms were asked about in no attended session of the period.",
		"safety.site=south.24m/rate_all":           "No attended session in the period.",
		"safety.site=south.24m/asked_share":        "No attended session in the period.",
		"safety.24m/onset_to_aware_median_days":    "No event has both dates on record.",
		"safety.24m/aware_to_reported_median_days": "No event has both dates on record.",
	} {
		if g := f[id]; g.Status != result.Withheld || g.Value != nil || g.High != nil || g.Reason != want {
			t.Errorf("%s: %+v", id, g)
		}
	}
	if _, there := f["safety.hamstring_strain.24m/rate_all"]; there {
		t.Error("a type without sessions has figures")
	}
	for _, id := range []string{"safety.24m/serious_events", "safety.24m/open_clocks", "safety.24m/events"} {
		near(t, id, f[id].Value, 0)
	}
}

func TestRefusesInputThatSaysTooLittle(t *testing.T) {
	for _, change := range []func(in *Input){
		func(in *Input) { in.Month = in.Month.AddDate(-in.Month.Year()+1, -5, -29) },
		func(in *Input) { in.WindowMonths = 0 },
		func(in *Input) { in.KindFloor = 0 },
	} {
		in := input(10)
		change(&in)
		if _, err := Analyse(in); err == nil || !strings.Contains(err.Error(), "all must be given") {
			t.Errorf("got %v", err)
		}
	}
}

func TestPeriodEdges(t *testing.T) {
	for _, c := range []struct {
		days int // from firstDay or, where last, from lastDay
		last bool
		want float64
	}{{-1, false, 0}, {0, false, 1}, {0, true, 1}, {1, true, 0}} {
		day := firstDay
		if c.last {
			day = lastDay
		}
		day = day.AddDate(0, 0, c.days)
		in := input(10)
		in.attend(1, 1, 1)
		in.Sessions[0].SessionDate = day
		in.happen(1, func(e *warehouse.SafetyEvent) { e.OnsetDate, e.Serious = day, yes(true) })
		f := figures(t, in)
		for _, id := range []string{"sessions_attended", "events", "serious_events"} {
			near(t, day.Format("2006-01-02 ")+id, f["safety.24m/"+id].Value, c.want)
		}
	}
}

// The rate of asked sessions goes by the session's date, the other by the
// onset: an event of a session on the last day may begin after it.
func TestAskedRateGoesByTheSession(t *testing.T) {
	in := input(10)
	in.attend(1, 4, 4)
	in.happen(1, func(e *warehouse.SafetyEvent) { linked(e, lastDay, true); e.OnsetDate = lastDay.AddDate(0, 0, 1) })
	in.happen(1, func(e *warehouse.SafetyEvent) { linked(e, firstDay.AddDate(0, 0, -1), true); e.OnsetDate = firstDay })
	f := figures(t, in)
	if all, asked := f["safety.24m/rate_all"], f["safety.24m/rate_asked"]; *all.Events != 1 || *asked.Events != 1 {
		t.Errorf("events %d and %d, want 1 and 1", *all.Events, *asked.Events)
	}
}

func TestClockEdges(t *testing.T) {
	day := func(n int) func(*warehouse.SafetyEvent) {
		return func(e *warehouse.SafetyEvent) { e.Serious, e.AwareDate = yes(true), on(lastDay.AddDate(0, 0, n)) }
	}
	for name, c := range map[string]struct {
		change func(*warehouse.SafetyEvent)
		want   float64
	}{
		"known on the last day":      {day(0), 1},
		"known a day later":          {day(1), 0},
		"reported on the last day":   {func(e *warehouse.SafetyEvent) { day(-9)(e); e.ReportedDate = on(lastDay) }, 0},
		"reported a day later":       {func(e *warehouse.SafetyEvent) { day(-9)(e); e.ReportedDate = on(lastDay.AddDate(0, 0, 1)) }, 1},
		"no date of knowing":         {func(e *warehouse.SafetyEvent) { e.Serious = yes(true) }, 1},
		"seriousness not recorded":   {func(e *warehouse.SafetyEvent) { day(-9)(e); e.Serious = nil }, 1},
		"not serious":                {func(e *warehouse.SafetyEvent) { day(-9)(e); e.Serious = yes(false) }, 0},
		"does not count":             {func(e *warehouse.SafetyEvent) { day(-9)(e); e.Counts = false }, 0},
		"years before the period":    {func(e *warehouse.SafetyEvent) { day(-2000)(e); e.OnsetDate = *e.AwareDate }, 1},
		"past the data of its site":  {func(e *warehouse.SafetyEvent) { day(-9)(e); e.Watched = false }, 1},
		"known before a dated onset": {func(e *warehouse.SafetyEvent) { day(-9)(e); e.OnsetDate, e.OrderImpossible = lastDay, true }, 1},
	} {
		in := input(10)
		in.attend(1, 1, 1)
		in.happen(1, c.change)
		near(t, name, figures(t, in)["safety.24m/open_clocks"].Value, c.want)
	}
}

// A clock that is closed and whose days are unknown cannot be computed, and is
// never taken as 0 days.
func TestImpossibleOrderCannotBeComputed(t *testing.T) {
	in := input(10)
	in.attend(1, 1, 1)
	in.happen(1, func(e *warehouse.SafetyEvent) {
		e.Serious, e.OrderImpossible = yes(true), true
		e.AwareDate, e.ReportedDate = on(midDay), on(midDay.AddDate(0, 0, -1))
	})
	in.happen(1, func(e *warehouse.SafetyEvent) { e.Serious = yes(true); dated(e, 3, 5) })
	f := figures(t, in)
	near(t, "open", f["safety.24m/open_clocks"].Value, 0)
	near(t, "not computable", f["safety.24m/clocks_not_computable"].Value, 1)
	delay := f["safety.24m/aware_to_reported_median_days"]
	near(t, "delay", delay.Value, 5)
	if *delay.Missing != 1 || !strings.Contains(strings.Join(delay.Warnings, " "), "cannot be computed") {
		t.Errorf("%+v", delay)
	}
}

// Ten delays of 1 to 10 days: the limits of the median are the second and the
// ninth (qbinom(0.025, 10, 0.5) of R is 2), and with five there are none.
func TestLimitsOfTheMedian(t *testing.T) {
	in := input(10)
	in.attend(1, 1, 1)
	for n := 10; n >= 1; n-- {
		in.happen(1, func(e *warehouse.SafetyEvent) { dated(e, n, 0) })
	}
	delay := figures(t, in)["safety.24m/onset_to_aware_median_days"]
	near(t, "median", delay.Value, 5.5)
	near(t, "low", delay.Low, 2)
	near(t, "high", delay.High, 9)
	in.Events = in.Events[:6]
	near(t, "low of six", figures(t, in)["safety.24m/onset_to_aware_median_days"].Low, 5)
	in.Events = in.Events[:5]
	if d := figures(t, in)["safety.24m/onset_to_aware_median_days"]; d.Low != nil || d.Level != 0 {
		t.Errorf("five values have limits: %+v", d)
	}
}

// What is in no rate, and what is in one though little is known of it.
func TestOnlyWhatCountsIsInARate(t *testing.T) {
	in := input(10)
	in.attend(1, 4, 4)
	in.happen(1, func(e *warehouse.SafetyEvent) { linked(e, midDay, true); e.Potential, e.Counts = true, false })
	in.happen(1, func(e *warehouse.SafetyEvent) { e.Potential, e.RuledOut, e.Counts = true, true, false })
	in.happen(3, func(*warehouse.SafetyEvent) {}) // of somebody without a session
	f := figures(t, in)
	if all, asked := f["safety.24m/rate_all"], f["safety.24m/rate_asked"]; *all.Events != 1 || *all.Exposure != 4 || *asked.Events != 0 {
		t.Errorf("events %d and %d, want 1 and 0", *all.Events, *asked.Events)
	}
	near(t, "potential", f["safety.24m/potential_events"].Value, 1)
	near(t, "ruled out", f["safety.24m/ruled_out_events"].Value, 1)
}

// An event known or reported after the month has no delay yet; a closed clock
// of another period is no matter of this one.
func TestDelaysEndByTheMonth(t *testing.T) {
	in := input(10)
	in.attend(1, 1, 1)
	in.happen(1, func(e *warehouse.SafetyEvent) { e.OnsetDate = lastDay; dated(e, 0, 0) })
	in.happen(1, func(e *warehouse.SafetyEvent) { e.OnsetDate = lastDay; dated(e, 1, 1) })
	in.happen(1, func(e *warehouse.SafetyEvent) {
		e.OnsetDate, e.Serious, e.ReportedDate = firstDay.AddDate(0, 0, -1), yes(true), on(firstDay)
	})
	f := figures(t, in)
	for _, id := range []string{"safety.24m/onset_to_aware_median_days", "safety.24m/aware_to_reported_median_days"} {
		near(t, id, f[id].Value, 0)
		if *f[id].Events != 1 || *f[id].Missing != 1 {
			t.Errorf("%s rests on %d events and misses %d, want 1 and 1", id, *f[id].Events, *f[id].Missing)
		}
	}
	near(t, "not computable", f["safety.24m/clocks_not_computable"].Value, 0)
}
