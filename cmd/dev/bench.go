package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// bench compares our speed with that of R in one run, on one thread.
type bench struct {
	name  string
	about string
	run   func(ctx context.Context, r *report) error
}

// benches in the order in which they run.
var benches = slices.Concat(survivalBenches, mixedBenches, arrowBenches, intakeBenches, workbookBenches, memoryBenches, practiceBenches)

// report prints what was measured beside what is required.
type report struct {
	w        io.Writer
	rows     int    // of the files of the intake
	practice string // folder of the large practice; empty: one in passing
	missed   int
}

// ratio prints how many times faster ours is than theirs.
func (r *report) ratio(what string, ours, theirs time.Duration, required float64) {
	got := theirs.Seconds() / ours.Seconds()
	r.line(what, got >= required, fmt.Sprintf("ours %.3f s, R %.3f s: %.1f times faster, at least %g required",
		ours.Seconds(), theirs.Seconds(), got, required))
}

// atMost prints a figure that may not exceed a limit.
func (r *report) atMost(what string, got, limit float64) {
	r.line(what, got <= limit, fmt.Sprintf("%.3g, at most %.3g required", got, limit))
}

func (r *report) line(what string, ok bool, text string) {
	verdict := "ok"
	if !ok {
		verdict = "MISSED"
		r.missed++
	}
	_, _ = fmt.Fprintf(r.w, "%-6s  %-34s  %s\n", verdict, what, text)
}

// runBench runs the named benches, or all, and exits 1 when a requirement is
// missed or R gives other results.
func runBench(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("bench", flag.ContinueOnError)
	flags.SetOutput(stderr)
	rows := flags.Int("rows", 5_000_000, "rows that the intake takes in; fewer are a trial")
	folder := flags.String("practice", "", "`folder` in which the large practice is made, and found again by the next run; without its warehouse.duckdb that is built anew")
	flags.Usage = func() {
		_, _ = fmt.Fprintln(stderr, "usage: go run ./cmd/dev bench [--rows N] [--practice DIR] [NAME...], which needs R but for intake and practice; the names are:")
		for _, b := range benches {
			_, _ = fmt.Fprintf(stderr, "  %-14s %s\n", b.name, b.about)
		}
	}
	if err := flags.Parse(args); err != nil {
		return 64
	}
	for _, name := range flags.Args() {
		if !slices.ContainsFunc(benches, func(b bench) bool { return b.name == name }) {
			_, _ = fmt.Fprintf(stderr, "dev bench: no bench %q\n", name)
			flags.Usage()
			return 64
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	r := &report{w: stdout, rows: *rows, practice: *folder}
	for _, b := range benches {
		if flags.NArg() > 0 && !slices.Contains(flags.Args(), b.name) {
			continue
		}
		if err := b.run(ctx, r); err != nil {
			_, _ = fmt.Fprintf(stderr, "dev bench %s: %v\n", b.name, err)
			return 1
		}
	}
	if r.missed > 0 {
		_, _ = fmt.Fprintf(stderr, "dev bench: %d requirements missed; run it again on a quiet machine before you look for the cause\n", r.missed)
		return 1
	}
	return 0
}

// timed runs work three times and returns the median time.
func timed(work func() error) (time.Duration, error) {
	var times []time.Duration
	for range 3 {
		runtime.GC()
		start := time.Now()
		if err := work(); err != nil {
			return 0, err
		}
		times = append(times, time.Since(start))
	}
	slices.Sort(times)
	return times[1], nil
}

// allocated returns the bytes that work allocates in all, garbage included: no
// less than the memory it needs.
func allocated(work func() error) (float64, error) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	err := work()
	runtime.ReadMemStats(&after)
	return float64(after.TotalAlloc - before.TotalAlloc), err
}

// inR hands columns to an R script, a file of doubles each in a folder whose
// path is the script's argument, and returns what it prints: lines of a name
// and numbers. R runs on one thread.
func inR(ctx context.Context, script string, columns map[string][]float64) (map[string][]float64, error) {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a folder of our own in the temporary one
	for name, col := range columns {
		buf := make([]byte, 0, 8*len(col))
		for _, v := range col {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(v))
		}
		if err := os.WriteFile(filepath.Join(dir, name), buf, 0o600); err != nil {
			return nil, err
		}
	}
	path := filepath.Join(dir, "bench.R")
	if err := os.WriteFile(path, []byte(script), 0o600); err != nil {
		return nil, err
	}
	return runR(ctx, path, dir)
}

// runR runs a script on one thread; it prints lines of a name and numbers.
func runR(ctx context.Context, script string, args ...string) (map[string][]float64, error) {
	var out, messages bytes.Buffer
	cmd := exec.CommandContext(ctx, "Rscript", append([]string{"--vanilla", script}, args...)...)
	cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	cmd.Stdout, cmd.Stderr = &out, &messages
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("run of R: %w: %s; install R with the packages that %s names", err, messages.String(), filepath.Base(script))
	}
	results := map[string][]float64{}
	for line := range strings.Lines(out.String()) {
		fields := strings.Fields(line)
		for _, s := range fields[1:] {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return nil, fmt.Errorf("line %q of R: %w", line, err)
			}
			results[fields[0]] = append(results[fields[0]], v)
		}
	}
	return results, nil
}

// same prints the largest relative difference between two sets of results.
func (r *report) same(name string, ours, theirs []float64, limit float64) error {
	if len(ours) != len(theirs) {
		return fmt.Errorf("%s: %d results, R gave %d", name, len(ours), len(theirs))
	}
	worst := 0.0
	for i, x := range ours {
		worst = math.Max(worst, math.Abs(x-theirs[i])/math.Abs(theirs[i]))
	}
	r.atMost(name+" difference from R", worst, limit)
	return nil
}

func floats(xs []int) []float64 {
	out := make([]float64, len(xs))
	for i, x := range xs {
		out[i] = float64(x)
	}
	return out
}
