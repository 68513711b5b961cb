package warehouse_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// TestEveryFigureCanBeMadeAgainFromItsRows follows each figure of a month to
// the published rows behind it: their number is the figure's number of episodes
// and persons, and the same analysis of those rows alone gives the figure again.
func TestEveryFigureCanBeMadeAgainFromItsRows(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 3, 150)
	set := analyse(t, path, practice, "")
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh := open(t, path)
	states := map[string]float64{}
	for _, f := range set.Figures {
		sources, err := wh.Sources(ctx, f.ID)
		if err != nil {
			t.Fatal(err)
		}
		if len(sources) != 1 {
			t.Fatalf("%s has %d source tables", f.ID, len(sources))
		}
		s := sources[0]
		if f.Persons == nil || s.Persons != *f.Persons || len(s.Episodes) != *f.Episodes {
			t.Errorf("%s: %d persons and %d episodes stand under its predicate\n%s\nfigure: %d, %d", f.ID, s.Persons, len(s.Episodes), s.Predicate, *f.Persons, *f.Episodes)
		}
		if f.Unit == "episodes" && f.X == nil {
			states[f.Statistic] += *f.Value
			if float64(s.Rows) != *f.Value {
				t.Errorf("%s: %d rows under its predicate, value %g", f.ID, s.Rows, *f.Value)
			}
		}
	}
	for _, statistic := range []string{"at_target", "no_usable", "returned", "returned_provisional", "ended_otherwise", "in_care", "lost", "left_otherwise"} {
		if states[statistic] == 0 {
			t.Errorf("the made-up practice has no %s, so nothing was tested", statistic)
		}
	}
	again(t, path, practice, set)
}

// again analyses the rows under the predicate of one figure of each kind.
func again(t *testing.T, path string, practice *settings.Practice, set result.Set) {
	t.Helper()
	ctx := context.Background()
	wh := open(t, path)
	for i, f := range set.Figures {
		if f.Unit == "episodes" && f.X == nil {
			continue // its rows were counted
		}
		if f.X != nil && int(*f.X)%6 != 0 {
			continue // the points between are made in the same way
		}
		if f.ID != set.Sources[i].FigureID {
			t.Fatalf("source %d is of %s, the figure is %s", i, set.Sources[i].FigureID, f.ID)
		}
		where := set.Sources[i].Predicate
		in := input(practice)
		var err error
		if set.Sources[i].Table == returning.GapsTable {
			in.Gaps, err = wh.ContactGaps(ctx, where)
			if err == nil {
				in.Episodes, err = wh.ReturnEpisodes(ctx, "")
			}
		} else {
			in.Episodes, err = wh.ReturnEpisodes(ctx, where)
		}
		if err != nil {
			t.Fatal(err)
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
		g := made.Figures[j]
		if !same(f.Value, g.Value) || !same(f.Low, g.Low) || !same(f.High, g.High) || f.Reason != g.Reason || f.Status != g.Status {
			t.Errorf("%s: %v, again %v", f.ID, f, g)
		}
	}
}

func same(a, b *float64) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

// TestSourceLinesHoldTheRows follows a figure to lines, and finds at each the
// landing row that it names.
func TestSourceLinesHoldTheRows(t *testing.T) {
	ctx := context.Background()
	path, store, practice := warehouse.BuildMade(t, 5, 40)
	set := analyse(t, path, practice, "")
	if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, nil); err != nil {
		t.Fatal(err)
	}
	wh := open(t, path)
	landing, err := warehouse.OpenLanding(ctx, store, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := landing.Close(); err != nil {
			t.Error(err)
		}
	})
	lines, err := wh.SourceLines(ctx, "return.calf_strain.24m/share@w12")
	if err != nil {
		t.Fatal(err)
	}
	tables := map[string]int{}
	for _, l := range lines {
		tables[l.Table]++
		key, err := warehouse.LandingRow(ctx, landing, l.Table, l.Path, l.Batch, l.Line)
		if err != nil {
			t.Fatalf("%s line %d: %v", l.Path, l.Line, err)
		}
		if !strings.Contains(key, l.Key) {
			t.Errorf("%s line %d holds %s, not %s", l.Path, l.Line, key, l.Key)
		}
	}
	for _, table := range []string{"episodes", "sessions", "measurements", "milestones", "followups"} {
		if tables[table] == 0 {
			t.Errorf("no line of %s", table)
		}
	}
	if _, err := wh.SourceLines(ctx, "return.calf_strain.24m/share@w99"); err == nil {
		t.Error("a figure that is not there was followed")
	}
}

