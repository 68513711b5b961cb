package warehouse

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func TestOpenShutsTheEngineIn(t *testing.T) {
	dir := t.TempDir()
	ctx := t.Context()
	other := filepath.Join(dir, "other.duckdb")
	if db, err := openDB(ctx, other, Engine{}, readWrite); err != nil {
		t.Fatal(err)
	} else if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	secret := filepath.Join(dir, "secret.csv")
	if err := os.WriteFile(secret, []byte("a\n1\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := openDB(ctx, filepath.Join(dir, "main.duckdb"), Engine{Threads: 1, MemoryMB: 80}, readWrite, other)
	if err != nil {
		t.Fatal(err)
	}
	closeAtEnd(t, db)

	refused := map[string]string{
		"select * from read_csv(" + quote(secret) + ")":                 "file system operations are disabled",
		"copy (select 1) to " + quote(filepath.Join(dir, "out.csv")):    "file system operations are disabled",
		"attach " + quote(filepath.Join(dir, "third.duckdb")) + " as x": "file system operations are disabled",
		"set threads = 4":                              "configuration has been locked",
		"set enable_external_access = true":            "",
		"select * from read_xlsx('book.xlsx')":         "excel",
		"install httpfs":                               "",
		"select * from 'https://example.org/data.csv'": "",
	}
	for statement, want := range refused {
		if _, err := db.ExecContext(ctx, statement); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, wanted a refusal with %q", statement, err, want)
		}
	}
	if _, err := db.ExecContext(ctx, "attach "+quote(other)+" as other (read_only)"); err != nil {
		t.Errorf("attach of the database that was named: %v", err)
	}
	var zone, threads string
	if err := db.QueryRowContext(ctx, "select current_setting('TimeZone'), current_setting('threads')::varchar").Scan(&zone, &threads); err != nil || zone != "UTC" || threads != "1" {
		t.Errorf("time zone %q, threads %q, %v", zone, threads, err)
	}
	// A sort of some 80 MB and its table have to spill beside the database.
	if _, err := db.ExecContext(ctx, "create table wide as select md5(i::varchar) || md5((i + 1)::varchar) as m from range(1000000) t(i) order by m"); err != nil {
		t.Errorf("sort larger than memory: %v", err)
	}
}

func TestOpenReadOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "main.duckdb")
	if _, err := openDB(t.Context(), path, Engine{}, readOnly); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("missing file: %v", err)
	}
	db, err := openDB(t.Context(), path, Engine{}, readWrite)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db, err = openDB(t.Context(), path, Engine{}, readOnly)
	if err != nil {
		t.Fatal(err)
	}
	closeAtEnd(t, db)
	if _, err := db.ExecContext(t.Context(), "create table a (x integer)"); err == nil {
		t.Error("a read-only database took a table")
	}
}

func TestOpenExplainsRefusals(t *testing.T) {
	dir := t.TempDir()
	damaged := filepath.Join(dir, "damaged.duckdb")
	if err := os.WriteFile(damaged, []byte(strings.Repeat("no database ", 2000)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openDB(t.Context(), damaged, Engine{}, readWrite); err == nil || !strings.Contains(err.Error(), "backup") {
		t.Errorf("damaged file: %v", err)
	}
	if _, err := openDB(t.Context(), filepath.Join(dir, "a?b.duckdb"), Engine{}, readWrite); err == nil || !strings.Contains(err.Error(), "move the practice folder") {
		t.Errorf("path with a question mark: %v", err)
	}
}

// The second process is this test binary, which opens the file and waits.
func TestOpenWhileAnotherProcessHasIt(t *testing.T) {
	if path := os.Getenv("HOLD_DATABASE"); path != "" {
		db, err := openDB(context.Background(), path, Engine{}, readWrite)
		if err != nil {
			t.Fatal(err)
		}
		closeAtEnd(t, db)
		if _, err := os.Stdout.WriteString("held\n"); err != nil {
			t.Fatal(err)
		}
		_, _ = os.Stdin.Read(make([]byte, 1))
		return
	}
	path := filepath.Join(t.TempDir(), "main.duckdb")
	holder := exec.CommandContext(t.Context(), os.Args[0], "-test.run=TestOpenWhileAnotherProcessHasIt$") //nolint:gosec // this test binary itself
	holder.Env = append(os.Environ(), "HOLD_DATABASE="+path)
	stdin, err := holder.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	stdout, err := holder.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := holder.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := stdout.Read(make([]byte, 5)); err != nil {
		t.Fatal(err)
	}
	if _, err := openDB(t.Context(), path, Engine{}, readWrite); !errors.Is(err, ErrBusy) {
		t.Errorf("got %v, wanted ErrBusy", err)
	}
	if err := stdin.Close(); err != nil {
		t.Fatal(err)
	}
	if err := holder.Wait(); err != nil {
		t.Fatal(err)
	}
	db, err := openDB(t.Context(), path, Engine{}, readWrite)
	if err != nil {
		t.Fatalf("after the other process ended: %v", err)
	}
	closeAtEnd(t, db)
}

func closeAtEnd(t *testing.T, c io.Closer) {
	t.Helper()
	t.Cleanup(func() {
		if err := c.Close(); err != nil {
			t.Error(err)
		}
	})
}
