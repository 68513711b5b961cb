package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"slices"
	"strings"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/sides"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

func sidesCommand() command {
	var choice sides.Choice
	return command{
		name:  "sides",
		about: "both sides person by person, for the treating clinician",
		long: `Writes, for each site, a workbook of those whose care has no recorded end into
person_level/: each visit's two sides, the index with its error and whether it lies
clear of the threshold, and the change since baseline against the error of measuring.
Where both sides are involved each limb stands beside its own baseline, the worse one
first.

These are personal health data under pseudonyms. Every sheet and printed page says so,
and the ledger notes each writing. They say what was measured, and foretell nothing.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&choice.Site, "site", "", "the `site`, by its code; all if left out")
			set.StringVar(&choice.Episode, "episode", "", "one course of care, by its sender's `id`, ended or not")
			set.BoolVar(&choice.Ended, "ended", false, "those whose care has ended too")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			return runSides(ctx, c, choice)
		},
	}
}

func runSides(ctx context.Context, c *call, choice sides.Choice) (code exit, err error) {
	n, err := c.reader()
	if err != nil {
		return exitOf(err), err
	}
	if choice.Site != "" && !slices.ContainsFunc(n.practice.Sites, func(s settings.Site) bool { return s.Code == choice.Site }) {
		return exitUsage, &usageError{fmt.Sprintf("there is no site %q in practice.toml", choice.Site)}
	}
	lock, err := nightly.Hold(string(n.dir))
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	batch, err := n.newestBatch(ctx)
	if err != nil {
		return exitOf(err), err
	}
	bar := newProgress(c)
	defer bar.End()
	bar.Stage("Building the warehouse of the newest batch")
	a, err := assemble.Open(ctx, n.dir, n.engine, batch, bar.Step)
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	courses, err := sides.Collect(ctx, a.Warehouse, a.Practice, choice)
	if err != nil {
		return exitOf(err), err
	}
	folder, written, err := sides.Write(n.dir, a.Practice, a.Batch, courses, choice)
	if err != nil {
		return exitOf(err), err
	}
	bar.End()
	if len(written) == 0 {
		return exitUsage, &usageError{"nothing is measured of the courses of care asked for; --ended adds those that have ended"}
	}
	err = assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) error {
		for _, w := range written {
			if err := l.LogTrace(ctx, 0, "sides."+w.Site, batch, w.File, w.Rows); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return exitOf(err), err
	}
	if c.json {
		return exitDone, writeJSON(c.stdout, map[string]any{"batch": batch, "folder": folder, "written": written})
	}
	var lines strings.Builder
	for _, w := range written {
		fmt.Fprintf(&lines, "%s: %s in %s\n", w.Site, counted(w.Rows, "row", "rows"), w.File)
	}
	_, err = fmt.Fprintf(c.stdout, "%sThese are personal health data, as of batch %d; the ledger notes that they were written.\n", lines.String(), batch)
	return exitDone, err
}
