package warehouse_test

import (
	"context"
	"strings"
	"testing"

	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestFiguresBesideTheCurveStandOnTheirRows follows the figures that stand on two
// tables, the episodes and their details, and wants their people in both.
func TestFiguresBesideTheCurveStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 400)
	set := doseMonth(t, path, func(wh *warehouse.Warehouse) (result.Set, error) {
		in := input(practice)
		var err error
		if in.Episodes, err = wh.ReturnEpisodes(ctx, ""); err != nil {
			return result.Set{}, err
		}
		if in.Details, err = wh.ReturnDetails(ctx, ""); err != nil {
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
		if !strings.HasPrefix(f.Statistic, "since_injury") && f.Statistic != "share_weibull" && f.Statistic != "share_between_contacts" {
			continue
		}
		met[f.Statistic]++
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(tables) != 2 {
			t.Errorf("%s stands on %d tables", f.ID, len(tables))
		}
		for _, s := range tables {
			if s.Persons < *f.Persons || (f.Episodes != nil && len(s.Episodes) < *f.Episodes) {
				t.Errorf("%s: %d persons of %s stand under its predicate, it has %d", f.ID, s.Persons, s.Table, *f.Persons)
			}
		}
	}
	for _, statistic := range []string{"share_weibull", "share_between_contacts"} {
		if met[statistic] == 0 {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
}
