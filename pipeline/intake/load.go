package intake

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// How many rows are checked, and then stored, at a time. Where each time the
// versions in force are looked up in all that stands, what a night costs depends
// on the store: an ordinary night's file is looked up at once, a large one in parts
// that leave room for its keys. Where nothing is looked up, parts are as small as
// keeps both cores busy from early on.
const (
	freshRows  = 4_000
	chunkRows  = 20_000
	smallRows  = 60_000
	smallBytes = 64 << 20
)

// rowsAtATime is how many rows of a sheet are checked and then stored at a time.
func (l *loader) rowsAtATime(ctx context.Context, s *sheetReader) (int, error) {
	most := freshRows
	for _, c := range s.checkers {
		looksUp, err := l.load.LooksUp(ctx, c.table)
		if err != nil {
			return 0, err
		}
		if looksUp && l.file.planned.Bytes <= smallBytes {
			most = smallRows
		} else if looksUp {
			most = chunkRows
		}
	}
	return most, nil
}

// keyTwice is the finding of a key that stands in a file more than once.
const keyTwice = "key_twice_in_file"

// load takes one planned file into a group.
func (r *run) load(ctx context.Context, group *warehouse.Group, by batchRules, p warehouse.Planned, o opened) (FileReport, error) {
	if p.Refused.Code != "" { // nothing of it was kept
		return finishRefused(ctx, group, p, warehouse.FileEnd{Problem: p.Refused})
	}
	f, problem := o.file, o.problem
	if o.err != nil {
		return FileReport{}, fmt.Errorf("take in %s: %w", p.Path, o.err)
	}
	end := warehouse.FileEnd{Headings: f.form.sentHeadings(), Form: f.form.text(), Layout: f.form.name(), Problem: problem}
	if problem.Code != "" {
		return finishRefused(ctx, group, p, end)
	}
	report, err := r.loadFile(ctx, group, by, f, end)
	var refused *source.Refusal
	var many *warehouse.TooManyGoneError
	switch {
	case errors.As(err, &refused):
		end.Problem = warehouse.Problem{Code: refused.Code, Words: refused.Words}
	case errors.As(err, &many):
		end.Problem, end.Table = heldBack(p, many), many.Table
	default:
		return report, err
	}
	return FileReport{}, &turnedAwayError{end: end}
}

// finishRefused keeps of a file why it was not taken in.
func finishRefused(ctx context.Context, group *warehouse.Group, p warehouse.Planned, end warehouse.FileEnd) (FileReport, error) {
	load, err := group.BeginFile(ctx, p)
	if err != nil {
		return FileReport{}, err
	}
	counts, err := load.Finish(ctx, end)
	return FileReport{Planned: p, Form: end.Form, Layout: end.Layout, Counts: counts, Problem: end.Problem}, err
}

// loadFile takes in the rows of a file that was recognised.
func (r *run) loadFile(ctx context.Context, group *warehouse.Group, by batchRules, f *file, end warehouse.FileEnd) (report FileReport, err error) {
	defer func() { err = errors.Join(err, f.close()) }()
	load, err := group.BeginFile(ctx, f.planned)
	if err != nil {
		return FileReport{}, err
	}
	l := &loader{run: r, by: by, file: f, load: load, twice: &tally{}}
	if err := l.all(ctx); err != nil {
		return FileReport{}, fmt.Errorf("take in %s: %w", f.planned.Path, err)
	}
	r.progress(Event{Stage: "storing", Path: f.planned.Path, Rows: l.read})
	end.Read, end.Skipped, end.Findings = l.read, l.skipped, l.findings()
	report = FileReport{Planned: f.planned, Table: strings.Join(l.names, ","), Form: end.Form, Layout: end.Layout, Findings: end.Findings}
	report.Counts, err = load.Finish(ctx, end)
	return report, err
}

// loader takes in one file.
type loader struct {
	*run
	by      batchRules
	file    *file
	load    *warehouse.FileLoad
	sheets  []*sheetReader
	names   []string // of the tables filled, in order
	read    int
	skipped int
	twice   *tally // keys that stand in the file before
	odd     []warehouse.FileFinding
}

func (l *loader) all(ctx context.Context) error {
	if err := l.prepare(ctx); err != nil {
		return err
	}
	if err := l.countTwins(ctx); err != nil {
		return err
	}
	tables := l.tables()
	for i, s := range l.sheets {
		var err error
		switch reader := l.file.src.Sheets[i]; {
		case s.states:
			err = l.deliveries(ctx, s, reader)
		case s.rekeys:
			err = l.rekeys(ctx, s, reader)
		case !s.nothing():
			err = l.rows(ctx, s, reader)
		}
		if err != nil {
			return err
		}
	}
	return l.end(ctx, tables)
}

