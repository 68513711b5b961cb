package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/words"
)

func rebuildCommand() command {
	var fromArchive bool
	return command{
		name:  "rebuild",
		about: "makes the warehouse anew from landing, and with --from-archive landing from archive/",
		long: `Makes warehouse.duckdb anew from landing.duckdb and says whether it holds what the
one before it held.

With --from-archive it first reads every file in archive/ again, batch by batch with
the settings of each, into a landing store beside landing.duckdb. Where landing.duckdb
is lost, the new one takes its place. Otherwise it is compared: when both hold the same,
the new one is taken away; when not, it is left as landing.from-archive.duckdb, the
tables that differ are listed, and landing.duckdb stays. By another version of the
program than took the files in, differences are to be expected.

What archive/ cannot bring back is the ledger of runs and the register of published
reports: they are copied from landing.duckdb where that still stands.`,
		flags: func(set *flag.FlagSet) {
			set.BoolVar(&fromArchive, "from-archive", false, "make the landing store anew as well")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			var b *rebuilding
			outcome, _, err := runNight(ctx, c, "rebuild", func(n *night) []nightly.Stage {
				b = &rebuilding{night: n}
				stages := []nightly.Stage{{Name: "Building the warehouse", Run: b.warehouse}}
				if fromArchive {
					stages = append([]nightly.Stage{{Name: "Reading the archive", Run: b.landing}}, stages...)
				}
				return stages
			})
			if err != nil {
				return exitOf(err), err
			}
			return b.report(c, outcome)
		},
	}
}

// rebuilding is one run of the command.
type rebuilding struct {
	*night
	Stores []rebuilt `json:"stores"`
}

// rebuilt says how a store that was made anew compares with the one before it.
type rebuilt struct {
	Store   string                 `json:"store"`
	Before  bool                   `json:"before"` // there was one before
	Rows    int                    `json:"rows"`
	Differs []warehouse.Difference `json:"differs"`
	Kept    string                 `json:"kept,omitempty"`    // where the new one was left for comparison
	Program []string               `json:"program,omitempty"` // versions that took the batches in
}

// landing reads the archive into a landing store beside the one that stands.
func (b *rebuilding) landing(ctx context.Context, r *nightly.Run) error {
	fresh := filepath.Join(string(b.dir), "landing.from-archive.duckdb")
	for _, left := range []string{fresh, fresh + ".wal"} {
		if err := os.Remove(left); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := b.replay(ctx, r, fresh); err != nil {
		return errors.Join(err, os.Remove(fresh))
	}
	result := rebuilt{Store: "landing.duckdb"}
	now, err := warehouse.ContentByTable(ctx, fresh, b.engine)
	if err != nil {
		return err
	}
	was, err := warehouse.ContentByTable(ctx, b.dir.Landing(), b.engine)
	if err != nil {
		return err
	}
	err = assemble.WithLanding(ctx, b.dir, b.engine, func(l *warehouse.Landing) error {
		batches, err := l.Batches(ctx)
		result.Before = len(batches) > 0
		return err
	})
	if err != nil {
		return err
	}
	now = warehouse.TakenIn(now)
	result.Rows = rowsOf(now)
	switch {
	case !result.Before:
		if err := warehouse.CopyHistory(ctx, fresh, b.dir.Landing(), b.engine); err != nil {
			return err
		}
		err = os.Rename(fresh, b.dir.Landing())
	default:
		if result.Differs = warehouse.Differences(now, warehouse.TakenIn(was)); len(result.Differs) == 0 {
			err = os.Remove(fresh)
		} else {
			result.Kept = filepath.Base(fresh)
		}
	}
	b.Stores = append(b.Stores, result)
	return err
}

func (b *rebuilding) replay(ctx context.Context, r *nightly.Run, path string) (err error) {
	l, err := warehouse.OpenLanding(ctx, path, b.engine)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }() //nolint:contextcheck // closing writes the log back and must finish
	_, err = intake.Rebuild(ctx, intake.Input{
		Dir: string(b.dir), Landing: l, Log: r.Log,
		Progress: func(e intake.Event) { r.Progress.Step(e.Path, e.Done, e.Total) },
	})
	return err
}

// warehouse makes the warehouse of the newest batch anew.
func (b *rebuilding) warehouse(ctx context.Context, r *nightly.Run) error {
	err := assemble.WithLanding(ctx, b.dir, b.engine, func(l *warehouse.Landing) error {
		batches, err := l.Batches(ctx)
		if err != nil || len(batches) == 0 {
			return err
		}
		last := batches[len(batches)-1]
		if last.Open {
			return errors.New("a night was cut off and its batch is not whole; run evenlimb nightly, which finishes it")
		}
		r.Batch = last.Number
		left, err := intake.LeftInInbox(string(b.dir), b.practice)
		if err != nil {
			return err
		}
		r.Findings, err = assemble.IntakeFindings(ctx, l, last.Number, intake.Report{Batch: last, Trouble: left})
		return err
	})
	if err != nil || r.Batch == 0 {
		return err
	}
	result := rebuilt{Store: "warehouse.duckdb"}
	was, err := warehouse.ContentByTable(ctx, b.dir.Warehouse(), b.engine)
	if result.Before = err == nil; err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := b.build(ctx, r); err != nil {
		return err
	}
	now, err := warehouse.ContentByTable(ctx, b.dir.Warehouse(), b.engine)
	if err != nil {
		return err
	}
	result.Rows = rowsOf(now)
	if result.Before {
		result.Differs = warehouse.Differences(now, was)
	}
	b.Stores = append(b.Stores, result)
	return nil
}

func rowsOf(tables []warehouse.TableContent) (rows int) {
	for _, t := range tables {
		rows += t.Rows
	}
	return rows
}

// report says how what was made anew compares.
func (b *rebuilding) report(c *call, o nightly.Outcome) (exit, error) {
	code := exitDone
	for _, s := range b.Stores {
		if len(s.Differs) > 0 {
			code = exitAttention
		}
	}
	if c.json {
		return code, writeJSON(c.stdout, map[string]any{"exit_code": code, "batch": o.Batch, "stores": b.Stores})
	}
	if len(b.Stores) == 0 {
		fmt.Fprintln(c.stdout, "Nothing was taken in yet, so there is nothing to make anew.")
	}
	for _, s := range b.Stores {
		fmt.Fprintln(c.stdout, s.sentence())
		for _, d := range s.Differs {
			fmt.Fprintf(c.stdout, "  %s: %s\n", d.Table, rowsThen(d))
		}
	}
	return code, nil
}

func (s rebuilt) sentence() string {
	made := fmt.Sprintf("%s was made anew: %s", s.Store, counted(s.Rows, "row", "rows"))
	switch {
	case !s.Before:
		return made + ". There was none before it."
	case len(s.Differs) == 0:
		return made + ", equal to those before."
	case s.Kept != "":
		return fmt.Sprintf("The archive gives another %s than the one that stands, which was kept; the other is %s. These tables differ:", s.Store, s.Kept)
	default:
		return made + ". These tables differ from those before:"
	}
}

func rowsThen(d warehouse.Difference) string {
	switch {
	case d.Was < 0:
		return "new, " + counted(d.Rows, "row", "rows")
	case d.Rows < 0:
		return "gone, " + counted(d.Was, "row", "rows") + " before"
	default:
		return strings.Join([]string{counted(d.Rows, "row", "rows"), words.Count(d.Was) + " before"}, ", ")
	}
}
