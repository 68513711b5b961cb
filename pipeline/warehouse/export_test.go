package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
)

// Build makes a warehouse at in.Out, without figures.
func Build(ctx context.Context, in BuildInput) error {
	m, err := Make(ctx, in)
	if err != nil {
		return err
	}
	return m.Finish(ctx, result.Set{}, nil)
}

// WriteFigures writes figures, where they come from, how they sum, and findings
// into the warehouse at path, which must not be open. What stood there is
// replaced. Figures are written in the order given.
func WriteFigures(ctx context.Context, path string, engine Engine, set result.Set, findings []Finding) (err error) {
	db, err := openDB(ctx, path, engine, readWrite)
	if err != nil {
		return writing(err)
	}
	defer func() { err = writing(errors.Join(err, db.Close())) }()
	return inTransaction(ctx, db, func(tx *sql.Tx, raw driver.Conn) error { return writeResults(ctx, tx, raw, set, findings) })
}

// BuildMade lands a made-up practice of two sites in one batch of testDay and
// builds its warehouse in a folder of the test. It returns the warehouse's
// path, the landing store's, and the settings.
func BuildMade(tb testing.TB, seed uint64, episodes int) (path, landing string, practice *settings.Practice) {
	tb.Helper()
	ctx := context.Background()
	dir := tb.TempDir()
	landing = filepath.Join(dir, "landing.duckdb")
	landMade(tb, landing, seed, episodes)
	practice, err := settings.Parse([]byte(testSettings), "practice.toml")
	if err != nil {
		tb.Fatal(err)
	}
	path = filepath.Join(dir, "warehouse.duckdb")
	if err := Build(ctx, BuildInput{Landing: landing, Out: path, Batch: 3, Settings: practice, Engine: Engine{Threads: 2}}); err != nil {
		tb.Fatal(err)
	}
	return path, landing, practice
}

// landMade makes a landing store at path with the made-up practice in three
// batches.
func landMade(tb testing.TB, path string, seed uint64, episodes int) {
	tb.Helper()
	ctx := context.Background()
	l, err := OpenLanding(ctx, path, Engine{Threads: 1})
	if err != nil {
		tb.Fatal(err)
	}
	conn, err := l.db.Conn(ctx)
	if err != nil {
		tb.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	land(tb, conn, "landing", arrange(rng, drawHistories(rng, episodes), 3), 3)
	if err := conn.Close(); err != nil {
		tb.Fatal(err)
	}
	if err := l.Close(); err != nil {
		tb.Fatal(err)
	}
}

// LandingRow returns the key of the landing row of a table that stands on a
// line of a file.
func LandingRow(ctx context.Context, l *Landing, table, path string, batch, line int) (key string, err error) {
	err = l.db.QueryRowContext(ctx, "select r._key from "+table+" as r join files as f on f.file = r._file where f.path = ? and f.batch = ? and r._line = ?",
		path, batch, line).Scan(&key)
	return key, err
}
