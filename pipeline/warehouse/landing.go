package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"os"

	"evenlimb/pipeline/export"
)

// Landing is the append-only store: every row ever accepted, every version of
// the settings, the run ledger and the publication register. What the rest of
// the program derives can be thrown away and made again from it.
type Landing struct {
	db   *sql.DB
	path string

	// What is known of senders without asking the store.
	all    map[senderTable]*keySet // see FileLoad.note
	stored map[senderTable]bool    // of whom rows stand in the store
	padded map[string]paddedKeys   // see FileLoad.PaddedKeys
}

// forget forgets what is known, some of which was taken back.
func (l *Landing) forget() {
	l.all, l.stored, l.padded = map[senderTable]*keySet{}, map[senderTable]bool{}, map[string]paddedKeys{}
}

// OpenLanding opens the landing store at path and makes an empty one where
// there is none. It fails with ErrBusy while another process has it open, and
// with a sentence to act on where a newer program wrote it.
func OpenLanding(ctx context.Context, path string, engine Engine) (*Landing, error) {
	_, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		if err := createLanding(ctx, path, engine); err != nil {
			return nil, err
		}
	} else if err != nil {
		return nil, fmt.Errorf("open the landing store: %w", err)
	}
	db, err := openDB(ctx, path, engine, readWrite)
	if err != nil {
		return nil, err
	}
	l := &Landing{db: db, path: path}
	l.forget()
	if err := l.bringUpToDate(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return l, nil
}

// createLanding makes the empty store under another name and renames it, so
// that a store that exists is always a whole one.
func createLanding(ctx context.Context, path string, engine Engine) error {
	next := path + ".new"
	for _, leftover := range []string{next, next + ".wal"} {
		if err := os.Remove(leftover); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("make the landing store: %w", err)
		}
	}
	db, err := openDB(ctx, next, engine, readWrite)
	if err != nil {
		return err
	}
	statements := append([]string{}, landingTables...)
	for _, t := range export.Tables() {
		statements = append(statements, exportTableDDL(t))
	}
	statements = append(statements, fmt.Sprintf("insert into store values (%d)", landingVersion))
	for _, s := range statements {
		if _, err := db.ExecContext(ctx, s); err != nil {
			return errors.Join(fmt.Errorf("make the landing store: %w", err), db.Close())
		}
	}
	if err := db.Close(); err != nil {
		return fmt.Errorf("make the landing store: %w", err)
	}
	if err := os.Chmod(next, 0o600); err != nil {
		return fmt.Errorf("make the landing store: %w", err)
	}
	if err := os.Rename(next, path); err != nil {
		return fmt.Errorf("make the landing store: %w", err)
	}
	return nil
}

// Path returns where the store lies.
func (l *Landing) Path() string { return l.path }

// Close writes the log back into the store, so that the one file is all of it,
// and closes it.
func (l *Landing) Close() error {
	_, err := l.db.ExecContext(context.Background(), "checkpoint")
	return errors.Join(err, l.db.Close())
}

// inTransaction runs do in one transaction.
func (l *Landing) inTransaction(ctx context.Context, do func(tx *sql.Tx) error) error {
	return inTransaction(ctx, l.db, func(tx *sql.Tx, _ driver.Conn) error { return do(tx) })
}
