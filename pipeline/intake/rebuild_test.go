package intake

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
)

// TestRebuildFromTheArchive makes a store anew whose nights had everything: files
// in several forms, corrections, quarantine, a file that was refused, layouts that
// changed, a file read again and a delivery held back and then accepted. The file
// with names is looked at a second time when the layouts of its sender change.
func TestRebuildFromTheArchive(t *testing.T) {
	t.Parallel()
	f := completePractice(t)
	f.write("inbox/north/names.csv", namesSession)
	f.write("inbox/south/1_delivery.csv", "site,complete_to\nsouth,2026-01-04\n")
	f.write("inbox/south/2_bouts.csv", "session_id,bout_no,exercise\no1,1,knee_extension\no1,1,hop\no1,2,bridge\n")
	f.write("inbox/north/sessions2.csv", visits("s1 s9"))
	if _, stop := f.night(6); stop == nil {
		t.Fatal("nothing was held back")
	}
	f.write("layouts/north.toml", strings.Replace(northLayout, `"Y" = "attended"`, `"Y" = "cancelled"`, 1))
	f.write("inbox/south/3_bouts.csv", "session_id,bout_no,exercise,row_state\no1,1,heel_raise_seated,\no1,2,,withdrawn\n")
	f.night(7)
	var also []warehouse.Planned
	f.landing(func(l *warehouse.Landing) (err error) {
		if also, err = ReadAgain(t.Context(), f.dir, l, "inbox/north/sessions1.csv"); err != nil {
			return err
		}
		meant, err := Accept(t.Context(), l, "inbox/north/sessions2.csv")
		also = append(also, meant)
		return err
	})
	if _, stop := f.night(8, also...); stop != nil {
		t.Fatal(stop)
	}
	if err := os.Remove(filepath.Join(f.dir, "layouts/north.toml")); err != nil {
		t.Fatal(err)
	}
	f.night(9)

	disk := f.snapshot()
	engine := warehouse.Engine{Threads: 1, MemoryMB: 256}
	rebuilt := func() []warehouse.Difference {
		t.Helper()
		path := filepath.Join(t.TempDir(), "anew.duckdb")
		l, err := warehouse.OpenLanding(t.Context(), path, engine)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Rebuild(t.Context(), Input{Dir: f.dir, Landing: l, Program: "another"}); err != nil {
			t.Fatal(err)
		}
		shut(t, l)
		now, err := warehouse.ContentByTable(t.Context(), path, engine)
		if err != nil {
			t.Fatal(err)
		}
		was, err := warehouse.ContentByTable(t.Context(), filepath.Join(f.dir, "landing.duckdb"), engine)
		if err != nil {
			t.Fatal(err)
		}
		if rows := rowsIn(was, "main.files"); rows != 11 {
			t.Errorf("%d files, want 11", rows)
		}
		return warehouse.Differences(warehouse.TakenIn(now), warehouse.TakenIn(was))
	}
	if differs := rebuilt(); len(differs) > 0 {
		t.Errorf("these tables differ: %+v", differs)
	}
	for path, text := range f.snapshot() {
		if before, ok := disk[path]; !ok || string(before) != string(text) {
			t.Errorf("the rebuild changed %s", path)
		}
	}

	// A store that differs is told from one that does not.
	index := filepath.Join(f.dir, "archive", indexFile)
	text, err := os.ReadFile(index) //nolint:gosec // a file of the test
	if err != nil {
		t.Fatal(err)
	}
	f.write("archive/"+indexFile, strings.Replace(string(text), `"mode":"again"`, `"mode":"meant"`, 1))
	differs := rebuilt()
	names := ""
	for _, d := range differs {
		names += d.Table + " "
	}
	if !strings.Contains(names, "main.batch_plan") || !strings.Contains(names, "main.files") || strings.Contains(names, "main.bouts") {
		t.Errorf("these tables differ: %s", names)
	}
}

func rowsIn(tables []warehouse.TableContent, name string) int {
	for _, t := range tables {
		if t.Table == name {
			return t.Rows
		}
	}
	return -1
}

func TestRebuildNeedsAWholeIndex(t *testing.T) {
	t.Parallel()
	f := newFolder(t)
	f.write("inbox/north/a.csv", oneSession)
	f.night(5)
	whole := string(f.snapshot()["archive/"+indexFile])
	for name, text := range map[string]string{
		"put the archive back": strings.Replace(whole, `"batch":1`, `"batch":2`, 1),
		"line 2 of archive":    whole[:len(whole)-10],
		"put it back from":     strings.ReplaceAll(whole, `"sha256":"`, `"sha256":"0`),
	} {
		f.write("archive/"+indexFile, text)
		l, err := warehouse.OpenLanding(t.Context(), filepath.Join(t.TempDir(), "anew.duckdb"), warehouse.Engine{Threads: 1, MemoryMB: 256})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Rebuild(t.Context(), Input{Dir: f.dir, Landing: l}); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("got %v, want %q", err, name)
		}
		shut(t, l)
	}
}
