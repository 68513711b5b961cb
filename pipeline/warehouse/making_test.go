package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/queries"
)

// TestReadsWaitForTheirTables asks a warehouse for all that it publishes while it
// is built, from several places at once, and gets what stands in the end.
func TestReadsWaitForTheirTables(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	out := filepath.Join(dir, "next.duckdb")
	m, err := Make(ctx, BuildInput{Landing: landing, Out: out, Batch: 3, Settings: practice, Engine: Engine{Threads: 2}})
	if err != nil {
		t.Fatal(err)
	}
	made, err := queries.All()
	if err != nil {
		t.Fatal(err)
	}
	early := make(map[string]int)
	var mu sync.Mutex
	var readers sync.WaitGroup
	for _, q := range made {
		if q.View || q.Schema == "landing" {
			continue
		}
		readers.Go(func() {
			rows, err := countRows(ctx, m.Warehouse, q.Table())
			if err != nil {
				t.Error(err)
			}
			mu.Lock()
			defer mu.Unlock()
			early[q.Table()] = rows
		})
	}
	readers.Wait()
	set := result.Set{Totals: []result.Total{{Whole: "a", Part: "b"}}}
	if err := m.Finish(ctx, set, []Finding{{Check: "c", Severity: "note", Subject: "s", Text: "t", Fingerprint: "f"}}); err != nil {
		t.Fatal(err)
	}
	wh := openTest(t, out)
	for table, rows := range early {
		if now, err := countRows(ctx, wh, table); err != nil || now != rows {
			t.Errorf("%s: %d rows while it was built, %d afterwards, %v", table, rows, now, err)
		}
	}
	if early["published.return_episodes"] < 30 {
		t.Errorf("%d episodes", early["published.return_episodes"])
	}
	if figures, err := wh.Figures(ctx); err != nil || len(figures.Totals) != 1 {
		t.Errorf("%v, %v", figures, err)
	}
	if findings, err := wh.Findings(ctx); err != nil || len(findings) != 1 {
		t.Errorf("%v, %v", findings, err)
	}
	if _, err := os.Stat(out + ".wal"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a log stands beside the file: %v", err)
	}
}

func countRows(ctx context.Context, w *Warehouse, table string) (int, error) {
	counts, err := collect(ctx, w.db, func(rows *sql.Rows, n *int) error { return rows.Scan(n) }, "select count(*) from "+table)
	if err != nil {
		return 0, err
	}
	return counts[0], nil
}

// TestABuildThatFailsIsSaidByItsReaders breaks the work: who waits for what is
// never made learns why, and so does who gives up because of that.
func TestABuildThatFailsIsSaidByItsReaders(t *testing.T) {
	ctx := context.Background()
	db, err := openUnlogged(ctx, filepath.Join(t.TempDir(), "broken.duckdb"), Engine{Threads: 2})
	if err != nil {
		t.Fatal(err)
	}
	w := newWork([]queries.Query{
		{File: "clean/sound.sql", Schema: "clean", Name: "sound", Grain: "one row", Key: []string{"x"}, SQL: "select 1 as x"},
		{File: "clean/broken.sql", Schema: "clean", Name: "broken", Reads: []string{"clean.sound"}, SQL: "select y from clean.sound"},
		{File: "derived/late.sql", Schema: "derived", Name: "late", Reads: []string{"clean.broken"}, SQL: "select y from clean.broken"},
	}, builder{}, nil)
	if _, err := db.ExecContext(ctx, "create schema clean"); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(ctx)
	m := &Making{Warehouse: &Warehouse{db: tables{DB: db, work: w}}, stop: stop}
	m.running.Go(func() { m.failed = building(w.do(ctx, db, 2)) })
	if n, err := countRows(ctx, m.Warehouse, "clean.sound"); n != 1 || err != nil {
		t.Errorf("%d rows, %v", n, err)
	}
	_, err = countRows(ctx, m.Warehouse, "derived.late")
	if err == nil || !strings.Contains(err.Error(), "build the warehouse: queries/clean/broken.sql") {
		t.Errorf("the reader learns %v", err)
	}
	err = m.GiveUp(errors.New("some analysis failed"))
	if err == nil || !strings.Contains(err.Error(), "queries/clean/broken.sql") || strings.Contains(err.Error(), "some analysis") {
		t.Errorf("who gives up learns %v", err)
	}
}

// TestGivingUpEndsABuild stops one at its beginning for a reason of its reader's.
func TestGivingUpEndsABuild(t *testing.T) {
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	m, err := Make(context.Background(), BuildInput{Landing: landing, Out: filepath.Join(dir, "next.duckdb"), Batch: 3, Settings: practice})
	if err != nil {
		t.Fatal(err)
	}
	reason := errors.New("an analysis failed")
	if err := m.GiveUp(reason); !errors.Is(err, reason) {
		t.Errorf("got %v", err)
	}
}

// TestWhatAReaderWaitsForComesFirst holds the order in which work is begun.
func TestWhatAReaderWaitsForComesFirst(t *testing.T) {
	w := newWork([]queries.Query{
		{Schema: "clean", Name: "a"},
		{Schema: "clean", Name: "b"},
		{Schema: "derived", Name: "of_a", Reads: []string{"clean.a"}},
		{Schema: "derived", Name: "of_b", Reads: []string{"clean.b", "seeds.codes"}},
		{Schema: "published", Name: "last", Reads: []string{"derived.of_a"}},
	}, builder{}, nil)
	order := func() string {
		var names []string
		for _, t := range w.todo {
			if !t.proof {
				names = append(names, t.query.Name)
			}
		}
		return strings.Join(names, " ")
	}
	if got := order(); got != "a b of_a of_b last" {
		t.Errorf("by urgency: %s", got)
	}
	w.hasten("derived.of_b")
	if got := order(); got != "b of_b a of_a last" {
		t.Errorf("while somebody waits: %s", got)
	}
}