// prepare makes the reader of each sheet.
func (l *loader) prepare(ctx context.Context) error {
	starts, err := l.starts(ctx)
	if err != nil {
		return err
	}
	if l.by.padded, err = l.load.PaddedKeys(ctx); err != nil {
		return err
	}
	for _, s := range l.file.form.sheets {
		one := newSheetReader(s, l.by, l.file.planned.Sender, l.file.form.returned)
		if s.mapping != nil {
			s.mapping.Starts = starts
		}
		l.sheets = append(l.sheets, one)
	}
	return nil
}

// starts returns the first days of care that the store knows, when the layout
// counts days from there.
func (l *loader) starts(ctx context.Context) (func(string) (time.Time, bool), error) {
	if l.file.form.layout == nil || !layout.NeedsStarts(l.file.form.layout) {
		return nil, nil
	}
	known, err := l.load.EpisodeStarts(ctx)
	if err != nil {
		return nil, err
	}
	return func(episode string) (time.Time, bool) {
		day, ok := known[episode]
		return day, ok
	}, nil
}

// tables returns the tables that the file fills, each once, parents first.
func (l *loader) tables() []export.Table {
	var tables []export.Table
	for _, s := range l.sheets {
		for _, c := range s.checkers {
			if !slices.Contains(l.names, c.table.Name) {
				l.names = append(l.names, c.table.Name)
				tables = append(tables, c.table)
			}
		}
		if s.states {
			l.names = append(l.names, warehouse.DeliveriesTable)
		}
		if s.rekeys {
			l.names = append(l.names, warehouse.RekeysTable)
		}
	}
	all := export.Tables()
	place := func(t export.Table) int {
		return slices.IndexFunc(all, func(one export.Table) bool { return one.Name == t.Name })
	}
	slices.SortFunc(tables, func(a, b export.Table) int { return place(a) - place(b) })
	return tables
}

// countTwins reads the file once before, where it holds values that only trial
// numbers can tell apart.
func (l *loader) countTwins(ctx context.Context) error {
	if !slices.ContainsFunc(l.sheets, (*sheetReader).needsTwins) {
		return nil
	}
	for i, s := range l.sheets {
		if s.nothing() || s.states || s.rekeys {
			continue
		}
		s.begin()
		if err := each(ctx, l.file.src.Sheets[i], s.countTwins); err != nil {
			return err
		}
	}
	return l.file.rewind()
}

// chunk is a stretch of a sheet, checked.
type chunk struct {
	pages   []*page // by checker
	reject  []warehouse.Rejected
	read    int
	skipped int
	err     error
}

// rows checks the rows of a sheet on one core while another stores them.
func (l *loader) rows(ctx context.Context, s *sheetReader, reader source.Reader) error {
	most, err := l.rowsAtATime(ctx, s)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	chunks := make(chan chunk, 1)
	defer func() { // nobody may still be reading the file when this returns
		cancel()
		for range chunks {
			continue
		}
	}()
	go func() {
		defer close(chunks)
		send := func(err error) {
			select {
			case chunks <- s.take(err):
			case <-ctx.Done():
			}
		}
		s.begin()
		err := each(ctx, reader, func(rec source.Record) {
			if s.check(rec); s.read >= most {
				send(nil)
			}
		})
		send(err)
	}()
	for one := range chunks {
		if one.err != nil {
			return one.err
		}
		if err := l.store(ctx, s, one); err != nil {
			return err
		}
	}
	return ctx.Err()
}

func (l *loader) store(ctx context.Context, s *sheetReader, one chunk) error {
	for i, p := range one.pages {
		outcomes, err := l.load.Add(ctx, s.checkers[i].table, p.rows)
		if err != nil {
			return err
		}
		for n, o := range outcomes {
			if o.Again {
				l.twice.add(p.rows[n].Line)
			}
		}
		s.checkers[i].giveBack(p)
	}
	if err := l.load.Reject(one.reject); err != nil {
		return err
	}
	l.read += one.read
	l.skipped += one.skipped
	l.progress(Event{Stage: "rows", Path: l.file.planned.Path, Rows: one.read})
	return nil
}

// each hands every record to do.
func each(ctx context.Context, src source.Reader, do func(source.Record)) error {
	for n := 0; ; n++ {
		if n%1000 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		rec, ok, err := src.Next()
		if err != nil || !ok {
			return err
		}
		do(rec)
	}
}
