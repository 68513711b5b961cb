package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"evenlimb/pipeline/nightly"
)

const minimal = `[practice]
name = "Test practice"
code = "test"
made_up = true

[[sites]]
code = "north"
label = "North"
senders = ["north"]

[intake]
settle_seconds = 0
`

// newPractice makes a practice folder with the settings and files given.
func newPractice(t *testing.T, settings string, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, "inbox", filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "practice.toml"), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

const oneEpisode = "episode_id,site,injury_type,side,start_date\ne1,north,calf_strain,left,2025-01-06\n"

// TestExitCodes holds the built program to its table of exit codes, and every
// failure to a sentence without a stack trace.
func TestExitCodes(t *testing.T) {
	good := newPractice(t, minimal, map[string]string{"north/episodes.csv": oneEpisode})
	for _, c := range []struct {
		name string
		args []string
		code exit
		says string
	}{
		{"a version", []string{"version"}, exitDone, "evenlimb "},
		{"help", []string{"help"}, exitDone, "Exit codes:"},
		{"help of a command", []string{"trace", "--help"}, exitDone, "--persons"},
		{"no such command", []string{"nightle"}, exitUsage, "nightly"},
		{"no such flag", []string{"nightly", "--fast"}, exitUsage, "--help"},
		{"an argument missing", []string{"demo"}, exitUsage, "one argument"},
		{"a folder that holds something", []string{"demo", good}, exitUsage, "holds something already"},
		{"no folder", []string{"nightly", "--practice", filepath.Join(good, "none")}, exitPractice, "evenlimb new"},
		{"no settings", []string{"nightly", "--practice", t.TempDir()}, exitPractice, "practice.toml"},
		{"a key misspelt", []string{"nightly", "--practice", newPractice(t, strings.Replace(minimal, "made_up", "mad_up", 1), nil)}, exitPractice, "practice.toml:4"},
		{"nothing taken in yet", []string{"monthly", "--practice", newPractice(t, minimal, nil)}, exitUsage, "evenlimb nightly"},
		{"a night that finds a silent site", []string{"nightly", "--practice", good}, exitAttention, "nothing received yet"},
		{"the night again", []string{"nightly", "--practice", good}, exitDone, "Nothing new"},
		{"intake alone after it", []string{"intake", "--practice", good}, exitDone, "Nothing new"},
		{"an empty month", []string{"monthly", "--practice", good, "--month", "2024-02"}, exitDone, "Published"},
		{"a month published before", []string{"monthly", "--practice", good, "--month", "2024-02"}, exitDone, "--again"},
		{"no such month", []string{"monthly", "--practice", good, "--month", "2025-13"}, exitUsage, "2026-03"},
		{"a month to come", []string{"monthly", "--practice", good, "--month", "2199-01"}, exitUsage, "has not begun"},
		{"no such batch", []string{"monthly", "--practice", good, "--as-of", "batch:9", "--out", filepath.Join(good, "..", "x")}, exitUsage, "batch:"},
		{"no such figure", []string{"trace", "return.calf_stain.24m/share@w12", "--practice", good}, exitUsage, "figures.csv"},
		{"a row that cannot be", []string{"nightly", "--practice", newPractice(t, minimal, map[string]string{
			"north/e.csv": oneEpisode + "e2,north,calf_strain,left,2025-02-30\n",
		})}, exitAttention, "quarantine"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := runProgram(t, c.args...)
			if r.code != int(c.code) {
				t.Errorf("ended with %d, want %d:\n%s%s", r.code, c.code, r.stdout, r.stderr)
			}
			if all := r.stdout + r.stderr; !strings.Contains(all, c.says) || strings.Contains(all, "goroutine") {
				t.Errorf("wanted %q and no stack trace in:\n%s", c.says, all)
			}
		})
	}
}

func TestABusyFolder(t *testing.T) {
	dir := newPractice(t, minimal, nil)
	lock, err := nightly.Hold(dir)
	if err != nil {
		t.Fatal(err)
	}
	r := runProgram(t, "nightly", "--practice", dir)
	if err := lock.Release(); err != nil {
		t.Fatal(err)
	}
	if r.code != int(exitBusy) || !strings.Contains(r.stderr, "another run holds") {
		t.Errorf("ended with %d: %s", r.code, r.stderr)
	}
}

func TestAStoreThatCannotBeRead(t *testing.T) {
	dir := newPractice(t, minimal, nil)
	if err := os.WriteFile(filepath.Join(dir, "landing.duckdb"), []byte("this is no database"), 0o600); err != nil {
		t.Fatal(err)
	}
	r := runProgram(t, "nightly", "--practice", dir)
	if r.code != int(exitFailed) || r.stderr == "" || strings.Contains(r.stderr, "goroutine") {
		t.Errorf("ended with %d: %s", r.code, r.stderr)
	}
}

// TestAnInterruptedRun sends a running demo the signal of Ctrl-C.
func TestAnInterruptedRun(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	cmd := exec.CommandContext(t.Context(), built, "demo", dir, "--quiet") //nolint:gosec // the program under test
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for began := time.Now(); time.Since(began) < 20*time.Second; time.Sleep(20 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(dir, "log", "state.json")); err == nil {
			break
		}
	}
	if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != int(exitInterrupted) || !strings.Contains(stderr.String(), "Nothing is lost") {
		t.Errorf("ended with %v: %s", err, stderr.String())
	}
}

// TestExitOfErrors holds each kind of error to its code, those too that no
// command gives yet.
func TestExitOfErrors(t *testing.T) {
	for _, c := range []struct {
		err  error
		want exit
	}{
		{nil, exitDone},
		{errors.New("anything"), exitFailed},
		{fmt.Errorf("taking in files: %w", &nightly.StoppedError{Reason: "too many rows are gone"}), exitStopped},
		{fmt.Errorf("wrapped: %w", nightly.ErrBusy), exitBusy},
		{&usageError{"no"}, exitUsage},
		{&practiceError{errors.New("no")}, exitPractice},
	} {
		if got := exitOf(c.err); got != c.want {
			t.Errorf("%v gives %d, want %d", c.err, got, c.want)
		}
	}
	if exitOfRun(true, nil) != exitAttention || exitOfRun(true, errors.New("x")) != exitFailed {
		t.Error("attention counts only in a run that did not fail")
	}
}
