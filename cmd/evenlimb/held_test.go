package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/cmd/internal/sameness"
)

// TestTooManyGoneStopsTheNight sends a complete delivery that holds five rows of
// many, and says afterwards that it is meant.
func TestTooManyGoneStopsTheNight(t *testing.T) {
	dir := practiceFolder(t)
	whole, err := filepath.Glob(filepath.Join(dir, "inbox", "eastern", "saltmarsh_*_episodes.csv"))
	if err != nil || len(whole) == 0 {
		t.Fatalf("no complete deliveries: %v", err)
	}
	text, err := os.ReadFile(whole[len(whole)-1])
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	if len(lines) < 20 {
		t.Fatalf("the delivery has %d lines", len(lines))
	}
	const name = "inbox/eastern/saltmarsh_2026-02-01_episodes.csv"
	if err := os.WriteFile(filepath.Join(dir, name), []byte(strings.Join(lines[:6], "")), 0o600); err != nil { //nolint:gosec // a folder of the test
		t.Fatal(err)
	}
	received := fieldOf(t, runProgram(t, "status", "--practice", dir).stdout, "received on ", ".")
	results := func() map[string]string {
		t.Helper()
		tree, err := sameness.Tree(filepath.Join(dir, "reports"))
		if err != nil {
			t.Fatal(err)
		}
		store, err := os.ReadFile(filepath.Join(dir, "warehouse.duckdb")) //nolint:gosec // a file of the test
		if err != nil {
			t.Fatal(err)
		}
		tree["warehouse"] = string(store)
		return tree
	}
	before := results()
	run := func(want exit, says string, args ...string) {
		t.Helper()
		r := inProcess(t, received, append(args, "--practice", dir, "--quiet")...)
		ok := r.code == int(want) || (want == exitDone && r.code == int(exitAttention))
		if !ok || !strings.Contains(r.stdout+r.stderr, says) {
			t.Fatalf("%v ended with %d: %s%s", args, r.code, r.stdout, r.stderr)
		}
	}
	run(exitStopped, "--accept "+name, "nightly")
	run(exitStopped, "rows of episodes", "nightly") // it is not forgotten
	if changed := sameness.Diff(before, results()); len(changed) > 0 {
		t.Errorf("a stopped night changed %v", changed)
	}
	if status := runProgram(t, "status", "--practice", dir).stdout; !strings.Contains(status, "Held back") {
		t.Errorf("status does not name it:\n%s", status)
	}
	run(exitUsage, "held back", "intake", "--accept", "inbox/eastern/other.csv")
	run(exitUsage, "--again", "intake", "--again", "")
	run(exitDone, "no longer hold", "intake", "--accept", name)
	if status := runProgram(t, "status", "--practice", dir).stdout; strings.Contains(status, "Held back") {
		t.Errorf("status still names it:\n%s", status)
	}
}
