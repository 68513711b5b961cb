package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/cmd/internal/program"
	"evenlimb/cmd/internal/publish"
	"evenlimb/pipeline/checks"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

func nightlyCommand() command {
	return command{
		name:  "nightly",
		about: "takes in what is new, computes the results, writes the reports that are due",
		long: `Takes in the files that were dropped into inbox/ since the last run, brings the
results up to date and writes the reports that are due. It is safe to run again at
any time, also after a run that was cut off: it goes on where that one ended. Run it
once a night from the system's scheduler.

It ends with 0 when there is nothing to look at and with 3 when something new needs
a person; evenlimb status says what. It ends with 4, and keeps yesterday's results,
when a delivery looks like a mistake that results must not be computed from.`,
		run: func(ctx context.Context, c *call) (exit, error) {
			outcome, n, err := runNight(ctx, c, "nightly", nightStages)
			if err != nil {
				return exitOf(err), err
			}
			return reportNight(c, n, outcome)
		},
	}
}

// night is one run over a practice folder.
type night struct {
	dir      folder.Dir
	practice *settings.Practice
	engine   warehouse.Engine
	asked    asked // what `evenlimb intake` is asked for beside what is new
	taken    intake.Report
	month    time.Time      // the month whose figures stand in the warehouse
	figures  result.Set     // and these
	known    *assemble.AsOf // what the warehouse was made of; nil before
	written  []warehouse.Publication
	restored []string
}

func nightStages(n *night) []nightly.Stage {
	return []nightly.Stage{
		{Name: "Taking in files", Run: n.takeIn},
		{Name: "Building the warehouse", Run: n.build},
		{Name: "Writing the reports that are due", Run: n.publish},
	}
}

// engineOf gives the database what the settings allow it.
func engineOf(p *settings.Practice) warehouse.Engine {
	return warehouse.Engine{Threads: p.Engine.Threads, MemoryMB: p.Engine.MemoryMB}
}

// runNight runs stages under the folder's lock and the ledger.
func runNight(ctx context.Context, c *call, name string, stages func(*night) []nightly.Stage) (nightly.Outcome, *night, error) {
	return runAsked(ctx, c, name, asked{}, stages)
}

// runAsked is runNight with what the intake is asked for.
func runAsked(ctx context.Context, c *call, name string, what asked, stages func(*night) []nightly.Stage) (nightly.Outcome, *night, error) {
	if err := c.practice(); err != nil {
		return nightly.Outcome{}, nil, err
	}
	practice, err := settings.Load(string(c.dir))
	if err != nil {
		return nightly.Outcome{}, nil, err
	}
	n := &night{dir: c.dir, practice: practice, engine: engineOf(practice), asked: what}
	bar := newProgress(c)
	defer bar.End()
	outcome, err := nightly.Do(ctx, nightly.Input{
		Dir: string(c.dir), Landing: c.dir.Landing(), Engine: n.engine, Command: name, Program: program.Version(),
		Now: c.now, Progress: bar, Stages: stages(n),
		ExitCode: func(attention bool, failed error) int { return int(exitOfRun(attention, failed)) },
		Compare:  []string{"nightly", "intake"}, // the commands that look at all of the data
		Good:     []int{int(exitDone), int(exitAttention)},
	})
	return outcome, n, err
}

func exitOfRun(attention bool, failed error) exit {
	if failed == nil && attention {
		return exitAttention
	}
	return exitOf(failed)
}

// takeIn takes in what is new in the inbox.
func (n *night) takeIn(ctx context.Context, r *nightly.Run) error {
	if err := n.dir.Sweep(); err != nil {
		return err
	}
	return assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) (err error) {
		also, err := n.asked.answer(ctx, n.dir, l, r.Now)
		if err != nil {
			return err
		}
		n.taken, err = intake.Run(ctx, intake.Input{
			Dir: string(n.dir), Landing: l, Also: also, Now: r.Now, Program: program.Version(),
			Settle: time.Duration(n.practice.Intake.SettleSeconds) * time.Second, Log: r.Log,
			Progress: func(e intake.Event) { r.Progress.Step(e.Path, e.Done, e.Total) },
		})
		var stop *intake.StopError
		if err != nil && !errors.As(err, &stop) {
			return err
		}
		r.Batch = n.taken.Batch.Number
		found, err := assemble.IntakeFindings(ctx, l, r.Batch, n.taken)
		r.Findings = append(r.Findings, found...)
		if err == nil && stop != nil {
			return &nightly.StoppedError{Reason: stop.Words}
		}
		return err
	})
}

