package intake

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// chunkRows is how many rows are checked, and then stored, at a time.
const chunkRows = 20_000

// keyTwice is the finding of a key that stands in a file more than once.
const keyTwice = "key_twice_in_file"

// chunk is a stretch of a file, checked.
type chunk struct {
	rows   []warehouse.Row
	reject []warehouse.Rejected
	err    error
}

// load takes one planned file into landing.
func (r *run) load(ctx context.Context, batch int, practice *settings.Practice, p warehouse.Planned) (report FileReport, err error) {
	load, err := r.in.Landing.BeginFile(ctx, batch, p)
	if err != nil {
		return FileReport{}, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, load.Abort())
		}
	}()
	if p.Refused.Code != "" { // nothing of it was kept
		report = FileReport{Planned: p, Problem: p.Refused}
		report.Counts, err = load.Finish(ctx, warehouse.FileEnd{Problem: p.Refused})
		return report, err
	}
	f, err := openFile(r.in.Dir, p, practice)
	if err != nil {
		return FileReport{}, err
	}
	defer func() { err = errors.Join(err, f.close()) }()
	report = FileReport{Planned: p, Problem: f.problem}
	var read int
	switch {
	case f.problem.Code != "":
	case f.layout == nil:
		report.Table = warehouse.DeliveriesTable
		read, err = r.loadDeliveries(ctx, f, practice, load)
	default:
		report.Table = f.layout.table.Name
		read, report.Findings, err = r.loadRows(ctx, f, load)
	}
	if err != nil {
		return FileReport{}, fmt.Errorf("take in %s: %w", p.Path, err)
	}
	for _, column := range p.Allowed {
		report.Findings = append(report.Findings, warehouse.FileFinding{Code: "guard_allowed", Count: 1, Words: column + " was let through as the settings allow"})
	}
	r.progress(Event{Stage: "storing", Path: p.Path, Rows: read})
	report.Counts, err = load.Finish(ctx, warehouse.FileEnd{Read: read, Headings: f.headings, Problem: f.problem, Findings: report.Findings})
	return report, err
}

// file is an archived file, open and recognised.
type file struct {
	planned  warehouse.Planned
	dir      string
	src      io.ReadCloser
	reader   source.Reader
	headings []string
	layout   *layout // nil for a file that holds statements about deliveries
	problem  warehouse.Problem
}

func openFile(dir string, p warehouse.Planned, practice *settings.Practice) (*file, error) {
	f := &file{planned: p, dir: dir}
	if err := f.rewind(); err != nil {
		return nil, err
	}
	if f.problem.Code == "" && !statesDeliveries(f.headings) {
		f.layout, f.problem = recognise(f.headings, practice, p.Sender)
	}
	return f, nil
}

// rewind begins at the file's first row. The bytes are those of the archive, so
// a file that changes in the inbox after it was planned changes nothing.
func (f *file) rewind() error {
	if err := f.close(); err != nil {
		return err
	}
	src, err := OpenArchived(f.dir, f.planned.SHA256)
	if err != nil {
		return err
	}
	f.src, f.reader = src, source.NewCSV(src)
	f.headings, err = f.reader.Headings()
	switch {
	case errors.Is(err, source.ErrHeadings):
		f.problem = warehouse.Problem{Code: "no_headings", Words: "the first line is not a row of headings (a quote is open, or it is longer than any); send the file again as comma-separated text"}
	case err != nil:
		return fmt.Errorf("read the archived file %s: %w; put it back from a backup", short(f.planned.SHA256), err)
	case notText(f.headings):
		f.headings = nil
		f.problem = warehouse.Problem{Code: "not_text", Words: "this is not comma-separated text in UTF-8; export it as such and send it again"}
	}
	return nil
}

func (f *file) close() error {
	if f.src == nil {
		return nil
	}
	src := f.src
	f.src = nil
	return src.Close()
}

func notText(headings []string) bool {
	return slices.ContainsFunc(headings, func(h string) bool { return checkText(h, source.MaxRow) != nil })
}

// loadRows checks the rows of a file on one core while another stores them.
func (r *run) loadRows(ctx context.Context, f *file, load *warehouse.FileLoad) (read int, findings []warehouse.FileFinding, err error) {
	c := newChecker(f.layout)
	if f.layout.trial >= 0 {
		c.twins = map[[16]byte]int{}
		if err := each(ctx, f.reader, c.countTwin); err != nil {
			return 0, nil, err
		}
		if err := f.rewind(); err != nil {
			return 0, nil, err
		}
	}
	ctx, cancel := context.WithCancel(ctx)
	chunks := make(chan chunk, 1)
	defer func() { // nobody may still be reading the file when this returns
		cancel()
		for range chunks {
			continue
		}
	}()
	rows := 0
	go func() {
		defer close(chunks)
		send := func(err error) {
			select {
			case chunks <- chunk{c.rows, c.reject, err}:
			case <-ctx.Done():
			}
			c.rows, c.reject = nil, nil
		}
		err := each(ctx, f.reader, func(rec source.Record) {
			c.check(rec)
			if rows++; rows%chunkRows == 0 {
				send(nil)
			}
		})
		send(err)
	}()
	twice := &tally{}
	for one := range chunks {
		if one.err != nil {
			return 0, nil, one.err
		}
		outcomes, err := load.Add(ctx, f.layout.table, one.rows)
		if err != nil {
			return 0, nil, err
		}
		for i, o := range outcomes {
			if o.Again {
				twice.add(one.rows[i].Line)
			}
		}
		if err := load.Reject(one.reject); err != nil {
			return 0, nil, err
		}
		r.progress(Event{Stage: "rows", Path: f.planned.Path, Rows: len(one.rows) + len(one.reject)})
	}
	if err := ctx.Err(); err != nil {
		return 0, nil, err
	}
	return rows, c.findings(twice), nil
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

// findings lists what is odd about the rows that were kept, in fixed order.
func (c *checker) findings(twice *tally) []warehouse.FileFinding {
	var list []warehouse.FileFinding
	if twice.count > 0 {
		list = append(list, warehouse.FileFinding{Code: keyTwice, Count: twice.count, Lines: twice.lines, Words: "the key of the row stands in the file before; the later line holds"})
	}
	for _, column := range c.columns {
		if t := c.unusual[column.Name]; t != nil {
			list = append(list, warehouse.FileFinding{Code: column.Name + ":" + unusual, Count: t.count, Lines: t.lines, Words: t.words})
		}
	}
	return list
}
