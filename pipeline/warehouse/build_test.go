package warehouse

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/pipeline/settings"
)

// smallLanding writes a landing store of a few hundred rows in three batches.
func smallLanding(t *testing.T, dir string) (path string, practice *settings.Practice) {
	t.Helper()
	path = filepath.Join(dir, "landing.duckdb")
	landMade(t, path, 7, 40)
	var err error
	practice, err = settings.Parse([]byte(testSettings), "practice.toml")
	if err != nil {
		t.Fatal(err)
	}
	return path, practice
}

func TestBuild(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	hashes := map[string]bool{}
	for _, threads := range []int{1, 2, 4} {
		out := filepath.Join(dir, "next.duckdb")
		in := BuildInput{Landing: landing, Out: out, Batch: 3, Settings: practice, Engine: Engine{Threads: threads}}
		if err := Build(ctx, in); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(out)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o600 {
			t.Errorf("mode is %v", info.Mode())
		}
		hash, err := ContentHash(ctx, out, Engine{Threads: threads})
		if err != nil {
			t.Fatal(err)
		}
		hashes[hash] = true
	}
	if len(hashes) != 1 {
		t.Errorf("builds with 1, 2 and 4 threads have %d contents", len(hashes))
	}
	current := filepath.Join(dir, "warehouse.duckdb")
	if err := Swap(filepath.Join(dir, "next.duckdb"), current); err != nil {
		t.Fatal(err)
	}
	wh := openTest(t, current)
	episodes, err := wh.ReturnEpisodes(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	if len(episodes) < 30 {
		t.Errorf("%d episodes", len(episodes))
	}
	var comment string
	if err := wh.db.QueryRowContext(ctx, "select comment from duckdb_columns() where schema_name = 'published' and table_name = 'return_episodes' and column_name = 'return_day'").Scan(&comment); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(comment, "first day at the target") {
		t.Errorf("comment of return_day is %q", comment)
	}
}

func TestBuildOfAnEarlierBatchSeesNothingLater(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	out := filepath.Join(dir, "next.duckdb")
	if err := Build(ctx, BuildInput{Landing: landing, Out: out, Batch: 1, Settings: practice}); err != nil {
		t.Fatal(err)
	}
	wh := openTest(t, out)
	var last int
	if err := wh.db.QueryRowContext(ctx, "select max(batch) from clean.files").Scan(&last); err != nil {
		t.Fatal(err)
	}
	if last != 1 {
		t.Errorf("a file of batch %d is in", last)
	}
}

func TestBuildRefusesABatchThatIsNotThere(t *testing.T) {
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	err := Build(context.Background(), BuildInput{Landing: landing, Out: filepath.Join(dir, "next.duckdb"), Batch: 9, Settings: practice})
	if err == nil || !strings.Contains(err.Error(), "no batch 9") {
		t.Errorf("got %v", err)
	}
}

func openTest(t *testing.T, path string) *Warehouse {
	t.Helper()
	wh, err := Open(context.Background(), path, Engine{})
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
