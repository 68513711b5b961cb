package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/export"
)

// Group takes in some files, one after the other, in one transaction: a commit for
// each of hundreds of small files would take longer than their rows. After Commit
// all of them are in, each wholly; in every other case, a killed process among
// them, none is, and the next run takes in all of them again. Later files of a
// group see the rows of earlier ones.
type Group struct {
	landing  *Landing
	conn     *sql.Conn
	raw      driver.Conn
	tx       *sql.Tx
	batch    int
	next     int                // number of the next file
	in       map[[2]string]bool // files of the batch that are in, by path and SHA-256
	tables   []*tableAppender
	keys     *duckdb.Appender
	rejected *duckdb.Appender
	held     int          // rejected rows that are not written yet
	ends     []FileRecord // of the files finished
	odd      []oddOf
	written  int        // of ends, that stand in the store
	writing  chan error // the end of what another core writes; nil: nothing
	failed   error      // of it
}

// oddOf is a finding about a file.
type oddOf struct {
	file int
	FileFinding
}

// tableAppender writes the rows of one table, of all files of a group. It is two
// appenders in turn: one is filled while another core writes what the other took.
type tableAppender struct {
	table   export.Table
	rows    *duckdb.Appender // is filled
	other   *duckdb.Appender // was filled before
	columns []int            // of the table, that both take
}

// BeginGroup begins to take in planned files of the open batch.
func (l *Landing) BeginGroup(ctx context.Context, batch int) (*Group, error) {
	conn, err := l.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	g := &Group{landing: l, conn: conn, batch: batch, in: map[[2]string]bool{}}
	if err := g.begin(ctx); err != nil {
		return nil, errors.Join(err, g.Abort())
	}
	return g, nil
}

func (g *Group) begin(ctx context.Context) error {
	var err error
	if g.raw, err = rawConn(g.conn); err != nil {
		return err
	}
	if _, err := g.conn.ExecContext(ctx, "create or replace temp table incoming_keys (ordinal integer not null, hash ubigint not null)"); err != nil {
		return err
	}
	// A transaction that ended by itself with its context would leave the
	// appenders writing outside of any.
	tx, err := g.conn.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		return err
	}
	g.tx = tx
	var open bool
	const state = "select coalesce((select max(file) from files), 0) + 1, exists (select 1 from batches where batch = ? and state = 'open')"
	if err := tx.QueryRowContext(ctx, state, g.batch).Scan(&g.next, &open); err != nil {
		return err
	}
	if !open {
		return fmt.Errorf("batch %d is not open", g.batch)
	}
	in, err := collect(ctx, tx, func(rows *sql.Rows, id *[2]string) error { return rows.Scan(&id[0], &id[1]) }, "select path, sha256 from files where batch = ?", g.batch)
	if err != nil {
		return err
	}
	for _, id := range in {
		g.in[id] = true
	}
	if g.keys, err = duckdb.NewAppender(g.raw, "temp", "main", "incoming_keys"); err != nil {
		return err
	}
	g.rejected, err = duckdb.NewAppenderFromConn(g.raw, "", "quarantine")
	return err
}

// appender returns what writes the rows of a table.
func (g *Group) appender(t export.Table) *tableAppender {
	for _, one := range g.tables {
		if one.table.Name == t.Name {
			return one
		}
	}
	one := &tableAppender{table: t}
	g.tables = append(g.tables, one)
	return one
}

// write lets another core write what was appended to a table. Until it is done
// nothing else may be asked of the connection, so whoever does settles first;
// rows may be put together meanwhile.
func (g *Group) write(to *tableAppender) error {
	if g.settle(); g.failed != nil {
		return g.failed
	}
	to.rows, to.other = to.other, to.rows
	g.writing = make(chan error, 1)
	go func(rows *duckdb.Appender, end chan<- error) { end <- rows.Flush() }(to.other, g.writing)
	return nil
}

// settle waits until all that was appended stands in the store.
func (g *Group) settle() {
	if g.writing != nil {
		g.failed = errors.Join(g.failed, <-g.writing)
		g.writing = nil
	}
}

// idle says whether nothing is being written.
func (g *Group) idle() bool {
	if len(g.writing) > 0 {
		g.settle()
	}
	return g.writing == nil
}

// store returns the transaction, in which all stands that was appended before.
func (g *Group) store() *sql.Tx {
	g.settle()
	return g.tx
}

// writeEnds writes the rows of the files that are finished.
func (g *Group) writeEnds() error {
	g.settle()
	err := appendAll(g.raw, "", "files", g.ends[g.written:], func(f FileRecord) []any {
		var again any
		if f.AgainOf > 0 {
			again = f.AgainOf
		}
		c := f.Counts
		return []any{
			f.File, f.Batch, f.Sender, f.Path, f.SHA256, f.Bytes, orNull(f.Table), f.Headings, c.Read, c.Accepted, c.Duplicates, c.Corrections, c.Withdrawals, c.Quarantined,
			orNull(f.Problem.Code), orNull(f.Problem.Words), orNull(f.Form), orNull(f.Layout), c.Skipped, c.Gone, again,
		}
	})
	if err != nil {
		return err
	}
	g.written = len(g.ends)
	err = appendAll(g.raw, "", "file_findings", g.odd, func(n oddOf) []any {
		lines := make([]int32, len(n.Lines))
		for i, line := range n.Lines {
			lines[i] = int32(line) //nolint:gosec // files have far fewer lines
		}
		return []any{g.batch, n.file, n.Code, n.Count, lines, n.Words}
	})
	g.odd = nil
	return err
}

// Commit makes the files that are finished part of the store.
func (g *Group) Commit() error {
	g.settle()
	if err := errors.Join(g.failed, g.closeAppenders(), g.writeEnds()); err != nil {
		return errors.Join(err, g.Abort())
	}
	if err := g.tx.Commit(); err != nil {
		return errors.Join(err, g.Abort())
	}
	g.tx = nil
	return g.conn.Close()
}

// Abort leaves nothing of the files behind. After Commit it does nothing.
func (g *Group) Abort() error {
	var err error
	if g.tx != nil {
		g.settle()
		for _, a := range g.appenders() {
			if *a != nil {
				err = errors.Join(err, (*a).Clear())
			}
		}
		err = errors.Join(err, g.closeAppenders(), g.tx.Rollback())
		g.tx = nil
		g.landing.forget()
	}
	if closeErr := g.conn.Close(); closeErr != nil && !errors.Is(closeErr, sql.ErrConnDone) {
		err = errors.Join(err, closeErr)
	}
	return err
}

func (g *Group) appenders() []**duckdb.Appender {
	list := []**duckdb.Appender{&g.keys, &g.rejected}
	for _, one := range g.tables {
		list = append(list, &one.rows, &one.other)
	}
	return list
}

func (g *Group) closeAppenders() error {
	var err error
	for _, a := range g.appenders() {
		if *a != nil {
			err = errors.Join(err, (*a).Close())
			*a = nil
		}
	}
	return err
}

// orNull is nil for an empty text.
func orNull(text string) any {
	if text == "" {
		return nil
	}
	return text
}
