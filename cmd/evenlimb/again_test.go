package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evenlimb/cmd/internal/sameness"
)

// TestReportsComeBackByteForByte deletes warehouse and reports, kills the nights
// that make them again at one moment after another, and lets the next finish in
// another folder, zone, locale and number of threads, none of which may matter.
// The contributors' check tries each apart, at the default size.
func TestReportsComeBackByteForByte(t *testing.T) {
	dir := practiceFolder(t)
	want, err := sameness.Tree(filepath.Join(dir, "reports"))
	if err != nil {
		t.Fatal(err)
	}
	if err := sameness.Forget(dir); err != nil {
		t.Fatal(err)
	}
	for _, wait := range []time.Duration{150 * time.Millisecond, 600 * time.Millisecond, 1500 * time.Millisecond} {
		cmd := exec.CommandContext(t.Context(), built, "nightly", "--practice", dir, "--quiet") //nolint:gosec // the program under test
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(wait)
		_ = cmd.Process.Kill() // it may have ended already
		_ = cmd.Wait()         // killed, so it says so
	}
	dir, err = sameness.Night(t.Context(), built, dir, sameness.Surrounding{
		Threads: 4, Folder: "elsewhere with a blank", Env: []string{"TZ=Pacific/Chatham", "LC_ALL=tr_TR.UTF-8", "GOMAXPROCS=1"},
	})
	if err != nil {
		t.Fatal(err)
	}
	got, err := sameness.Tree(filepath.Join(dir, "reports"))
	if err != nil {
		t.Fatal(err)
	}
	if changed := sameness.Diff(want, got); len(changed) > 0 {
		t.Errorf("after the killed nights these files differ: %v", changed)
	}
	left, err := filepath.Glob(filepath.Join(dir, ".as-of-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

// TestAnEarlierBatchStaysWhatItWas takes a later file in on the same day and
// makes the last report again as of the batch before it.
func TestAnEarlierBatchStaysWhatItWas(t *testing.T) {
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
	batch := fieldOf(t, runProgram(t, "status", "--practice", dir).stdout, "Newest batch ", ",")
	received := fieldOf(t, runProgram(t, "status", "--practice", dir).stdout, "received on ", ".")

	late := "session_id,episode_id,session_date,attendance\nlate-1,nobody,2025-06-30,attended\n"
	if err := os.WriteFile(filepath.Join(dir, "inbox", "harbour", "late.csv"), []byte(late), 0o600); err != nil {
		t.Fatal(err)
	}
	if r := inProcess(t, received, "nightly", "--practice", dir, "--quiet"); r.code != 0 {
		t.Fatalf("nightly ended with %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if now := fieldOf(t, runProgram(t, "status", "--practice", dir).stdout, "Newest batch ", ","); now == batch {
		t.Fatalf("the late file made no batch after %s", batch)
	}
	out := filepath.Join(t.TempDir(), "earlier")
	r := runProgram(t, "monthly", "--practice", dir, "--month", filepath.Base(last), "--as-of", "batch:"+batch, "--out", out)
	if r.code != 0 {
		t.Fatalf("monthly ended with %d: %s%s", r.code, r.stdout, r.stderr)
	}
	got, err := sameness.Tree(out)
	if err != nil {
		t.Fatal(err)
	}
	if changed := sameness.Diff(want, got); len(changed) > 0 {
		t.Errorf("as of batch %s these files differ: %v", batch, changed)
	}
}

// fieldOf cuts what stands between two texts.
func fieldOf(t *testing.T, text, from, to string) string {
	t.Helper()
	_, rest, ok := strings.Cut(text, from)
	value, _, closed := strings.Cut(rest, to)
	if !ok || !closed {
		t.Fatalf("no %q in: %s", from, text)
	}
	return value
}
