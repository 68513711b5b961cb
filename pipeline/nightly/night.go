// Package nightly runs the stages of a command over a practice folder: it holds
// the folder's lock, keeps the run ledger, says how far it is, and decides how
// the run ended. It knows no stage; whoever calls it hands them over.
package nightly

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"time"

	"evenlimb/pipeline/warehouse"
)

// Stage is one step of a run.
type Stage struct {
	Name string // what it does, for the progress line: "taking in files"
	Run  func(ctx context.Context, r *Run) error
}

// Run is what the stages of one run share.
type Run struct {
	Now      time.Time // the time at which the run began
	Log      *slog.Logger
	Progress Progress

	// Batch is the batch that the run ended up with; a stage sets it.
	Batch int
	// Findings are what the run found odd; stages add to them.
	Findings []warehouse.Finding
}

// Progress is told how far a run is.
type Progress interface {
	Stage(name string)
	Step(what string, done, of int)
}

// StoppedError is the error of a stage that a check stopped: yesterday's results
// stay, and a person is needed.
type StoppedError struct{ Reason string }

func (s *StoppedError) Error() string { return s.Reason }

// Input says what to run.
type Input struct {
	Dir      string // the practice folder
	Landing  string // path of the landing store
	Engine   warehouse.Engine
	Command  string // the command's name, for the ledger
	Program  string // the program's version
	Now      func() time.Time
	Progress Progress
	Stages   []Stage

	// ExitCode gives the program's exit code, which the ledger keeps. What the
	// last run of each command in Compare found counts as known, of the runs that
	// ended with a code in Good.
	ExitCode func(attention bool, failed error) int
	Compare  []string
	Good     []int
}

// Outcome is how a run ended when no stage failed.
type Outcome struct {
	Batch    int
	Findings []warehouse.Finding // all of them
	New      []warehouse.Finding // those that need a person and did not stand in the last good run
}

// Attention says whether something new needs a person.
func (o Outcome) Attention() bool { return len(o.New) > 0 }

// Do holds the practice folder, runs the stages in order and notes the run in
// the ledger. The first stage that fails ends it; what earlier stages finished
// stays. The error is the stage's own, so that its kind can be told.
func Do(ctx context.Context, in Input) (outcome Outcome, err error) {
	lock, err := Hold(in.Dir)
	if err != nil {
		return Outcome{}, err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()

	began := in.Now()
	journal, err := openJournal(in.Dir, in.Command, began)
	if err != nil {
		return Outcome{}, err
	}
	defer func() { err = errors.Join(err, journal.close(in.Now(), err)) }()

	number, err := startRun(ctx, in, began)
	if err != nil {
		return Outcome{}, err
	}
	r := &Run{Now: began, Log: journal.log, Progress: journal.watch(in.Progress, in.Now)}
	failed := runStages(ctx, in.Stages, r)
	outcome, ended := settle(ctx, in, number, r, failed)
	// The run's own error comes first: it is what the reader has to act on.
	return outcome, errors.Join(failed, ended)
}

func runStages(ctx context.Context, stages []Stage, r *Run) error {
	for _, stage := range stages {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.Progress.Stage(stage.Name)
		r.Log.InfoContext(ctx, "stage", slog.String("name", stage.Name))
		if err := stage.Run(ctx, r); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return fmt.Errorf("%s: %w", stage.Name, err)
		}
	}
	return nil
}

func startRun(ctx context.Context, in Input, began time.Time) (number int, err error) {
	landing, err := warehouse.OpenLanding(ctx, in.Landing, in.Engine)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, landing.Close()) }() //nolint:contextcheck // closing writes the log back and must finish
	return landing.StartRun(ctx, in.Command, in.Program, began)
}

// settle notes how the run ended. It works even when the run was interrupted.
func settle(ctx context.Context, in Input, number int, r *Run, failed error) (outcome Outcome, err error) {
	ctx = context.WithoutCancel(ctx)
	landing, err := warehouse.OpenLanding(ctx, in.Landing, in.Engine)
	if err != nil {
		return Outcome{}, err
	}
	defer func() { err = errors.Join(err, landing.Close()) }() //nolint:contextcheck // closing writes the log back and must finish
	known := map[string]bool{}
	for _, command := range in.Compare {
		found, err := landing.KnownFindings(ctx, command, in.Good...)
		if err != nil {
			return Outcome{}, err
		}
		maps.Copy(known, found)
	}
	outcome = Outcome{Batch: r.Batch, Findings: r.Findings}
	var notable []warehouse.KnownFinding
	for _, f := range r.Findings {
		if f.Severity != Attention {
			continue
		}
		notable = append(notable, warehouse.KnownFinding{Fingerprint: f.Fingerprint, Words: f.Text})
		if !known[f.Fingerprint] {
			outcome.New = append(outcome.New, f)
		}
	}
	entry := warehouse.Run{Number: number, Batch: r.Batch, Ended: in.Now(), Outcome: words(outcome, failed)}
	entry.ExitCode = in.ExitCode(outcome.Attention(), failed)
	return outcome, landing.EndRun(ctx, entry, notable)
}

// words says how a run ended, for the ledger.
func words(outcome Outcome, failed error) string {
	switch {
	case failed != nil:
		return failed.Error()
	case outcome.Attention():
		return fmt.Sprintf("done; %d new to look at", len(outcome.New))
	default:
		return "done"
	}
}

// The severities of findings. A note is counted and shown; attention calls a
// person once, when it is new.
const (
	Note      = "note"
	Attention = "attention"
)
