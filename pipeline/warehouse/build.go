package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/queries"
)

// BuildInput says what a warehouse is built from. The landing store must not be
// open for writing elsewhere while a build runs.
type BuildInput struct {
	Landing  string             // path of the landing store
	Out      string             // path of the file to make; whatever lies there is replaced
	Batch    int                // rows received after this batch are left out
	Settings *settings.Practice // the version that holds for the batch
	Engine   Engine
	Progress func(step string, done, of int) // may be nil
}

// Build makes a warehouse at in.Out: the code tables and settings, then every
// query in the order in which one reads another, each proved to have the key
// that its header promises. The same landing rows, settings and program give
// the same content, whatever the number of threads.
func Build(ctx context.Context, in BuildInput) (err error) {
	if err := removeDatabase(in.Out); err != nil {
		return fmt.Errorf("build the warehouse: %w", err)
	}
	db, err := openDB(ctx, in.Out, in.Engine, readWrite, in.Landing)
	if err != nil {
		return fmt.Errorf("build the warehouse: %w", err)
	}
	defer func() {
		err = errors.Join(err, db.Close())
		if err == nil {
			err = os.Chmod(in.Out, 0o600)
		}
		if err != nil {
			err = fmt.Errorf("build the warehouse: %w", err)
		}
	}()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()

	if _, err := conn.ExecContext(ctx, "attach "+quote(absolute(in.Landing))+" as store (read_only)"); err != nil {
		return fmt.Errorf("attach the landing store: %w", err)
	}
	received, err := receivedOn(ctx, conn, in.Batch)
	if err != nil {
		return err
	}
	b := builder{conn: conn, progress: in.Progress, batch: in.Batch}
	// In one transaction the log is written once, not after every comment.
	if err := b.run(ctx, "begin"); err != nil {
		return err
	}
	roots, err := rootTables(in.Settings, in.Batch, received)
	if err != nil {
		return err
	}
	made, err := queries.All()
	if err != nil {
		return err
	}
	if err := b.make(ctx, roots, made); err != nil {
		return err
	}
	// The views of the landing layer are of use only while the store is attached.
	return b.run(ctx, "commit", "drop schema landing cascade", "detach store", "checkpoint")
}

// receivedOn returns the label of a batch: the date on which it was received.
func receivedOn(ctx context.Context, conn *sql.Conn, batch int) (time.Time, error) {
	var day time.Time
	err := conn.QueryRowContext(ctx, "select received_on from store.batches where batch = ?", batch).Scan(&day)
	if errors.Is(err, sql.ErrNoRows) {
		return day, fmt.Errorf("the landing store has no batch %d; `evenlimb status` lists the batches", batch)
	}
	return day, err
}

// Swap puts the warehouse built at next in the place of current. Whoever reads
// the old file keeps it until it is closed.
func Swap(next, current string) error {
	if err := os.Remove(current + ".wal"); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("swap in the warehouse: %w", err)
	}
	if err := os.Rename(next, current); err != nil {
		return fmt.Errorf("swap in the warehouse: %w", err)
	}
	return nil
}

// removeDatabase removes a database file that a killed run left behind.
func removeDatabase(path string) error {
	for _, name := range []string{path, path + ".wal"} {
		if err := os.Remove(name); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

func absolute(path string) string {
	full, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	return full
}
