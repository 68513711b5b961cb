package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
)

var intakeBenches = []bench{
	{"intake-one", "taking in one file of bouts beside the engine's bare read of it", benchIntakeOne},
	{"intake-many", "the same rows in 200 files", benchIntakeMany},
	{"intake-delta", "the same new rows into a small and a large store", benchIntakeDelta},
}

// The engine's threads and ours, on both sides of a comparison.
const intakeThreads = 2

const intakePractice = `[practice]
name = "Tarn Bank Physiotherapy"
code = "tarn"
time_zone = "Europe/London"
made_up = true

[[sites]]
code = "tarn"
label = "Tarn Bank"
senders = ["tarn"]
`

func benchIntakeOne(ctx context.Context, r *report) error { return benchIntake(ctx, r, 1, 4.5) }

func benchIntakeMany(ctx context.Context, r *report) error { return benchIntake(ctx, r, 200, 6.5) }

// benchIntake takes bouts in, of which one row in two hundred is bad, and lets
// the engine read the same files as bare text in the same run.
func benchIntake(ctx context.Context, r *report, files int, required float64) (err error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(intakeThreads))
	dir, err := boutsFolder(files, r.rows)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	bare, err := bareRead(ctx, dir)
	if err != nil {
		return err
	}
	start := time.Now()
	counts, err := takeBouts(ctx, dir)
	if err != nil {
		return err
	}
	ours := time.Since(start)
	again, err := bareRead(ctx, dir)
	if err != nil {
		return err
	}
	if want := (warehouse.Counts{Read: r.rows, Quarantined: r.rows / badEvery, Accepted: r.rows - r.rows/badEvery}); counts != want {
		return fmt.Errorf("taken in as %+v, want %+v", counts, want)
	}
	bare = (bare + again) / 2
	r.line(fmt.Sprintf("%d rows in %d files", r.rows, files), true, fmt.Sprintf("ours %.1f s, %.0f rows/s; bare read %.1f s, %.0f rows/s",
		ours.Seconds(), float64(r.rows)/ours.Seconds(), bare.Seconds(), float64(r.rows)/bare.Seconds()))
	r.atMost(fmt.Sprintf("intake of %d files / bare read", files), ours.Seconds()/bare.Seconds(), required)
	return nil
}

// benchIntakeDelta takes a hundredth of the rows into a store of a tenth of
// them and into one of all.
func benchIntakeDelta(ctx context.Context, r *report) error {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(intakeThreads))
	small, err := nightOn(ctx, r.rows/10, r.rows/100)
	if err != nil {
		return err
	}
	large, err := nightOn(ctx, r.rows, r.rows/100)
	if err != nil {
		return err
	}
	r.line(fmt.Sprintf("a night of %d rows", r.rows/100), true, fmt.Sprintf("%.2f s on a store of %d rows, %.2f s on one of %d", small.Seconds(), r.rows/10, large.Seconds(), r.rows))
	r.atMost("night on large / on small store", large.Seconds()/small.Seconds(), 1.5)
	return nil
}

// nightOn fills a store and returns the median time of three nights of so many
// rows: half of them new, a quarter corrected, a quarter as they were.
func nightOn(ctx context.Context, stored, delta int) (took time.Duration, err error) {
	dir, err := boutsFolder(1, stored)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	if _, err := takeBouts(ctx, dir); err != nil {
		return 0, err
	}
	night := 0
	return timed(func() error {
		night++
		file := filepath.Join(dir, "inbox", "tarn", fmt.Sprintf("night%d.csv", night))
		err := writeBouts(file, func(row func(i, change int)) {
			for i := range delta / 2 {
				row(stored+night*delta+i, 0)
				row(i*7%stored, night*(i%2))
			}
		})
		if err != nil {
			return err
		}
		counts, err := takeBouts(ctx, dir)
		if err == nil && (counts.Read != delta || counts.Corrections == 0 || counts.Duplicates == 0) {
			err = fmt.Errorf("a night was taken in as %+v", counts)
		}
		return err
	})
}

// boutsFolder makes a practice folder with so many rows in so many files.
func boutsFolder(files, rows int) (dir string, err error) {
	if dir, err = os.MkdirTemp("", "bench"); err != nil {
		return "", err
	}
	if err := os.WriteFile(filepath.Join(dir, "practice.toml"), []byte(intakePractice), 0o600); err != nil {
		return dir, err
	}
	if err := os.MkdirAll(filepath.Join(dir, "inbox", "tarn"), 0o700); err != nil {
		return dir, err
	}
	for f := range files {
		err := writeBouts(filepath.Join(dir, "inbox", "tarn", fmt.Sprintf("bouts%03d.csv", f)), func(row func(i, change int)) {
			for i := rows * f / files; i < rows*(f+1)/files; i++ {
				row(i, 0)
			}
		})
		if err != nil {
			return dir, err
		}
	}
	return dir, nil
}

