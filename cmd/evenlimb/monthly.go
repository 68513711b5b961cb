package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/publish"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/warehouse"
)

type monthlyFlags struct {
	month string
	asOf  string
	out   string
	again bool
}

func monthlyCommand() command {
	var f monthlyFlags
	return command{
		name:  "monthly",
		about: "writes the clinic director's report for a month",
		long: `Writes the report of a month into reports/YYYY-MM/. A report is written once; with
--again a re-issue from today's data is put beside it.

With --as-of the report is made as it would have been on that day, or in that batch,
and written to the folder named by --out; nothing in the practice folder changes.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&f.month, "month", "", "the `month`, such as 2026-03; the newest one that is over if left out")
			set.BoolVar(&f.again, "again", false, "publish a re-issue of a month that was published")
			set.StringVar(&f.asOf, "as-of", "", "a `date`, or batch:N; needs --out")
			set.StringVar(&f.out, "out", "", "the `folder` for a report with --as-of")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			if (f.asOf == "") != (f.out == "") {
				return exitUsage, &usageError{"--as-of and --out go together: a report as of an earlier day is written to a folder of its own"}
			}
			month, err := parseMonth(f.month)
			if err != nil {
				return exitUsage, err
			}
			if f.asOf != "" {
				return monthlyElsewhere(ctx, c, f, month)
			}
			return monthlyHere(ctx, c, f.again, month)
		},
	}
}

// parseMonth reads YYYY-MM; nothing is the zero time.
func parseMonth(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	month, err := time.Parse("2006-01", text)
	if err != nil {
		return time.Time{}, &usageError{fmt.Sprintf("%q is not a month; write one such as 2026-03", text)}
	}
	return month, nil
}

// monthlyHere publishes a month from the newest batch, unless it was published.
func monthlyHere(ctx context.Context, c *call, again bool, month time.Time) (exit, error) {
	var folder string
	var fresh bool
	stage := nightly.Stage{Name: "Writing the report", Run: func(ctx context.Context, r *nightly.Run) (err error) {
		n, err := c.reader()
		if err != nil {
			return err
		}
		batch, err := n.newestBatch(ctx)
		if err != nil {
			return err
		}
		r.Batch = batch
		a, err := assemble.Open(ctx, n.dir, n.engine, batch, r.Progress.Step)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, a.Close()) }()
		if month, err = chooseMonth(ctx, a, month); err != nil {
			return err
		}
		standing, err := publish.Newest(ctx, n.dir, n.engine, month)
		if err != nil {
			return err
		}
		if standing != nil && !again {
			folder = standing.Folder
			return nil
		}
		entry, err := publish.Publish(ctx, n.dir, n.engine, a, month)
		if err != nil {
			return err
		}
		folder, fresh = entry.Folder, true
		return publish.Index(ctx, n.dir, n.engine, n.practice)
	}}
	outcome, _, err := runNight(ctx, c, "monthly", func(*night) []nightly.Stage { return []nightly.Stage{stage} })
	if err != nil {
		return exitOf(err), err
	}
	path := filepath.Join(string(c.dir), filepath.FromSlash(folder))
	if c.json {
		return exitDone, writeJSON(c.stdout, map[string]any{"month": month.Format("2006-01"), "folder": path, "batch": outcome.Batch, "published": fresh})
	}
	if !fresh {
		_, err = fmt.Fprintf(c.stdout, "The report of %s was published before and stands in %s. Use --again for a re-issue from today's data.\n", month.Format("January 2006"), path)
		return exitDone, err
	}
	_, err = fmt.Fprintf(c.stdout, "Published the report of %s in %s.\n", month.Format("January 2006"), path)
	return exitDone, err
}

// monthlyElsewhere writes a month as of an earlier batch into a folder outside
// the practice's reports.
func monthlyElsewhere(ctx context.Context, c *call, f monthlyFlags, month time.Time) (code exit, err error) {
	n, err := c.reader()
	if err != nil {
		return exitOf(err), err
	}
	if err := outsideOf(f.out, n.dir.Reports(), filepath.Join(string(n.dir), "inside")); err != nil {
		return exitUsage, err
	}
	if err := emptyFolder(f.out); err != nil {
		return exitUsage, err
	}
	lock, err := nightly.Hold(string(n.dir))
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	bar := newProgress(c)
	defer bar.End()
	bar.Stage("Building the warehouse as of then")
	batch, err := n.batchAsOf(ctx, f.asOf)
	if err != nil {
		return exitOf(err), err
	}
	a, err := assemble.Open(ctx, n.dir, n.engine, batch, bar.Step)
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	if month, err = chooseMonth(ctx, a, month); err != nil {
		return exitOf(err), err
	}
	if err := publish.Elsewhere(ctx, n.dir, n.engine, a, month, f.out); err != nil {
		return exitOf(err), err
	}
	bar.End()
	if c.json {
		return exitDone, writeJSON(c.stdout, map[string]any{"month": month.Format("2006-01"), "folder": f.out, "batch": batch})
	}
	_, err = fmt.Fprintf(c.stdout, "Wrote the report of %s as of batch %d to %s.\n", month.Format("January 2006"), batch, f.out)
	return exitDone, err
}

// chooseMonth takes the newest month that is over where none is named, and
// refuses one that has not begun.
func chooseMonth(ctx context.Context, a *assemble.AsOf, month time.Time) (time.Time, error) {
	if month.IsZero() {
		return a.NewestMonth(ctx)
	}
	if month.After(a.Batch.ReceivedOn) {
		return month, &usageError{fmt.Sprintf("%s has not begun: the newest files were received on %s", month.Format("January 2006"), a.Batch.ReceivedOn.Format(time.DateOnly))}
	}
	return month, nil
}

// outsideOf refuses a folder that lies in one of the others.
func outsideOf(path string, others ...string) error {
	whole, err := filepath.Abs(path)
	if err != nil {
		return &usageError{fmt.Sprintf("%s cannot be used: %v", path, err)}
	}
	for _, other := range others {
		base, err := filepath.Abs(other)
		if err != nil {
			return &usageError{fmt.Sprintf("%s cannot be used: %v", other, err)}
		}
		if whole == base || strings.HasPrefix(whole, base+string(filepath.Separator)) {
			return &usageError{fmt.Sprintf("%s lies in %s, which holds what was published; name a folder elsewhere", path, other)}
		}
	}
	return nil
}

// newestBatch returns the newest whole batch.
func (n *night) newestBatch(ctx context.Context) (number int, err error) {
	err = assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) error {
		batches, err := l.Batches(ctx)
		if err != nil {
			return err
		}
		for _, b := range batches {
			if !b.Open {
				number = b.Number
			}
		}
		return nil
	})
	if err == nil && number == 0 {
		err = &usageError{"nothing was taken in yet; drop the sites' files into inbox/ and run `evenlimb nightly`"}
	}
	return number, err
}
