// Package warehouse opens DuckDB safely, keeps the append-only landing store, and
// builds, swaps in and reads the warehouse that each night derives from it.
package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"

	"github.com/duckdb/duckdb-go/v2"
)

// Engine says how much of the machine the database may use. No result depends
// on it.
type Engine struct {
	Threads  int    // 0: one for each core
	MemoryMB int    // 0: 1024; the process needs up to half as much again
	TempDir  string // where a sort too large for memory spills; empty: beside the database
}

// defaultMemoryMB keeps a night of a large practice under 2 GiB in all.
const defaultMemoryMB = 1024

// ErrBusy reports that another process has the database open.
var ErrBusy = errors.New("the database is in use")

// access is how a database is opened.
type access int

const (
	readWrite access = iota
	readOnly
)

// openDB opens the database at path, creates it where access allows, and shuts
// the engine in: it can reach no file but the database itself, its spill folder
// and the databases named in attach, it loads no extension, and none of this can
// be changed afterwards. The caller closes the handle, and before that every
// connection it took, or the write-ahead log is left behind.
func openDB(ctx context.Context, path string, engine Engine, mode access, attach ...string) (*sql.DB, error) {
	path, err := fullPath(path)
	if err != nil {
		return nil, err
	}
	address := path
	if mode == readOnly {
		if _, err := os.Stat(path); err != nil { //nolint:gosec // a path of the practice folder, chosen by its owner
			return nil, fmt.Errorf("open database: %w", err)
		}
		address += "?access_mode=READ_ONLY"
	}
	return open(ctx, path, address, nil, engine, attach)
}

// openUnlogged is openDB for a database that nobody reads before it is whole: it
// keeps no write-ahead log, and what no checkpoint has written ends with it.
func openUnlogged(ctx context.Context, path string, engine Engine, attach ...string) (*sql.DB, error) {
	path, err := fullPath(path)
	if err != nil {
		return nil, err
	}
	if engine.TempDir == "" {
		engine.TempDir = path + ".tmp"
	}
	// Only a database that is attached can be told to keep none.
	use := func(conn driver.ExecerContext) error {
		for _, s := range []string{"attach if not exists " + quote(path) + " as unlogged (recovery_mode no_wal_writes)", "use unlogged"} {
			if _, err := conn.ExecContext(ctx, s, nil); err != nil {
				return err
			}
		}
		return nil
	}
	return open(ctx, path, "", use, engine, append(attach, path))
}

// fullPath makes a path absolute and refuses what the engine's Go driver reads
// as parts of an address.
func fullPath(path string) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("open database: %w", err)
	}
	if i := strings.IndexAny(path, "?#%"); i >= 0 {
		return "", fmt.Errorf("open %s: the database engine cannot open a path with %q in it; move the practice folder to a path without it", path, path[i:i+1])
	}
	return path, nil
}

func open(ctx context.Context, path, address string, use func(driver.ExecerContext) error, engine Engine, attach []string) (*sql.DB, error) {
	connector, err := duckdb.NewConnector(address, use)
	if err != nil {
		return nil, explainOpen(path, err)
	}
	db := sql.OpenDB(connector)
	if err := shutIn(ctx, db, engine, attach); err != nil {
		return nil, errors.Join(fmt.Errorf("open %s: %w", path, err), db.Close())
	}
	return db, nil
}

// shutIn applies the settings in the only order that works: what may be
// attached, then no other file, then no further change.
func shutIn(ctx context.Context, db *sql.DB, engine Engine, attach []string) error {
	var locked bool
	if err := db.QueryRowContext(ctx, "select current_setting('lock_configuration')::boolean").Scan(&locked); err != nil {
		return err
	}
	if locked { // this process has the same file open already and shares its engine
		return nil
	}
	settings := []string{
		"set autoinstall_known_extensions = false",
		"set autoload_known_extensions = false",
		"set allow_community_extensions = false",
		"set threads = " + strconv.Itoa(engine.threads()),
		"set memory_limit = " + quote(strconv.Itoa(engine.memoryMB())+"MiB"),
		// A night of many small files would else write the same rows back into the
		// store every few files. A log of this size is read in about two seconds
		// after a run that was cut off.
		"set checkpoint_threshold = '128MiB'",
		"set global TimeZone = 'UTC'",
	}
	if engine.TempDir != "" {
		settings = append(settings, "set temp_directory = "+quote(engine.TempDir))
	}
	var allowed []string
	for _, name := range attach {
		full, err := filepath.Abs(name)
		if err != nil {
			return err
		}
		allowed = append(allowed, quote(full), quote(full+".wal"))
	}
	settings = append(settings,
		"set allowed_paths = ["+strings.Join(allowed, ", ")+"]",
		"set enable_external_access = false",
		"set lock_configuration = true")
	for _, set := range settings {
		if _, err := db.ExecContext(ctx, set); err != nil {
			return fmt.Errorf("%s: %w", set, err)
		}
	}
	return nil
}

func (e Engine) threads() int {
	if e.Threads > 0 {
		return e.Threads
	}
	return runtime.NumCPU()
}

// hands is how many queries of a build are worked on at once. Most of them keep
// one thread busy, and each needs memory.
func (e Engine) hands() int { return min(e.threads(), 2) }

func (e Engine) memoryMB() int {
	if e.MemoryMB > 0 {
		return e.MemoryMB
	}
	return defaultMemoryMB
}

// quote makes an SQL text literal.
func quote(text string) string {
	return "'" + strings.ReplaceAll(text, "'", "''") + "'"
}

var lockHolder = regexp.MustCompile(`PID (\d+)`)

// explainOpen turns the engine's refusals into sentences with a next step.
func explainOpen(path string, err error) error {
	text := err.Error()
	switch {
	case strings.Contains(text, "Could not set lock"):
		holder := "another program"
		if m := lockHolder.FindStringSubmatch(text); m != nil {
			holder = "process " + m[1]
		}
		return fmt.Errorf("open %s: %w by %s; wait until it has ended and run the command again", path, ErrBusy, holder)
	case strings.Contains(text, "not a valid DuckDB database"):
		return fmt.Errorf("open %s: this is not a database of this program, or it is damaged; put the last backup in its place (%w)", path, err)
	default:
		return fmt.Errorf("open %s: %w", path, err)
	}
}
