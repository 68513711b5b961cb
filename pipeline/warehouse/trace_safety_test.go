package warehouse_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/safety"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// safetyMonth computes the figures of adverse events of a built warehouse and
// writes them into it.
func safetyMonth(t *testing.T, path string, practice *settings.Practice) result.Set {
	t.Helper()
	ctx := context.Background()
	wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	set, err := safety.Month(ctx, wh, practice, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), 3)
	if err != nil {
		t.Fatal(err)
	}
	if err := wh.Close(); err != nil {
		t.Fatal(err)
	}
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	return set
}

// TestSafetyFiguresStandOnTheirRows follows each figure of adverse events to
// its published rows: sessions and events under its predicates are those that
// it counts, and the same analysis of those rows gives it again.
func TestSafetyFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 150)
	set := safetyMonth(t, path, practice)
	wh := open(t, path)
	seen := map[string]float64{}
	for _, f := range set.Figures {
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if f.Value != nil {
			seen[f.Statistic] += *f.Value
		}
		in := safety.Input{Month: f.PeriodTo, WindowMonths: 24, Rules: practice.Safety, KindFloor: 1, Sites: []string{f.Site}, InjuryTypes: []string{f.InjuryType}, Batch: 3}
		for _, s := range tables {
			switch s.Table {
			case safety.SessionsTable:
				if f.Exposure != nil && float64(s.Rows) != *f.Exposure || f.Unit == "sessions" && float64(s.Rows) != *f.Value || s.Persons != *f.Persons || len(s.Episodes) != *f.Episodes {
					t.Errorf("%s: %d sessions of %d persons under %s; %+v", f.ID, s.Rows, s.Persons, s.Predicate, f)
				}
				in.Sessions, err = wh.SafetySessions(ctx, s.Predicate)
			case safety.EventsTable:
				if f.Events != nil && s.Rows != *f.Events {
					t.Errorf("%s: %d events under %s; it counts %d", f.ID, s.Rows, s.Predicate, *f.Events)
				}
				in.Events, err = wh.SafetyEvents(ctx, s.Predicate)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		safetyAgain(t, in, f)
	}
	for _, statistic := range []string{
		"rate_all", "rate_asked", "events_suspected", "events_confirmed", "events_certainty_not_recorded", "serious_events", "open_clocks", "clocks_not_computable",
		"not_linked", "potential_events", "ruled_out_events", "seriousness_not_recorded", "onset_to_aware_median_days", "aware_to_reported_median_days",
	} {
		if seen[statistic] == 0 {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
}

// safetyAgain analyses the rows of one figure alone.
func safetyAgain(t *testing.T, in safety.Input, f result.Figure) {
	t.Helper()
	if f.Stratum == "other_kinds" || strings.HasSuffix(f.Statistic, "asked_share") || strings.HasSuffix(f.Statistic, "_days") {
		return // which kinds are rare, what was not asked, and what has no dates are in other rows
	}
	made, err := safety.Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	j := slices.IndexFunc(made.Figures, func(g result.Figure) bool { return g.ID == f.ID })
	if j < 0 {
		if f.Value != nil && *f.Value > 0 {
			t.Errorf("%s does not come again from its rows", f.ID)
		}
		return
	}
	if g := made.Figures[j]; !same(f.Value, g.Value) || !same(f.Low, g.Low) || !same(f.High, g.High) || f.Reason != g.Reason || f.Status != g.Status {
		t.Errorf("%s: %+v, again %+v", f.ID, f, g)
	}
}

// TestSafetyLinesHoldTheRows follows a rate to the lines of its sessions and
// events, and to no line of another kind.
func TestSafetyLinesHoldTheRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 5, 60)
	safetyMonth(t, path, practice)
	wh := open(t, path)
	lines, err := wh.SourceLines(ctx, "safety.24m/rate_all")
	if err != nil {
		t.Fatal(err)
	}
	tables, err := wh.Sources(ctx, "safety.24m/rate_all")
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for _, l := range lines {
		got[l.Table]++
	}
	// A session that an event is linked to is attended, so that it is among them.
	want := map[string]int{"sessions": tables[0].Rows, "adverse_events": tables[1].Rows}
	for table, n := range want {
		if n == 0 || got[table] != n {
			t.Errorf("%d lines of %s, want %d", got[table], table, n)
		}
	}
	if len(got) != 3 || got["episodes"] == 0 {
		t.Errorf("lines by table: %v", got)
	}
}
