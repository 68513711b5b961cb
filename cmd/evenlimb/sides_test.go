package main

import (
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

// TestSidesAreWrittenOnRequestAndNoted uses the command as its reader would.
func TestSidesAreWrittenOnRequestAndNoted(t *testing.T) {
	dir := practiceFolder(t)
	if r := runProgram(t, "sides", "--site", "nowhere", "--practice", dir); r.code != 64 {
		t.Errorf("an unknown site ended with %d: %s", r.code, r.stderr)
	}
	if r := runProgram(t, "sides", "--episode", "nobody", "--practice", dir); r.code != 64 {
		t.Errorf("an unknown course of care ended with %d: %s", r.code, r.stderr)
	}
	if _, err := os.Stat(filepath.Join(dir, "person_level")); !os.IsNotExist(err) {
		t.Errorf("person_level was written for nobody: %v", err)
	}
	r := runProgram(t, "sides", "--practice", dir, "--json")
	var answer struct {
		Batch   int
		Folder  string
		Written []struct {
			Site, File string
			Rows       int
		}
	}
	if err := json.Unmarshal([]byte(r.stdout), &answer); err != nil || r.code != 0 || len(answer.Written) == 0 {
		t.Fatalf("ended with %d: %v %s%s", r.code, err, r.stdout, r.stderr)
	}
	if rel, err := filepath.Rel(filepath.Join(dir, "person_level"), answer.Folder); err != nil || !filepath.IsLocal(rel) {
		t.Errorf("written to %s, outside person_level", answer.Folder)
	}
	db, err := sql.Open("duckdb", filepath.Join(dir, "landing.duckdb")+"?access_mode=READ_ONLY")
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}()
	for _, w := range answer.Written {
		info, err := os.Stat(w.File)
		if err != nil || info.Mode().Perm() != 0o600 || w.Rows == 0 {
			t.Errorf("%s: %v, %d rows", w.File, err, w.Rows)
		}
		var noted int
		row := db.QueryRowContext(t.Context(), "select row_count from trace_log where figure_id = ? and batch = ? and folder = ?", "sides."+w.Site, answer.Batch, w.File)
		if err := row.Scan(&noted); err != nil || noted != w.Rows {
			t.Errorf("%s: the ledger notes %d rows, %v; %d were written", w.Site, noted, err, w.Rows)
		}
	}
}
