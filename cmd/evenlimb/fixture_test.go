package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// built is the built program: `go run` would turn every exit code into 1.
var built string

// scratch holds the program and the practice that the tests share.
var scratch string

func TestMain(m *testing.M) {
	os.Exit(testMain(m))
}

func testMain(m *testing.M) int {
	var err error
	if scratch, err = os.MkdirTemp("", "evenlimb-test-"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer func() { _ = os.RemoveAll(scratch) }() // a leftover in the temporary folder harms nobody
	built = filepath.Join(scratch, "evenlimb")
	if out, err := exec.CommandContext(context.Background(), "go", "build", "-o", built, ".").CombinedOutput(); err != nil { //nolint:gosec // builds this package
		fmt.Fprintf(os.Stderr, "build the program: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// ran is how a run of the built program ended.
type ran struct {
	code           int
	stdout, stderr string
}

func runProgram(t *testing.T, args ...string) ran {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), built, args...) //nolint:gosec // the program under test
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatalf("run the program: %v", err)
	}
	return ran{cmd.ProcessState.ExitCode(), stdout.String(), stderr.String()}
}

// small is the made-up practice of 300 people that the tests share, made once
// by the built program. Tests that change it take a copy.
var small = sync.OnceValues(func() (string, error) {
	dir := filepath.Join(scratch, "small")
	out, err := exec.CommandContext(context.Background(), built, "demo", dir, "--episodes", "300", "--quiet").CombinedOutput() //nolint:gosec // the program under test
	if err != nil {
		return "", fmt.Errorf("demo: %w\n%s", err, out)
	}
	return dir, nil
})

// practiceFolder returns a copy of the shared practice.
func practiceFolder(t *testing.T) string {
	t.Helper()
	dir, err := small()
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "practice")
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	return to
}

// inProcess runs a command on a day of the test's choosing.
func inProcess(t *testing.T, day string, args ...string) ran {
	t.Helper()
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	code := run(context.Background(), args, &stdout, &stderr, func() time.Time { return at.Add(demoStart) })
	return ran{code, stdout.String(), stderr.String()}
}

// publishedMonth is the newest month that the practice has published.
func publishedMonth(t *testing.T, dir string) time.Time {
	t.Helper()
	reports, err := filepath.Glob(filepath.Join(dir, "reports", "2*"))
	if err != nil || len(reports) == 0 {
		t.Fatalf("no reports: %v", err)
	}
	month, err := parseMonth(filepath.Base(reports[len(reports)-1]))
	if err != nil {
		t.Fatal(err)
	}
	return month
}
