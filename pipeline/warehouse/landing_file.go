package warehouse

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"strings"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/export"
)

// FileLoad takes in one file in one transaction: after Commit it is wholly in,
// and in every other case, a killed process among them, wholly out.
type FileLoad struct {
	landing  *Landing
	conn     *sql.Conn
	raw      driver.Conn
	tx       *sql.Tx
	batch    int
	file     int
	planned  Planned
	tables   []*tableLoad // in the order in which their first rows came
	side     string       // DeliveriesTable or RekeysTable, where the file holds no rows of an export table
	keys     *duckdb.Appender
	rejected *duckdb.Appender
	counts   Counts
	again    again
	rejects  map[string]map[uint64]struct{} // by table: keys of rejected rows, by their hash
	unread   map[string]int                 // by table, "" for any: rejected rows whose key could not be read
	findings []FileFinding                  // of the load itself
}

// tableLoad is one of the tables that a file fills.
type tableLoad struct {
	table   export.Table
	rows    *duckdb.Appender
	columns []int   // of the table, that the appender takes
	stored  bool    // rows of this sender stood in the store before this file
	before  *keySet // the hashes of all their keys; nil: nobody knows them
	seen    keySet  // keys of this file, by their hash
}

// BeginFile begins to take in a planned file of the open batch.
func (l *Landing) BeginFile(ctx context.Context, batch int, p Planned) (*FileLoad, error) {
	conn, err := l.db.Conn(ctx)
	if err != nil {
		return nil, fmt.Errorf("take in %s: %w", p.Path, err)
	}
	f := &FileLoad{landing: l, conn: conn, batch: batch, planned: p, rejects: map[string]map[uint64]struct{}{}, unread: map[string]int{}}
	if err := f.begin(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("take in %s: %w", p.Path, err), f.Abort())
	}
	return f, nil
}

func (f *FileLoad) begin(ctx context.Context) error {
	var err error
	if f.raw, err = rawConn(f.conn); err != nil {
		return err
	}
	if _, err := f.conn.ExecContext(ctx, "create or replace temp table incoming_keys (ordinal integer not null, hash ubigint not null)"); err != nil {
		return err
	}
	// A transaction that ended by itself with its context would leave the
	// appenders writing outside of any.
	tx, err := f.conn.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		return err
	}
	f.tx = tx
	var open bool
	if err := tx.QueryRowContext(ctx, "select count(*) = 1 from batches where batch = ? and state = 'open'", f.batch).Scan(&open); err != nil {
		return err
	}
	if !open {
		return fmt.Errorf("batch %d is not open", f.batch)
	}
	var already bool
	if err := tx.QueryRowContext(ctx, "select count(*) > 0 from files where batch = ? and path = ? and sha256 = ?", f.batch, f.planned.Path, f.planned.SHA256).Scan(&already); err != nil {
		return err
	}
	if already {
		return errors.New("it is in already")
	}
	if err := tx.QueryRowContext(ctx, "select coalesce(max(file), 0) + 1 from files").Scan(&f.file); err != nil {
		return err
	}
	if err := f.readOrigins(ctx); err != nil {
		return err
	}
	if f.keys, err = duckdb.NewAppender(f.raw, "temp", "main", "incoming_keys"); err != nil {
		return err
	}
	f.rejected, err = duckdb.NewAppenderFromConn(f.raw, "", "quarantine")
	return err
}

// into returns the load of one table and begins it with its first rows.
func (f *FileLoad) into(ctx context.Context, t export.Table) (*tableLoad, error) {
	for _, one := range f.tables {
		if one.table.Name == t.Name {
			return one, nil
		}
	}
	one := &tableLoad{table: t}
	if one.before = f.landing.all[senderTable{f.planned.Sender, t.Name}]; one.before != nil {
		one.stored = true
		f.tables = append(f.tables, one)
		return one, nil
	}
	if err := f.tx.QueryRowContext(ctx, "select count(*) > 0 from (select 1 from "+t.Name+" where _sender = ? limit 1)", f.planned.Sender).Scan(&one.stored); err != nil {
		return nil, err
	}
	f.tables = append(f.tables, one)
	return one, nil
}