// TestFiguresComeBackAsWritten writes figures, sources, totals and findings and
// reads them again.
func TestFiguresComeBackAsWritten(t *testing.T) {
	ctx := context.Background()
	path, _, practice := warehouse.BuildMade(t, 6, 30)
	set := analyse(t, path, practice, "")
	findings := []warehouse.Finding{{Check: "a", Severity: "note", Subject: "s", Count: 2, Text: "t", Fingerprint: "f"}}
	for range 2 { // what stood there is replaced
		if err := warehouse.WriteFigures(ctx, path, warehouse.Engine{}, set, findings); err != nil {
			t.Fatal(err)
		}
	}
	wh := open(t, path)
	got, err := wh.Figures(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(got.Sources, set.Sources) || !slices.Equal(got.Totals, set.Totals) {
		t.Error("sources or totals differ")
	}
	if !slices.EqualFunc(got.Figures, set.Figures, equalFigures) {
		t.Error("figures differ")
	}
	back, err := wh.Findings(ctx)
	if err != nil || !slices.Equal(back, findings) {
		t.Errorf("findings: %v, %v", back, err)
	}
}

// equalFigures compares every field.
func equalFigures(a, b result.Figure) bool {
	if !same(a.X, b.X) || !same(a.Value, b.Value) || !same(a.Low, b.Low) || !same(a.High, b.High) || !same(a.StdError, b.StdError) || !same(a.Exposure, b.Exposure) ||
		!sameCount(a.Persons, b.Persons) || !sameCount(a.Episodes, b.Episodes) || !sameCount(a.Events, b.Events) || !sameCount(a.Missing, b.Missing) ||
		!slices.Equal(a.Warnings, b.Warnings) || !a.PeriodFrom.Equal(b.PeriodFrom) || !a.PeriodTo.Equal(b.PeriodTo) {
		return false
	}
	return a.ID == b.ID && a.Question == b.Question && a.Measure == b.Measure && a.InjuryType == b.InjuryType && a.Site == b.Site && a.Cohort == b.Cohort &&
		a.Stratum == b.Stratum && a.XUnit == b.XUnit && a.Statistic == b.Statistic && a.Level == b.Level && a.ExposureUnit == b.ExposureUnit && a.Unit == b.Unit &&
		a.Method == b.Method && a.MethodVersion == b.MethodVersion && a.Status == b.Status && a.Reason == b.Reason && a.AsOfBatch == b.AsOfBatch && a.InputsHash == b.InputsHash
}

func sameCount(a, b *int) bool { return (a == nil) == (b == nil) && (a == nil || *a == *b) }

func open(t *testing.T, path string) *warehouse.Warehouse {
	t.Helper()
	wh, err := warehouse.Open(context.Background(), path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := wh.Close(); err != nil {
			t.Error(err)
		}
	})
	return wh
}

func input(practice *settings.Practice) returning.Input {
	return returning.Input{
		Month: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Rules: practice.Return,
		InjuryTypes: []string{"calf_strain", "hamstring_strain"}, Sites: []string{"north", "south"}, Batch: 3,
	}
}

func analyse(t *testing.T, path string, practice *settings.Practice, where string) result.Set {
	t.Helper()
	ctx := context.Background()
	wh, err := warehouse.Open(ctx, path, warehouse.Engine{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { // the figures are written into the file next
		if err := wh.Close(); err != nil {
			t.Error(err)
		}
	}()
	in := input(practice)
	if in.Episodes, err = wh.ReturnEpisodes(ctx, where); err != nil {
		t.Fatal(err)
	}
	if in.Gaps, err = wh.ContactGaps(ctx, where); err != nil {
		t.Fatal(err)
	}
	set, err := returning.Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	return set
}
