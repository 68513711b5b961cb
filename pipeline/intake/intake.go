// Package intake takes in the files that senders dropped: it archives each,
// recognises its table, checks every row and puts it into the landing store or
// into quarantine.
//
// A run first plans: it lists what is new and writes the plan into the store as
// the next batch. Then it loads the planned files, a large one in a transaction of
// its own and small ones several together, so that each is wholly in or not at all.
// A run that is cut off leaves an open batch behind, of which the files of the last
// transaction are missing, and the next run finishes exactly that plan before it
// looks for anything newer.
package intake

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"slices"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// Input is what a run works on.
type Input struct {
	Dir      string // the practice folder; its settings are read anew
	Landing  *warehouse.Landing
	Now      time.Time
	Program  string        // version of the program, for the ledger
	Settle   time.Duration // how long a new file must lie still
	Progress func(Event)   // may be nil
	Log      *slog.Logger  // may be nil

	Also []warehouse.Planned // files of the archive to take in beside what is new: see ReadAgain and Accept
}

// Event says how far a run is.
type Event struct {
	Stage string // looking, archiving, planned, loading, rows, storing, quarantine, closed
	Path  string // of the file, below inbox/
	Done  int    // files before it
	Total int    // files in all
	Rows  int    // rows in this step
}

// Report is what a run did.
type Report struct {
	Batch     warehouse.Batch // the newest batch; number 0 while there is none
	New       bool            // it was opened by this run
	Resumed   int             // batch of an earlier run that this one finished; 0: none
	ClockBack bool            // the clock stands before the batch before
	Files     []FileReport    // loaded by this run, in their order
	Trouble   []Trouble       // left in the inbox
	Waiting   []string        // still being written; looked at again next time
}

// FileReport is what became of one file.
type FileReport struct {
	warehouse.Planned
	Table      string
	Form       string // how it was read
	Layout     string // by which layout; empty for the canonical headings
	Counts     warehouse.Counts
	Problem    warehouse.Problem
	Findings   []warehouse.FileFinding
	Quarantine string // inside the practice folder; empty when no row was rejected
}

type run struct {
	in       Input
	files    []settings.File    // as they stand in the folder
	practice *settings.Practice // the same, understood
	layouts  []*settings.Layout
	report   Report
}

// heapRoom is how many hundredths of what is in use the heap may grow before it
// is cleared up.
const heapRoom = 50

// Run takes in what is new. What is wrong with a file or row is in the report
// and the store; an error means that the run could not go on, and that a next
// run will finish it. A *StopError means that all is in that can be, but that a person
// must answer before results are computed.
func Run(ctx context.Context, in Input) (Report, error) {
	if in.Log == nil {
		in.Log = slog.New(slog.DiscardHandler)
	}
	// A large file keeps a large heap of keys; with half the room over it the whole
	// stays within 1 GiB, and takes no longer.
	defer debug.SetGCPercent(debug.SetGCPercent(heapRoom))
	r := &run{in: in}
	if err := r.all(ctx); err != nil {
		return r.report, fmt.Errorf("intake: %w", err)
	}
	return r.report, nil
}

func (r *run) all(ctx context.Context) error {
	if err := r.readSettings(); err != nil {
		return err
	}
	if err := sweep(r.in.Dir); err != nil {
		return err
	}
	open, rest, ok, err := r.in.Landing.ResumeBatch(ctx)
	if err != nil {
		return err
	}
	if ok {
		r.report.Resumed = open.Number
		if err := r.finish(ctx, open, rest); err != nil {
			return err
		}
	}
	fresh, err := r.arrivals(ctx)
	if err != nil {
		return err
	}
	plan := inOrder(r.in.Also, fresh)
	changed, err := r.changedSettings(ctx)
	if err != nil {
		return err
	}
	if len(plan) > 0 || len(changed) > 0 {
		batch, back, err := r.in.Landing.OpenBatch(ctx, r.today(), r.in.Program, plan, changed)
		if err != nil {
			return err
		}
		r.report.New, r.report.ClockBack = true, back
		r.progress(Event{Stage: "planned", Total: len(plan)})
		if err := r.finish(ctx, batch, plan); err != nil {
			return err
		}
	}
	batches, err := r.in.Landing.Batches(ctx)
	if err == nil && len(batches) > 0 {
		r.report.Batch = batches[len(batches)-1]
	}
	if err != nil {
		return err
	}
	if err := r.held(ctx); err != nil {
		return err
	}
	return r.unanswered(ctx)
}

// readSettings reads the settings once, so that the plan and the versions kept
// with it are of one moment.
func (r *run) readSettings() error {
	var err error
	if r.files, err = settings.Files(r.in.Dir); err != nil {
		return err
	}
	for _, f := range r.files {
		if f.Path == settings.PracticeFile {
			r.practice, err = settings.Parse(f.Text, f.Path)
		}
	}
	if err != nil {
		return err
	}
	r.layouts, err = settings.Layouts(r.files, r.practice)
	return err
}

