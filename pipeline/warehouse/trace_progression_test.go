package warehouse_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/progression"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestProgressionFiguresStandOnTheirRows follows each figure of progression,
// tolerance and plans to its published rows: the same analysis of those rows
// alone gives it again, and its lines are of the kinds that feed it.
func TestProgressionFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 150)
	month := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	practice.SmallCounts.Circulating = 3
	set, err := progression.Month(ctx, wh, practice, month, 3)
	if err != nil {
		t.Fatal(err)
	}
	doses, err := wh.DoseEpisodes(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	if err := wh.Close(); err != nil {
		t.Fatal(err)
	}
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh = open(t, path)
	seen := map[string]bool{}
	for _, f := range set.Figures {
		seen[f.Question+"/"+f.Statistic] = true
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(tables) != 1 || tables[0].Persons != *f.Persons || f.Episodes != nil && len(tables[0].Episodes) != *f.Episodes {
			t.Errorf("%s: %+v stands on %d tables, the first %+v", f.ID, f, len(tables), tables[0])
		}
		in := progression.Input{Month: month, WindowMonths: 24, Bands: practice.Tolerance, InjuryTypes: []string{f.InjuryType}, Floor: 3, Batch: 3, Doses: doses}
		if f.InjuryType == "" {
			in.InjuryTypes = nil
		}
		switch where := tables[0].Predicate; tables[0].Table {
		case progression.ProgressTable:
			in.Progress, err = wh.ProgressSums(ctx, where)
		case progression.ToleranceTable:
			in.Tolerance, err = wh.ToleranceSums(ctx, where)
		case progression.PlansTable:
			in.Plans, err = wh.PlanDeliveries(ctx, where)
		}
		if err != nil {
			t.Fatal(err)
		}
		progressionAgain(t, in, f)
	}
	for _, statistic := range []string{
		"progression/step_up", "progression/level_up", "progression/load_down", "progression/reps_down", "progression/pressure_up", "progression/range_up", "progression/back_after_pain",
		"progression/stalled", "progression/first_step", "progression/first_step_median_weeks", "plan/sessions_share", "plan/sets_share", "plan/pressure_share", "plan/minutes_share", "tolerance/ended_early", "tolerance/settled",
	} {
		if !seen[statistic] {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
	for id, want := range map[string][]string{
		"progression.24m/step_up": {"bouts", "episodes", "sessions"}, "tolerance.by=without_cuff.24m/settled": {"bouts", "episodes", "sessions"},
	} {
		lines, err := wh.SourceLines(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, l := range lines {
			if !slices.Contains(got, l.Table) {
				got = append(got, l.Table)
			}
		}
		if slices.Sort(got); !slices.Equal(got, want) {
			t.Errorf("%s has lines of %q", id, got)
		}
	}
}

// progressionAgain analyses the rows of one figure alone.
func progressionAgain(t *testing.T, in progression.Input, f result.Figure) {
	t.Helper()
	made, err := progression.Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	j := slices.IndexFunc(made.Figures, func(g result.Figure) bool { return g.ID == f.ID })
	if j < 0 {
		t.Errorf("%s does not come again from its rows", f.ID)
		return
	}
	if g := made.Figures[j]; !same(f.Value, g.Value) || !same(f.Low, g.Low) || !same(f.High, g.High) || f.Reason != g.Reason || f.Status != g.Status {
		t.Errorf("%s: %+v, again %+v", f.ID, f, g)
	}
}

// TestToleranceLinesAreOfTheExercise holds that what is told of one exercise is
// followed to its bouts alone.
func TestToleranceLinesAreOfTheExercise(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 5, 60)
	practice.SmallCounts.Circulating = 3
	wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	set, err := progression.Month(ctx, wh, practice, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), 3)
	if err != nil {
		t.Fatal(err)
	}
	if err := wh.Close(); err != nil {
		t.Fatal(err)
	}
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh = open(t, path)
	bouts := func(id string) (n int) {
		lines, err := wh.SourceLines(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range lines {
			if l.Table == "bouts" {
				n++
			}
		}
		return n
	}
	i := slices.IndexFunc(set.Figures, func(f result.Figure) bool {
		return f.Question == "tolerance" && f.Measure != "" && f.Stratum == "without_cuff"
	})
	one, all := bouts(set.Figures[i].ID), bouts("tolerance.by=without_cuff.24m/"+set.Figures[i].Statistic)
	if one == 0 || all <= one {
		t.Errorf("%d bouts of one exercise, %d of all", one, all)
	}
}
