package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
)

var practiceBenches = []bench{
	{"practice", "all analyses of a month of a large practice: 60,000 episodes, 6 million bouts and measurements", benchPractice},
}

// practiceRows is how many rows of bouts make a large practice of the size that
// is required.
const practiceRows = 5_000_000

// benchPractice takes in the files of a large made-up practice and builds its
// warehouse, both untimed, then times the analyses of its last month and watches
// the memory that they need.
func benchPractice(ctx context.Context, r *report) (err error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(intakeThreads))
	dir := r.practice
	if dir == "" {
		if dir, err = os.MkdirTemp("", "bench"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	}
	place, engine := folder.Dir(dir), warehouse.Engine{Threads: intakeThreads, TempDir: dir}
	if err := largePractice(ctx, r, place, engine); err != nil {
		return err
	}
	debug.FreeOSMemory()
	if err := os.WriteFile("/proc/self/clear_refs", []byte("5"), 0); err != nil {
		return fmt.Errorf("begin to watch the memory, which needs Linux: %w", err)
	}
	as, err := assemble.OpenBuilt(ctx, place, engine, 1, place.Warehouse())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, as.Close()) }()
	month := largeScenario(0).Start.AddDate(0, largeMonths-1, 0)
	start := time.Now()
	set, err := as.Month(ctx, month)
	if err != nil {
		return err
	}
	took := time.Since(start)
	held, err := mostMemory()
	if err != nil {
		return err
	}
	sizes(r, as.Files)
	r.line("figures of a month", len(set.Figures) > 0, fmt.Sprintf("%d", len(set.Figures)))
	r.atMost("seconds for the analyses of a month", took.Seconds(), 90)
	r.atMost("MiB of memory at most", held, 4096)
	return nil
}

// sizes prints how many rows of each table the practice has.
func sizes(r *report, files []warehouse.FileRecord) {
	rows := map[string]int{}
	for _, f := range files {
		rows[f.Table] += f.Counts.Accepted
	}
	for _, t := range export.Tables() {
		r.line(t.Name, rows[t.Name] > 0, fmt.Sprintf("%d rows", rows[t.Name]))
	}
}

// largePractice drops the files of a large practice into a folder, takes them in
// and builds the warehouse: what stands there from an earlier run is used again.
func largePractice(ctx context.Context, r *report, place folder.Dir, engine warehouse.Engine) error {
	if _, err := os.Stat(place.Landing()); err != nil {
		if err := takeLarge(ctx, r, place, engine); err != nil {
			return err
		}
	}
	if _, err := os.Stat(place.Warehouse()); err == nil {
		return nil
	}
	start, next := time.Now(), place.Next()
	if err := assemble.Build(ctx, place, engine, 1, next, nil); err != nil {
		return err
	}
	r.line("warehouse built", true, fmt.Sprintf("in %.0f s", time.Since(start).Seconds()))
	return os.Rename(next, place.Warehouse())
}

func takeLarge(ctx context.Context, r *report, place folder.Dir, engine warehouse.Engine) error {
	start := time.Now()
	now, err := dropLarge(place, r.rows)
	if err != nil {
		return err
	}
	r.line("files written", true, fmt.Sprintf("in %.0f s", time.Since(start).Seconds()))
	start = time.Now()
	return assemble.WithLanding(ctx, place, engine, func(l *warehouse.Landing) error {
		report, err := intake.Run(ctx, intake.Input{Dir: string(place), Landing: l, Now: now, Program: "bench"})
		if err != nil {
			return err
		}
		var counts warehouse.Counts
		for _, f := range report.Files {
			if f.Problem.Code != "" {
				return fmt.Errorf("%s: %s", f.Path, f.Problem.Words)
			}
			counts.Add(f.Counts)
		}
		r.line("rows taken in", counts.Quarantined == 0, fmt.Sprintf("%d in %.0f s", counts.Accepted, time.Since(start).Seconds()))
		return nil
	})
}
