package warehouse_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/scores"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestScoreFiguresStandOnTheirRows follows each figure of pain and scores to its
// published rows: persons and episodes under its predicate are those of the
// figure, the same analysis of those rows alone gives what is a share again, and
// its lines are answers of its own measure.
func TestScoreFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 200)
	practice.Scores.LeastPersons = 3
	month := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	set, err := scores.Month(ctx, wh, practice, month, 3)
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
		seen[f.Measure+"/"+f.Statistic] = true
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(tables) != 1 || tables[0].Persons != *f.Persons || len(tables[0].Episodes) != *f.Episodes {
			t.Errorf("%s: %d persons and %d episodes stand on %+v", f.ID, *f.Persons, *f.Episodes, tables)
		}
		if f.Statistic == "at_best" && *f.X > 0 {
			continue // that of a week alone has no baseline to be told beside
		}
		in := scores.Input{Month: month, WindowMonths: 24, Rules: practice.Scores, InjuryTypes: []string{f.InjuryType}, Batch: 3}
		if in.Scores, err = wh.Scores(ctx, tables[0].Predicate); err != nil {
			t.Fatal(err)
		}
		made, err := scores.Analyse(in)
		if err != nil {
			t.Fatal(err)
		}
		if j := slices.IndexFunc(made.Figures, func(g result.Figure) bool { return g.ID == f.ID }); j >= 0 {
			if g := made.Figures[j]; !same(f.Value, g.Value) || !same(f.Low, g.Low) || !same(f.High, g.High) || f.Status != g.Status {
				t.Errorf("%s: %+v, again %+v", f.ID, f, g)
			}
		} else if f.Statistic != "at_best" {
			t.Errorf("%s does not come again from its rows", f.ID)
		}
	}
	for _, statistic := range []string{"pain_nrs/typical", "pain_nrs/change", "pain_nrs/improved", "pain_nrs/worse", "pain_nrs/important", "pain_nrs/at_best", "lefs/typical"} {
		if !seen[statistic] {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
	lines, err := wh.SourceLines(ctx, "scores.calf_strain.pain_nrs.24m/at_best@w0")
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, l := range lines {
		count[l.Table]++
	}
	if len(count) != 2 || count["episodes"] == 0 || count["measurements"] == 0 {
		t.Errorf("lines by table: %v", count)
	}
}