const boutHeadings = "session_id,bout_no,exercise,level,movement_range,limb_use,side,sets,reps,reps_by_set,seconds_per_rep,load_kg,load_basis," +
	"rest_seconds,cuff_inflated,occlusion_pressure_mmhg,occlusion_measured_on,applied_pressure_mmhg,inflated_minutes,end_reason,pain\n"

// badEvery is after how many rows one is bad.
const badEvery = 200

// writeBouts writes a file; rows calls row for each, with its number and how
// often it was changed before.
func writeBouts(path string, rows func(row func(i, change int))) (err error) {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	b := append(make([]byte, 0, 1<<20), boutHeadings...)
	exercises := []string{"knee_extension", "leg_press", "heel_raise_seated", "split_squat"}
	sides := []string{"left", "right", "left", "bilateral"}
	courses := []struct {
		bySet      string
		sets, reps int
	}{{"30/15/15/15", 4, 75}, {"15/15/15", 3, 45}, {"30/15/15", 3, 60}, {"12/12/12/12", 4, 48}}
	rows(func(i, change int) {
		n := func(v, of int) int { return (i*2654435761>>8 + i/7*v) % of }
		text := func(s string) { b = append(append(b, s...), ',') }
		whole := func(v int) { b = append(strconv.AppendInt(b, int64(v), 10), ',') }
		tenths := func(v int) {
			b = append(strconv.AppendInt(b, int64(v/10), 10), '.')
			b = append(strconv.AppendInt(b, int64(v%10), 10), ',')
		}
		course, pace, rest, full := courses[n(4, 4)], 20+n(7, 20), 30+n(9, 4)*15, 120+n(10, 120)
		text("s" + strconv.Itoa(10_000_000+i/5))
		whole(1 + i%5)
		text(exercises[n(1, 4)])
		whole(n(2, 6))
		text("full")
		text("one")
		text(sides[n(3, 4)])
		whole(course.sets)
		if i%badEvery == badEvery-1 {
			text("many")
		} else {
			whole(course.reps)
		}
		text(course.bySet)
		tenths(pace)
		tenths(50 + n(8, 600) + change)
		text("external")
		whole(rest)
		text("true")
		whole(full)
		b = append(b, "2025-"...)
		b = append(b, '0', byte('1'+n(11, 9)), '-', byte('1'+n(12, 2)), byte('0'+n(13, 9)), ',')
		whole(full * (40 + n(14, 41)) / 100)
		tenths((course.reps*pace + (course.sets-1)*rest*10) / 60)
		text("planned")
		whole(n(16, 8))
		b[len(b)-1] = '\n'
		if len(b) > 1<<20-1000 {
			if _, wrong := file.Write(b); wrong != nil {
				err = errors.Join(err, wrong)
			}
			b = b[:0]
		}
	})
	_, wrong := file.Write(b)
	return errors.Join(err, wrong)
}

// takeBouts runs the intake over a folder and returns what became of all rows.
func takeBouts(ctx context.Context, dir string) (counts warehouse.Counts, err error) {
	l, err := warehouse.OpenLanding(ctx, filepath.Join(dir, "landing.duckdb"), warehouse.Engine{Threads: intakeThreads})
	if err != nil {
		return counts, err
	}
	report, err := intake.Run(ctx, intake.Input{Dir: dir, Landing: l, Now: time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC), Program: "bench"})
	if err = errors.Join(err, l.Close()); err != nil { //nolint:contextcheck // closing writes the log back and must finish
		return counts, err
	}
	for _, f := range report.Files {
		if f.Problem.Code != "" {
			return counts, fmt.Errorf("%s: %s", f.Path, f.Problem.Words)
		}
		counts.Add(f.Counts)
	}
	return counts, nil
}

// bareRead lets the engine read the files of a folder as text, and says how long
// that takes.
func bareRead(ctx context.Context, dir string) (took time.Duration, err error) {
	path := filepath.Join(dir, "bare.duckdb")
	db, err := sql.Open("duckdb", path)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, db.Close(), os.Remove(path)) }()
	if _, err := db.ExecContext(ctx, "set threads = "+strconv.Itoa(intakeThreads)); err != nil {
		return 0, err
	}
	files, err := filepath.Glob(filepath.Join(dir, "inbox", "tarn", "*.csv"))
	if err != nil {
		return 0, err
	}
	list := "'" + strings.Join(files, "', '") + "'"
	runtime.GC()
	start := time.Now()
	_, err = db.ExecContext(ctx, "create temp table bare as select * from read_csv(["+list+"], all_varchar=true, header=true, delim=',', quote='\"', filename=true)")
	return time.Since(start), err
}
