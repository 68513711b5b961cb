package warehouse_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/analysis/usable"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// TestDoseFiguresStandOnTheirRows follows each figure of dose, and each count of
// what could be used, to its published rows: persons and episodes under its predicate are those of the figure, and
// the lines that fed it hold the plans and bouts.
func TestDoseFiguresStandOnTheirRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 600)
	month := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	set := doseMonth(t, path, func(wh *warehouse.Warehouse) (result.Set, error) {
		doses, err := dose.Month(ctx, wh, practice, month, 3)
		if err != nil {
			return doses, err
		}
		used, err := usable.Month(ctx, wh, practice, month, 3)
		doses.Append(used)
		return doses, err
	})
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh := open(t, path)
	stated := map[string]float64{}
	for _, f := range set.Figures {
		tables, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(tables) != 1 || tables[0].Persons != *f.Persons || len(tables[0].Episodes) != *f.Episodes {
			t.Errorf("%s: %+v; the figure has %d persons and %d episodes", f.ID, tables, *f.Persons, *f.Episodes)
		}
		if f.Value != nil {
			stated[f.Statistic] += *f.Value
		}
	}
	for _, statistic := range []string{"left_out.returned", "left_out.at_target", "left_out.no_usable", "analysed", "used", "not_used"} {
		if stated[statistic] == 0 {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
	lines, err := wh.SourceLines(ctx, "dose.calf_strain.24m/analysed")
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range []string{"episodes", "plans", "sessions", "bouts"} {
		if !slices.ContainsFunc(lines, func(l warehouse.SourceLine) bool { return l.Table == table && strings.HasPrefix(l.Path, "inbox/") }) {
			t.Errorf("no line of %s fed the figure", table)
		}
	}
}

// doseMonth analyses a warehouse and closes it: figures are written into it next.
func doseMonth(t *testing.T, path string, analyse func(wh *warehouse.Warehouse) (result.Set, error)) result.Set {
	t.Helper()
	wh, err := warehouse.Open(context.Background(), path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	set, err := analyse(wh)
	if err != nil {
		t.Fatal(err)
	}
	if err := wh.Close(); err != nil {
		t.Fatal(err)
	}
	return set
}