// build derives the warehouse of the newest batch beside the old one, and while
// that is done asks what is odd and computes the figures of the month; then it
// puts it in place.
func (n *night) build(ctx context.Context, r *nightly.Run) error {
	if r.Batch == 0 {
		return nil // nothing was ever taken in
	}
	a, err := assemble.Make(ctx, n.dir, n.engine, r.Batch, n.dir.Next(), r.Progress.Step)
	if err != nil {
		return err
	}
	findings, err := n.compute(ctx, a)
	if err != nil {
		return a.GiveUp(err)
	}
	r.Findings = append(r.Findings, findings...)
	if err := a.Finish(ctx, n.figures, r.Findings); err != nil {
		return err
	}
	n.known = a
	return warehouse.Swap(n.dir.Next(), n.dir.Warehouse())
}

// publish writes the reports of the months that are due, makes again those
// whose files are gone, and brings the index up to date.
func (n *night) publish(ctx context.Context, r *nightly.Run) (err error) {
	if n.restored, err = publish.Restore(ctx, n.dir, n.engine, r.Progress.Step); err != nil {
		return err
	}
	if r.Batch > 0 {
		if err := n.publishDue(ctx, r); err != nil {
			return err
		}
	}
	return publish.Index(ctx, n.dir, n.engine, n.practice)
}

func (n *night) publishDue(ctx context.Context, r *nightly.Run) (err error) {
	a := n.known
	months, err := publish.Due(ctx, n.dir, n.engine, a)
	if err != nil || len(months) == 0 {
		return err
	}
	if err := a.Reopen(ctx, n.engine, n.dir.Warehouse()); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	a.Keep(n.month, n.figures)
	for i, month := range months {
		r.Progress.Step(month.Format("January 2006"), i, len(months))
		entry, err := publish.Publish(ctx, n.dir, n.engine, a, month)
		if err != nil {
			return err
		}
		n.written = append(n.written, entry)
	}
	return nil
}

// compute computes the figures of the newest month that is over for the practice
// and asks what is odd in the new warehouse.
func (n *night) compute(ctx context.Context, a *assemble.AsOf) (findings []warehouse.Finding, err error) {
	if n.month, err = a.NewestMonth(ctx); err != nil {
		return nil, err
	}
	if n.figures, err = a.Month(ctx, n.month); err != nil {
		return nil, err
	}
	return checks.Run(ctx, a.Warehouse)
}

// reportNight says on standard output what a run did.
func reportNight(c *call, n *night, o nightly.Outcome) (exit, error) {
	code := exitOfRun(o.Attention(), nil)
	if c.json {
		return code, writeJSON(c.stdout, summary(n, o, code))
	}
	w := c.stdout
	if len(n.taken.Files) == 0 {
		fmt.Fprintf(w, "Nothing new in the inbox; the newest batch is %d.\n", o.Batch)
	} else {
		var t warehouse.Counts
		for _, f := range n.taken.Files {
			t.Add(f.Counts)
		}
		fmt.Fprintf(w, "Batch %d: %s read from %s: %d accepted, %d duplicates, %d corrections, %d withdrawals, %d quarantined.\n", o.Batch,
			counted(t.Read, "row", "rows"), counted(len(n.taken.Files), "file", "files"), t.Accepted, t.Duplicates, t.Corrections, t.Withdrawals, t.Quarantined)
		if t.Gone > 0 {
			fmt.Fprintf(w, "%s withdrawn that complete deliveries no longer hold.\n", counted(t.Gone, "row was", "rows were"))
		}
	}
	for _, p := range n.written {
		fmt.Fprintf(w, "Published %s.\n", p.Folder)
	}
	for _, f := range n.restored {
		fmt.Fprintf(w, "Made %s again: files of it were missing.\n", f)
	}
	if o.Attention() {
		fmt.Fprintf(w, "%s for a person to look at:\n", counted(len(o.New), "new thing", "new things"))
		for _, f := range o.New {
			fmt.Fprintf(w, "  - %s\n", f.Text)
		}
	}
	return code, nil
}

// summary is what a run did, for --json.
func summary(n *night, o nightly.Outcome, code exit) map[string]any {
	folders := []string{}
	for _, p := range n.written {
		folders = append(folders, p.Folder)
	}
	type finding struct {
		Check, Subject, Text string
	}
	fresh := []finding{}
	for _, f := range o.New {
		fresh = append(fresh, finding{f.Check, f.Subject, f.Text})
	}
	return map[string]any{
		"exit_code": code, "batch": o.Batch, "files": len(n.taken.Files), "published": folders, "made_again": n.restored, "new_findings": fresh, "findings": len(o.Findings),
	}
}
