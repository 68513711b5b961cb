package warehouse

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"evenlimb/pipeline/export"
)

// FileLoad takes in one file of a group: once the group is committed it is wholly
// in, and in every other case wholly out.
type FileLoad struct {
	*Group
	alone    bool // the group is this file
	file     int
	planned  Planned
	tables   []*tableLoad // in the order in which their first rows came
	side     string       // DeliveriesTable or RekeysTable, where the file holds no rows of an export table
	counts   Counts
	again    again
	rejects  map[string]map[uint64]struct{} // by table: keys of rejected rows, by their hash
	unread   map[string]int                 // by table, "" for any: rejected rows whose key could not be read
	findings []FileFinding                  // of the load itself
}

// tableLoad is one of the tables that a file fills.
type tableLoad struct {
	table  export.Table
	to     *tableAppender
	stored bool    // rows of this sender stood in the store before this file
	before *keySet // the hashes of all their keys; nil: nobody knows them
	seen   keySet  // keys of this file, by their hash
}

// BeginFile begins to take in a planned file of the open batch, in a transaction
// of its own.
func (l *Landing) BeginFile(ctx context.Context, batch int, p Planned) (*FileLoad, error) {
	g, err := l.BeginGroup(ctx, batch)
	if err != nil {
		return nil, fmt.Errorf("take in %s: %w", p.Path, err)
	}
	f, err := g.BeginFile(ctx, p)
	if err != nil {
		return nil, errors.Join(err, g.Abort())
	}
	f.alone = true
	return f, nil
}

// BeginFile begins to take in a planned file of the batch. The file before it
// must be finished.
func (g *Group) BeginFile(ctx context.Context, p Planned) (*FileLoad, error) {
	f := &FileLoad{Group: g, file: g.next, planned: p, rejects: map[string]map[uint64]struct{}{}, unread: map[string]int{}}
	id := [2]string{p.Path, p.SHA256}
	if g.in[id] {
		return nil, fmt.Errorf("take in %s: it is in already", p.Path)
	}
	if err := f.readOrigins(ctx); err != nil {
		return nil, fmt.Errorf("take in %s: %w", p.Path, err)
	}
	g.in[id] = true
	g.next++
	return f, nil
}

// into returns the load of one table and begins it with its first rows.
func (f *FileLoad) into(ctx context.Context, t export.Table) (*tableLoad, error) {
	for _, one := range f.tables {
		if one.table.Name == t.Name {
			return one, nil
		}
	}
	one := &tableLoad{table: t, to: f.appender(t)}
	id := senderTable{f.planned.Sender, t.Name}
	one.before, one.stored = f.landing.all[id], f.landing.stored[id]
	if !one.stored {
		if err := f.store().QueryRowContext(ctx, "select count(*) > 0 from (select 1 from "+t.Name+" where _sender = ? limit 1)", f.planned.Sender).Scan(&one.stored); err != nil {
			return nil, err
		}
		f.landing.stored[id] = one.stored
	}
	f.tables = append(f.tables, one)
	return one, nil
}

// mostHeld is how many rows an appender may hold while others are written: it
// would write a far larger number by itself, into the middle of that.
const mostHeld = 10_000

// Reject puts rows into quarantine.
func (f *FileLoad) Reject(rows []Rejected) error {
	if f.held += len(rows); f.held > mostHeld {
		f.settle()
		if err := f.rejected.Flush(); err != nil {
			return err
		}
		f.held = len(rows)
	}
	for _, r := range rows {
		err := f.rejected.AppendRow(int32(f.batch), int32(f.file), int32(r.Line), r.Reasons, r.Words, r.Cells) //nolint:gosec // files have far fewer lines
		if err != nil {
			return fmt.Errorf("quarantine line %d: %w", r.Line, err)
		}
		if r.Key == "" {
			f.unread[r.Table]++
			continue
		}
		if f.rejects[r.Table] == nil {
			f.rejects[r.Table] = map[uint64]struct{}{}
		}
		f.rejects[r.Table][keyHash(r.Key)] = struct{}{}
	}
	f.counts.Read += len(rows)
	f.counts.Quarantined += len(rows)
	return nil
}

// Deliver takes in statements about deliveries; the file holds nothing else.
func (f *FileLoad) Deliver(ctx context.Context, list []Delivery) error {
	f.side = DeliveriesTable
	for _, d := range list {
		if _, err := f.store().ExecContext(ctx, "insert into deliveries values (?, ?, ?, ?, ?, ?, ?)", f.batch, f.file, d.Line, f.planned.Sender, d.Site, d.CompleteFrom, d.CompleteTo); err != nil {
			return err
		}
	}
	f.counts.Read += len(list)
	f.counts.Accepted += len(list)
	return nil
}

// Finish notes the file's own row and its findings; a file that is a group of its
// own is committed. When the rows that the reader counted are not the sum of what
// became of them, nothing of the group is kept and the run stops.
func (f *FileLoad) Finish(ctx context.Context, end FileEnd) (counts Counts, err error) {
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("take in %s: %w", f.planned.Path, err), f.Abort())
		}
	}()
	f.counts.Skipped = end.Skipped
	if end.Problem.Code == "" {
		if err := f.withdrawUnsaid(ctx); err != nil {
			return Counts{}, err
		}
	}
	c := f.counts
	if end.Read != c.Read || !c.holds() {
		return Counts{}, fmt.Errorf("%d rows were read but %d accepted, %d duplicates, %d corrections, %d withdrawals and %d in quarantine; this is a fault of the program, please report it",
			end.Read, c.Accepted, c.Duplicates, c.Corrections, c.Withdrawals, c.Quarantined)
	}
	if f.again.superseded.Count > 0 {
		f.findings = append(f.findings, f.again.superseded)
	}
	f.ends = append(f.ends, FileRecord{
		File: f.file, Batch: f.batch, Planned: f.planned, Table: cmp.Or(f.name(), end.Table), Headings: end.Headings, Form: end.Form, Layout: end.Layout,
		AgainOf: f.again.of, Counts: c, Problem: end.Problem,
	})
	for _, n := range append(end.Findings, f.findings...) {
		f.odd = append(f.odd, oddOf{f.file, n})
	}
	f.note()
	if f.alone {
		return c, f.Commit()
	}
	return c, nil
}

// senderTable names the rows of one sender in one table.
type senderTable struct{ sender, table string }

// note remembers the keys of a file that is finished, for a sender all of whose
// rows came in this run. A first delivery of hundreds of files is then not looked
// up in the store file by file. When a group fails all is forgotten; a sender of
// whom the store knew before stays out.
func (f *FileLoad) note() {
	for _, one := range f.tables {
		switch {
		case one.before != nil:
			one.before.addAll(&one.seen)
		case !one.stored:
			id := senderTable{f.planned.Sender, one.table.Name}
			f.landing.all[id], f.landing.stored[id] = &one.seen, one.seen.count > 0
		}
	}
}

// name is what stands in files.table_name.
func (f *FileLoad) name() string {
	if f.side != "" {
		return f.side
	}
	var names []string
	for _, one := range f.tables {
		names = append(names, one.table.Name)
	}
	return strings.Join(names, ",")
}

// nullable is null for an empty text.
func nullable(text string) sql.NullString { return sql.NullString{String: text, Valid: text != ""} }
