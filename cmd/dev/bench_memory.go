package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strconv"
	"time"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
)

var memoryBenches = []bench{
	{"intake-memory", "the memory that taking in one file of 2 GB needs at most", benchMemory},
}

// memoryFactor times the rows of the other benches of the intake is a file of
// 2 GB.
const memoryFactor = 3.4

// benchMemory takes one large file in, with the least memory that the settings
// let the engine have. Linux says how much the program held at most.
func benchMemory(ctx context.Context, r *report) (err error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(intakeThreads))
	rows := int(float64(r.rows) * memoryFactor)
	dir, err := boutsFolder(1, rows)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file, err := os.Stat(filepath.Join(dir, "inbox", "tarn", "bouts000.csv"))
	if err != nil {
		return err
	}
	debug.FreeOSMemory()
	if err := os.WriteFile("/proc/self/clear_refs", []byte("5"), 0); err != nil {
		return fmt.Errorf("begin to watch the memory, which needs Linux: %w", err)
	}
	l, err := warehouse.OpenLanding(ctx, filepath.Join(dir, "landing.duckdb"), warehouse.Engine{Threads: intakeThreads, MemoryMB: 256, TempDir: dir})
	if err != nil {
		return err
	}
	start := time.Now()
	report, err := intake.Run(ctx, intake.Input{Dir: dir, Landing: l, Now: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC), Program: "bench"})
	took := time.Since(start)
	if err := errors.Join(err, l.Close()); err != nil { //nolint:contextcheck // closing writes the log back and must finish
		return err
	}
	if len(report.Files) != 1 || report.Files[0].Counts.Read != rows {
		return fmt.Errorf("taken in as %+v", report.Files)
	}
	held, err := mostMemory()
	if err != nil {
		return err
	}
	r.line(fmt.Sprintf("a file of %d MB, %d rows", file.Size()>>20, rows), true, fmt.Sprintf("taken in in %.0f s", took.Seconds()))
	r.atMost("MiB of memory at most", held, 1024)
	return nil
}

// mostMemory is how many MiB the program held at most since its memory was
// watched.
func mostMemory() (float64, error) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0, err
	}
	for line := range bytes.Lines(status) {
		if fields := bytes.Fields(line); len(fields) == 3 && string(fields[0]) == "VmHWM:" {
			kib, err := strconv.ParseFloat(string(fields[1]), 64)
			return kib / 1024, err
		}
	}
	return 0, errors.New("the system does not say how much memory was held")
}
