package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/cmd/internal/sameness"
)

// TestRebuildBringsALostStoreBack makes the landing store anew from the archive,
// and from it a warehouse that holds what the one before it held.
func TestRebuildBringsALostStoreBack(t *testing.T) {
	dir := practiceFolder(t)
	if err := os.Remove(filepath.Join(dir, "landing.duckdb")); err != nil {
		t.Fatal(err)
	}
	r := runProgram(t, "rebuild", "--from-archive", "--practice", dir, "--quiet")
	if r.code != 0 || !strings.Contains(r.stdout, "There was none before it") || !strings.Contains(r.stdout, "equal to those before") {
		t.Errorf("a lost store: %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if left, err := filepath.Glob(filepath.Join(dir, "*from-archive*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

// TestRebuildListsDifferences takes the last file out of the archive's index: a
// store that is not equal is not put in place of the one that stands.
func TestRebuildListsDifferences(t *testing.T) {
	dir := practiceFolder(t)
	index := filepath.Join(dir, "archive", "index.ndjson")
	text, err := os.ReadFile(index) //nolint:gosec // a file of the test
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	if err := os.WriteFile(index, bytes.Join(lines[:len(lines)-2], nil), 0o600); err != nil { //nolint:gosec // a folder of the test
		t.Fatal(err)
	}
	r := runProgram(t, "rebuild", "--from-archive", "--practice", dir, "--quiet")
	if r.code != 3 || !strings.Contains(r.stdout, "main.files: ") || strings.Contains(r.stdout, "main.settings_versions: ") {
		t.Errorf("ended with %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if _, err := os.Stat(filepath.Join(dir, "landing.from-archive.duckdb")); err != nil {
		t.Error("the other store was not kept for comparison")
	}
	if !strings.Contains(r.stdout, "warehouse.duckdb was made anew") || !strings.Contains(r.stdout, "equal to those before") {
		t.Errorf("the warehouse is not that of the store that stands: %s", r.stdout)
	}
}

// TestReadAgainLeavesEarlierResults corrects a layout after the last report and
// reads a sender's files again: what changes was received today.
func TestReadAgainLeavesEarlierResults(t *testing.T) {
	dir := practiceFolder(t)
	reports, err := filepath.Glob(filepath.Join(dir, "reports", "2*"))
	if err != nil || len(reports) < 2 {
		t.Fatalf("reports %v: %v", reports, err)
	}
	last := reports[len(reports)-1]
	want, err := sameness.Tree(last)
	if err != nil {
		t.Fatal(err)
	}
	status := runProgram(t, "status", "--practice", dir).stdout
	batch, received := fieldOf(t, status, "Newest batch ", ","), fieldOf(t, status, "received on ", ".")
	for _, name := range []string{"layouts/millrace.toml", "layouts/millrace_later.toml"} {
		path := filepath.Join(dir, name)
		text, err := os.ReadFile(path) //nolint:gosec // a file of the test
		if err != nil {
			t.Fatal(err)
		}
		changed := strings.Replace(string(text), `"not here" = "missed"`, `"not here" = "cancelled"`, 1)
		if changed == string(text) {
			t.Fatalf("%s has no such code", name)
		}
		if err := os.WriteFile(path, []byte(changed), 0o600); err != nil { //nolint:gosec // a folder of the test
			t.Fatal(err)
		}
	}
	r := inProcess(t, received, "intake", "--again", "millrace", "--practice", dir, "--quiet", "--json")
	if r.code != 0 && r.code != 3 {
		t.Fatalf("intake ended with %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if text := runProgram(t, "status", "--practice", dir).stdout; !strings.Contains(text, "; read again") {
		t.Errorf("status does not say that files were read again:\n%s", text)
	}
	asOf := func(batch string) map[string]string {
		t.Helper()
		out := filepath.Join(t.TempDir(), "report")
		r := runProgram(t, "monthly", "--practice", dir, "--month", filepath.Base(last), "--as-of", "batch:"+batch, "--out", out)
		if r.code != 0 {
			t.Fatalf("monthly ended with %d: %s%s", r.code, r.stdout, r.stderr)
		}
		got, err := sameness.Tree(out)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if changed := sameness.Diff(want, asOf(batch)); len(changed) > 0 {
		t.Errorf("as of batch %s these files differ: %v", batch, changed)
	}
	today := fieldOf(t, runProgram(t, "status", "--practice", dir).stdout, "Newest batch ", ",")
	if changed := sameness.Diff(want, asOf(today)); len(changed) == 0 {
		t.Errorf("as of batch %s nothing differs: the layout changed nothing", today)
	}
}
