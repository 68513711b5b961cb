package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"os"
	"sync"

	"evenlimb/pipeline/result"
	"evenlimb/queries"
)

// Making is a warehouse that is being built. It is read like one that stands:
// a read waits until the tables that it names have been made, so that analyses
// begin while the rest is still on its way. It ends with Finish or GiveUp.
type Making struct {
	*Warehouse
	out     string
	stop    context.CancelFunc
	running sync.WaitGroup
	failed  error // how the queries ended; to be read after running
}

// Make begins a warehouse at in.Out: the code tables and settings stand when it
// returns, and every query is made when what it reads stands, and proved to have
// the key that its header promises. The same landing rows, settings and program
// give the same content, whatever the number of threads.
func Make(ctx context.Context, in BuildInput) (m *Making, err error) {
	defer func() { err = building(err) }()
	if err := removeDatabase(in.Out); err != nil {
		return nil, err
	}
	db, err := openUnlogged(ctx, in.Out, in.Engine, in.Landing)
	if err != nil {
		return nil, err
	}
	w, err := prepare(ctx, db, in)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	ctx, stop := context.WithCancel(ctx)
	m = &Making{Warehouse: &Warehouse{db: tables{DB: db, work: w}}, out: in.Out, stop: stop}
	m.running.Go(func() { m.failed = building(w.do(ctx, db, in.Engine.hands())) })
	return m, nil
}

// prepare makes all that stands before the first query, and returns the work
// that is left.
func prepare(ctx context.Context, db *sql.DB, in BuildInput) (w *work, err error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	if _, err := conn.ExecContext(ctx, "attach "+quote(absolute(in.Landing))+" as store (read_only)"); err != nil {
		return nil, fmt.Errorf("attach the landing store: %w", err)
	}
	received, err := receivedOn(ctx, conn, in.Batch)
	if err != nil {
		return nil, err
	}
	roots, err := rootTables(in.Settings, in.Batch, received)
	if err != nil {
		return nil, err
	}
	made, err := queries.All()
	if err != nil {
		return nil, err
	}
	b := builder{conn: conn, batch: in.Batch}
	if err := b.run(ctx, "begin"); err != nil {
		return nil, err
	}
	if err := b.prepare(ctx, roots); err != nil {
		return nil, err
	}
	return newWork(made, b, in.Progress), b.run(ctx, "commit")
}

// Finish waits for the build, writes figures, where they come from, how they
// sum, and findings, and closes the file, which is then whole.
func (m *Making) Finish(ctx context.Context, set result.Set, findings []Finding) error {
	m.running.Wait()
	err := m.failed
	if err == nil {
		err = writing(m.write(ctx, set, findings))
	}
	m.stop()
	if err = errors.Join(err, m.Close()); err != nil {
		return err
	}
	return os.Chmod(m.out, 0o600)
}

// GiveUp ends a build because of an error and closes the file. It returns that
// error, or the build's own where a reader met it.
func (m *Making) GiveUp(err error) error {
	if failed := m.db.work.failure(); failed != nil {
		err = building(failed)
	}
	m.stop()
	m.running.Wait()
	return errors.Join(err, m.Close())
}

func (m *Making) write(ctx context.Context, set result.Set, findings []Finding) error {
	err := inTransaction(ctx, m.db.DB, func(tx *sql.Tx, raw driver.Conn) error { return writeResults(ctx, tx, raw, set, findings) })
	if err != nil {
		return err
	}
	_, err = m.db.ExecContext(ctx, "checkpoint")
	return err
}

func building(err error) error {
	if err != nil {
		return fmt.Errorf("build the warehouse: %w", err)
	}
	return nil
}

func writing(err error) error {
	if err != nil {
		return fmt.Errorf("write the figures: %w", err)
	}
	return nil
}