// today is the date of the run in the practice's zone.
func (r *run) today() time.Time {
	year, month, day := r.in.Now.In(r.practice.Location()).Date()
	return time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
}

// finish loads the files of an open batch that are not in yet, by the settings
// of that batch, and closes it.
func (r *run) finish(ctx context.Context, batch warehouse.Batch, rest []warehouse.Planned) error {
	by, err := r.rulesAt(ctx, batch)
	if err != nil {
		return err
	}
	before := len(r.report.Files)
	if err := r.loadAll(ctx, batch.Number, by, rest); err != nil {
		return err
	}
	loaded := map[string]int{}
	for i, f := range r.report.Files[before:] {
		loaded[f.Path] = before + i
	}
	if err := r.quarantine(ctx, batch.Number, loaded); err != nil {
		return err
	}
	if err := r.indexBatch(ctx, batch); err != nil {
		return err
	}
	if err := r.drift(ctx, batch.Number); err != nil {
		return err
	}
	if err := r.in.Landing.CloseBatch(ctx, batch.Number); err != nil {
		return err
	}
	r.progress(Event{Stage: "closed", Done: len(rest), Total: len(rest)})
	return nil
}

// rulesAt returns the settings of a batch.
func (r *run) rulesAt(ctx context.Context, batch warehouse.Batch) (by batchRules, err error) {
	by.received = batch.ReceivedOn
	if by.practice, err = r.in.Landing.PracticeAt(ctx, batch.Number); err != nil {
		return by, err
	}
	files, err := r.in.Landing.SettingsAt(ctx, batch.Number)
	if err != nil {
		return by, err
	}
	by.layouts, err = settings.Layouts(files, by.practice)
	by.readBy = func(file int) string {
		known, err := r.in.Landing.Files(ctx, batch.Number)
		i := slices.IndexFunc(known, func(f warehouse.FileRecord) bool { return f.File == file })
		if err != nil || i < 0 {
			return ""
		}
		return known[i].Layout
	}
	return by, err
}

// quarantine writes the rejected rows of all files of a batch beside the inbox,
// those of an earlier, cut-off run among them.
func (r *run) quarantine(ctx context.Context, batch int, loaded map[string]int) error {
	files, err := r.in.Landing.Files(ctx, batch)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Batch != batch || f.Counts.Quarantined == 0 {
			continue
		}
		r.progress(Event{Stage: "quarantine", Path: f.Path, Rows: f.Counts.Quarantined})
		name, err := r.writeQuarantine(ctx, f)
		if err != nil {
			return err
		}
		if i, ok := loaded[f.Path]; ok {
			r.report.Files[i].Quarantine = name
		}
	}
	return nil
}

// changedSettings returns the settings files that are not, in their meaning,
// what the newest batch has; those that are gone without text.
func (r *run) changedSettings(ctx context.Context) ([]settings.File, error) {
	before, err := r.in.Landing.SettingsAt(ctx, newest)
	if err != nil {
		return nil, err
	}
	stored := map[string]string{}
	for _, f := range before {
		// The version is made anew: a program that reads more into the same text
		// must not take it for a change.
		again, err := settings.Versioned(f.Path, f.Text)
		var problems *settings.Problems
		if err != nil && !errors.As(err, &problems) {
			return nil, err
		}
		stored[f.Path] = again.Version
	}
	var changed []settings.File
	for _, f := range r.files {
		if version, known := stored[f.Path]; !known || version != f.Version {
			changed = append(changed, f)
		}
		delete(stored, f.Path)
	}
	for _, f := range before {
		if _, gone := stored[f.Path]; gone {
			changed = append(changed, settings.File{Path: f.Path})
		}
	}
	return changed, nil
}

// newest stands for a batch later than any.
const newest = 1<<31 - 1

func (r *run) progress(e Event) {
	if r.in.Progress != nil {
		r.in.Progress(e)
	}
}

// log notes a file without anything that stood in its cells.
func (r *run) log(ctx context.Context, batch int, f FileReport) {
	c := f.Counts
	level := slog.LevelInfo
	if f.Problem.Code != "" || c.Quarantined > 0 {
		level = slog.LevelWarn
	}
	r.in.Log.Log(ctx, level, "file taken in", "batch", batch, "path", f.Path, "table", f.Table, "problem", f.Problem.Code,
		"read", c.Read, "accepted", c.Accepted, "duplicates", c.Duplicates, "corrections", c.Corrections, "withdrawals", c.Withdrawals, "quarantined", c.Quarantined,
		"skipped", c.Skipped, "gone", c.Gone, "form", f.Form, "layout", f.Layout, "mode", string(f.Mode))
}
