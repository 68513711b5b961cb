package warehouse_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestStageFiguresStandOnTheirRows follows each figure of the stages, and of who came again, to its
// published rows: those of one table hold its persons and episodes, and the
// same analysis of the rows alone gives it again.
func TestStageFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 250)
	set := doseMonth(t, path, func(wh *warehouse.Warehouse) (result.Set, error) {
		in := input(practice)
		var err error
		if in.Episodes, err = wh.ReturnEpisodes(ctx, ""); err != nil {
			return result.Set{}, err
		}
		if in.Stays, err = wh.StageStays(ctx, ""); err != nil {
			return result.Set{}, err
		}
		if in.Recurrences, err = wh.Recurrences(ctx, ""); err != nil {
			return result.Set{}, err
		}
		return returning.Analyse(in)
	})
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh := open(t, path)
	met := map[string]int{}
	for _, f := range set.Figures {
		stem, _, named := strings.Cut(f.Statistic, ".")
		if f.Question == "recurrence" {
			stem, named = f.Question, true
		}
		if !named || stem == "ended" {
			continue
		}
		met[stem]++
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		at := slices.IndexFunc(tables, func(s warehouse.SourceTable) bool {
			return s.Persons == *f.Persons && len(s.Episodes) == *f.Episodes
		})
		if at < 0 {
			t.Errorf("%s: no source of %d persons and %d episodes", f.ID, *f.Persons, *f.Episodes)
		}
		if met[stem] > 4 {
			continue // the others are made in the same way
		}
		in := input(practice)
		in.Episodes, err = wh.ReturnEpisodes(ctx, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range tables {
			switch s.Table {
			case returning.EpisodesTable:
				in.Episodes, err = wh.ReturnEpisodes(ctx, s.Predicate)
			case returning.StaysTable:
				in.Stays, err = wh.StageStays(ctx, s.Predicate)
			case returning.RecurrencesTable:
				in.Recurrences, err = wh.Recurrences(ctx, s.Predicate)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		made, err := returning.Analyse(in)
		if err != nil {
			t.Fatal(err)
		}
		j := slices.IndexFunc(made.Figures, func(g result.Figure) bool { return g.ID == f.ID })
		if j < 0 {
			t.Errorf("%s does not come again from its rows", f.ID)
			continue
		}
		if g := made.Figures[j]; !same(f.Value, g.Value) || !same(f.Low, g.Low) || !same(f.High, g.High) || f.Reason != g.Reason {
			t.Errorf("%s: %v, again %v", f.ID, f, g)
		}
	}
	for _, stem := range []string{"stage", "moved_on", "next_weeks", "fell_back", "moved_on_from_start", "next_weeks_from_start", "recurrence"} {
		if met[stem] == 0 {
			t.Errorf("the made-up practice has no %s, so nothing was tested", stem)
		}
	}
}
