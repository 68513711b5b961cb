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