// Reject puts rows into quarantine.
func (f *FileLoad) Reject(rows []Rejected) error {
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
		if _, err := f.tx.ExecContext(ctx, "insert into deliveries values (?, ?, ?, ?, ?, ?, ?)", f.batch, f.file, d.Line, f.planned.Sender, d.Site, d.CompleteFrom, d.CompleteTo); err != nil {
			return err
		}
	}
	f.counts.Read += len(list)
	f.counts.Accepted += len(list)
	return nil
}

// Finish writes the file's own row and its findings, and commits. When the rows
// that the reader counted are not the sum of what became of them, nothing is kept
// and the run stops.
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
	if err := f.closeAppenders(); err != nil {
		return Counts{}, err
	}
	_, err = f.tx.ExecContext(ctx, "insert into files values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		f.file, f.batch, f.planned.Sender, f.planned.Path, f.planned.SHA256, f.planned.Bytes, nullable(cmp.Or(f.name(), end.Table)), end.Headings,
		c.Read, c.Accepted, c.Duplicates, c.Corrections, c.Withdrawals, c.Quarantined, nullable(end.Problem.Code), nullable(end.Problem.Words),
		nullable(end.Form), nullable(end.Layout), c.Skipped, c.Gone, f.againOf())
	if err != nil {
		return Counts{}, err
	}
	if f.again.superseded.Count > 0 {
		f.findings = append(f.findings, f.again.superseded)
	}
	for _, n := range append(end.Findings, f.findings...) {
		lines := make([]int32, len(n.Lines)) // the driver binds no list of int
		for i, line := range n.Lines {
			lines[i] = int32(line) //nolint:gosec // files have far fewer lines
		}
		if _, err := f.tx.ExecContext(ctx, "insert into file_findings values (?, ?, ?, ?, ?, ?)", f.batch, f.file, n.Code, n.Count, lines, n.Words); err != nil {
			return Counts{}, err
		}
	}
	if err := f.tx.Commit(); err != nil {
		return Counts{}, err
	}
	f.tx = nil
	f.note()
	return c, f.conn.Close()
}

// senderTable names the rows of one sender in one table.
type senderTable struct{ sender, table string }

// note remembers the keys of a file that is in, for a sender all of whose rows
// came in this run. A first delivery of hundreds of files is then not looked up
// in the store file by file. The keys of what fails stay out, and so does a
// sender of whom the store knew before.
func (f *FileLoad) note() {
	for _, one := range f.tables {
		switch {
		case one.before != nil:
			one.before.addAll(&one.seen)
		case !one.stored:
			f.landing.all[senderTable{f.planned.Sender, one.table.Name}] = &one.seen
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

// Abort leaves nothing of the file behind. After Finish it does nothing.
func (f *FileLoad) Abort() error {
	var err error
	if f.tx != nil {
		for _, a := range f.appenders() {
			if *a != nil {
				err = errors.Join(err, (*a).Clear())
			}
		}
		err = errors.Join(err, f.closeAppenders(), f.tx.Rollback())
		f.tx = nil
	}
	if closeErr := f.conn.Close(); closeErr != nil && !errors.Is(closeErr, sql.ErrConnDone) {
		err = errors.Join(err, closeErr)
	}
	return err
}

func (f *FileLoad) appenders() []**duckdb.Appender {
	list := []**duckdb.Appender{&f.keys, &f.rejected}
	for _, one := range f.tables {
		list = append(list, &one.rows)
	}
	return list
}

func (f *FileLoad) closeAppenders() error {
	var err error
	for _, a := range f.appenders() {
		if *a != nil {
			err = errors.Join(err, (*a).Close())
			*a = nil
		}
	}
	return err
}

// nullable is null for an empty text.
func nullable(text string) sql.NullString { return sql.NullString{String: text, Valid: text != ""} }
