package warehouse_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestSymmetryFiguresStandOnTheirRows follows each figure of symmetry to its
// published rows: persons and episodes under its first predicate are those of
// the figure, and the same analysis gives the figure again from those rows and
// the episodes.
func TestSymmetryFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 400)
	practice.Symmetry.SupportPersons = 5 // few of the made-up practice have a severity
	month := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	figures := func() result.Set {
		wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
		if err != nil {
			t.Fatal(err)
		}
		defer func() { // the figures are written into the file next
			if err := wh.Close(); err != nil {
				t.Error(err)
			}
		}()
		set, err := symmetry.Month(ctx, wh, practice, month, 3)
		if err != nil {
			t.Fatal(err)
		}
		return set
	}
	set := figures()
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh := open(t, path)
	first := map[string]result.Source{}
	for _, s := range set.Sources {
		if _, ok := first[s.FigureID]; !ok {
			first[s.FigureID] = s
		}
	}
	// These count some of those under their predicate: the rest of the sum.
	parts := []string{
		"improved", "no_real_change", "worse", "improved_last", "no_real_change_last", "worse_last", "clear_of_90", "undecided_90", "below_90",
		"important_better", "not_important", "important_worse", "important_better_last", "not_important_last", "important_worse_last",
	}
	stated, tested := 0, 0
	for _, f := range set.Figures {
		if f.Status != result.Withheld {
			stated++
		}
		if slices.Contains(parts, f.Statistic) {
			continue
		}
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		s := tables[slices.IndexFunc(tables, func(s warehouse.SourceTable) bool { return s.Table == first[f.ID].Table })]
		if s.Persons != *f.Persons || len(s.Episodes) != *f.Episodes {
			t.Errorf("%s: %d persons and %d episodes stand under its predicate\n%s\nfigure: %d, %d", f.ID, s.Persons, len(s.Episodes), s.Predicate, *f.Persons, *f.Episodes)
		}
		tested++
	}
	if stated < 40 || tested < 60 {
		t.Errorf("%d figures stated and %d followed, too few to have tested anything", stated, tested)
	}
	for _, id := range []string{"girth_difference@w12", "involved_curve@w6", "plain_mean@w6", "change_known"} {
		id = "symmetry.calf_strain.girth_calf.24m/" + id
		i := slices.IndexFunc(set.Figures, func(f result.Figure) bool { return f.ID == id })
		if i < 0 || set.Figures[i].Value == nil {
			t.Fatalf("%s is not stated", id)
		}
		f := set.Figures[i]
		in := symmetry.Input{Month: month, WindowMonths: 24, Rules: practice.Symmetry, InjuryTypes: []string{"calf_strain"}}
		for _, s := range set.Sources {
			if s.FigureID != id {
				continue
			}
			var err error
			switch s.Table {
			case symmetry.PairsTable:
				in.Pairs, err = wh.SidePairs(ctx, s.Predicate)
			case symmetry.EpisodesTable:
				in.Episodes, err = wh.SymmetryEpisodes(ctx, s.Predicate)
			case symmetry.ChangesTable:
				in.Changes, err = wh.LimbChanges(ctx, s.Predicate)
				if err == nil { // a picture stands only where there is a pair
					in.Pairs, err = wh.SidePairs(ctx, "")
				}
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		again, err := symmetry.Analyse(ctx, in)
		if err != nil {
			t.Fatal(err)
		}
		j := slices.IndexFunc(again.Figures, func(g result.Figure) bool { return g.ID == id })
		if j < 0 || !same(f.Value, again.Figures[j].Value) || !same(f.Low, again.Figures[j].Low) || *f.Persons != *again.Figures[j].Persons {
			t.Errorf("%s does not come again from its rows", id)
		}
	}
	lines, err := wh.SourceLines(ctx, "symmetry.calf_strain.girth_calf.24m/girth_difference@w12")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(lines, func(l warehouse.SourceLine) bool {
		return l.Table == "measurements" && strings.HasPrefix(l.Path, "inbox/")
	}) {
		t.Error("no line of measurements")
	}
}
