package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/publish"
	"evenlimb/cmd/internal/trace"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

func traceCommand() command {
	var monthText string
	var persons bool
	return command{
		name:  "trace",
		args:  "FIGURE",
		about: "the query, files and lines behind a published figure",
		long: `Follows a published figure back to the rows it rests on and to the files they came
from. FIGURE is the id that stands in every picture and in figures.csv; the id of a
picture lists its figures. The newest release of the figure is followed unless a month
is named.

With --persons the lines themselves, with their cells and pseudonyms, are written to
person_level/, and the ledger notes it.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&monthText, "month", "", "the `month` of the report that released it, such as 2026-03")
			set.BoolVar(&persons, "persons", false, "write the lines with cells and pseudonyms to person_level/")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			month, err := parseMonth(monthText)
			if err != nil {
				return exitUsage, err
			}
			return runTrace(ctx, c, c.args[0], month, persons)
		},
	}
}

func runTrace(ctx context.Context, c *call, id string, month time.Time, persons bool) (code exit, err error) {
	picture, statistic, _, err := result.SplitID(id)
	if err != nil {
		return exitUsage, &usageError{err.Error()}
	}
	n, err := c.reader()
	if err != nil {
		return exitOf(err), err
	}
	lock, err := nightly.Hold(string(n.dir))
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()

	release, err := publish.Find(ctx, n.dir, n.engine, picture, month)
	if err != nil {
		return exitOf(err), err
	}
	if release == nil {
		return exitUsage, &usageError{fmt.Sprintf("no published report holds the picture %s; the ids stand in figures.csv beside each report", picture)}
	}
	if statistic == "" {
		return exitDone, listPicture(c, release)
	}
	shown, ok := release.Figure(id)
	if !ok {
		return exitUsage, &usageError{fmt.Sprintf("the picture %s has no figure %s; `evenlimb trace %s` lists what it has", picture, id, picture)}
	}
	bar := newProgress(c)
	defer bar.End()
	bar.Stage("Building the warehouse as it was published")
	a, err := assemble.OpenMonth(ctx, n.dir, n.engine, release.Entry.Batch, release.Month, bar.Step)
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	found, err := trace.Follow(ctx, a.Warehouse, id)
	if err != nil {
		return exitOf(err), err
	}
	bar.End()
	answer := traceAnswer{
		Figure: id, Shown: shown.Shown, Report: release.Entry.Folder, Month: release.Entry.Period, Batch: release.Entry.Batch,
		Sources: found.Sources, Files: found.Files, Lines: len(found.Lines),
	}
	if persons {
		if answer.Written, err = trace.Write(n.dir, release.Entry.Batch, found); err != nil { //nolint:contextcheck // a few small files of this machine
			return exitOf(err), err
		}
		err = assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) error {
			return l.LogTrace(ctx, 0, id, release.Entry.Batch, answer.Written, len(found.Lines))
		})
		if err != nil {
			return exitOf(err), err
		}
	}
	if c.json {
		return exitDone, writeJSON(c.stdout, answer)
	}
	return exitDone, answer.print(c.stdout)
}

// traceAnswer is what trace prints.
type traceAnswer struct {
	Figure  string                  `json:"figure"`
	Shown   string                  `json:"shown"`
	Report  string                  `json:"report"`
	Month   string                  `json:"month"`
	Batch   int                     `json:"batch"`
	Sources []warehouse.SourceTable `json:"sources"`
	Files   []trace.File            `json:"files"`
	Lines   int                     `json:"lines"`
	Written string                  `json:"written,omitempty"`
}

func (a traceAnswer) print(w io.Writer) error {
	fmt.Fprintf(w, "%s: %s\nreleased in %s, as of batch %d\n\n", a.Figure, a.Shown, a.Report, a.Batch)
	for _, s := range a.Sources {
		fmt.Fprintf(w, "%s behind it:\n  %s;\n", counted(s.Rows, "row of "+s.Table, "rows of "+s.Table), s.Query)
	}
	fmt.Fprintf(w, "\nThey were made from %s of %s:\n", counted(a.Lines, "line", "lines"), counted(len(a.Files), "file", "files"))
	for _, f := range a.Files {
		fmt.Fprintf(w, "  %6d  inbox/%s  (batch %d, archive %s)\n", f.Lines, f.Path, f.Batch, f.SHA256[:12])
	}
	next := "Line numbers, cells and pseudonyms are written to person_level/ with --persons."
	if a.Written != "" {
		next = "The lines with their cells and pseudonyms stand in " + a.Written + ". They are personal health data; the ledger notes that they were written."
	}
	_, err := fmt.Fprintf(w, "\n%s\n", next)
	return err
}

func listPicture(c *call, release *publish.Released) error {
	if c.json {
		return writeJSON(c.stdout, release.Figures)
	}
	for _, f := range release.Figures {
		if _, err := fmt.Fprintf(c.stdout, "%-60s %s\n", f.ID, strings.TrimSpace(f.Shown)); err != nil {
			return err
		}
	}
	return nil
}
