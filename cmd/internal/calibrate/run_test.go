package calibrate

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// tiny is a condition that runs in an instant.
func tiny() Condition {
	c := Conditions[0]
	c.Scenario.Episodes, c.Replicates = 10, 2*ChunkSeeds
	return c
}

func options(dir string, workers int, analyses ...string) Options {
	return Options{Dir: dir, Conditions: []Condition{tiny()}, Analyses: analyses, Workers: workers, Commit: "abc", Now: time.Now}
}

// A run that is interrupted goes on where it was, another analysis joins what is
// there, and the files are the same bytes for any number of workers.
func TestRunsGoOnAndGiveTheSameFiles(t *testing.T) {
	whole, parts := t.TempDir(), t.TempDir()
	o := options(whole, 1, "return", "safety")
	if err := Run(t.Context(), o); err != nil {
		t.Fatal(err)
	}

	ctx, stop := context.WithCancel(t.Context())
	o = options(parts, 3, "return")
	o.Progress = func(string) { stop() } // after the first chunk
	if err := Run(ctx, o); !errors.Is(err, context.Canceled) {
		t.Fatalf("an interrupted run gives %v", err)
	}
	second := chunkPath(parts, tiny().Name, ChunkSeeds+1, 2*ChunkSeeds)
	if _, err := os.Stat(second); err == nil {
		t.Fatal("the interrupted run wrote its second chunk")
	}
	for _, analyses := range [][]string{{"return"}, {"safety", "return"}} {
		var lines []string
		o = options(parts, 3, analyses...)
		o.Progress = func(line string) { lines = append(lines, line) }
		if err := Run(t.Context(), o); err != nil {
			t.Fatal(err)
		}
		if len(lines) != len(analyses) || !strings.Contains(lines[0], " left") {
			t.Errorf("%q: progress %q", analyses, lines) // one chunk was there; then both lack an analysis
		}
	}
	for _, first := range []int{1, ChunkSeeds + 1} {
		a, b := contents(t, chunkPath(whole, tiny().Name, first, first+ChunkSeeds-1)), contents(t, chunkPath(parts, tiny().Name, first, first+ChunkSeeds-1))
		if a != b || strings.Count(a, "\n") < 5*ChunkSeeds {
			t.Errorf("chunk from %d: %d bytes in one run, %d in parts", first, len(a), len(b))
		}
	}
	results, made, err := Results(parts, tiny())
	if err != nil || len(results["events"]) != 2*ChunkSeeds || len(made) != 4 {
		t.Errorf("%d outcomes, made by %v, %v", len(results["events"]), made, err)
	}
}

func contents(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path) //nolint:gosec // a file that the test wrote
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Results of another program are not mixed with today's, and a damaged file is
// named.
func TestResultsOfAnotherProgramAreRefused(t *testing.T) {
	dir := t.TempDir()
	o := options(dir, 2, "return")
	o.Seeds = ChunkSeeds
	if err := Run(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	path := chunkPath(dir, tiny().Name, 1, ChunkSeeds)
	good := contents(t, path)
	words := strings.Fields(good)
	other := strings.Replace(good, words[2], "0123456789abcdef", 1)
	for name, c := range map[string]struct{ text, says string }{
		"another program":   {other, "another program"},
		"a note cut short":  {strings.Replace(good, " abc ", " ", 1), "delete the file"},
		"a number spoilt":   {good[:len(good)-6] + "x,y,z\n", "delete"},
		"no results at all": {"hello\n", "no results file"},
	} {
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := Run(t.Context(), o); err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), filepath.Base(path)) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A seed that is missing ends what counts: none is passed over.
func TestAMissingChunkEndsTheResults(t *testing.T) {
	dir := t.TempDir()
	if err := Run(t.Context(), options(dir, 2, "return")); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(chunkPath(dir, tiny().Name, 1, ChunkSeeds)); err != nil {
		t.Fatal(err)
	}
	results, _, err := Results(dir, tiny())
	if err != nil || len(results) > 0 {
		t.Errorf("%d figures from seeds that begin at %d, %v", len(results), ChunkSeeds+1, err)
	}
}
