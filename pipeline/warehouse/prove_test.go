package warehouse

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/queries"
)

// TestBuildRefusesWhatTheHeaderDoesNotPromise makes tables whose rows break
// their header: the build stops.
func TestBuildRefusesWhatTheHeaderDoesNotPromise(t *testing.T) {
	ctx := context.Background()
	b := builder{conn: baseConn(t)}
	for _, c := range []struct{ name, sql, want string }{
		{"sound", "select 1 as k, 0.5::double as x union all select 2, null", ""},
		{"key twice", "select 1 as k, 0.5::double as x union all select 1, 0.5", "1 values of the key (k) stand in more than one row"},
		{"key empty twice", "select null::integer as k, 0.5::double as x union all select null, 0.5", "1 values of the key (k) stand in more than one row"},
		{"not a number", "select 1 as k, 'nan'::double as x", "column x holds 1 numbers that are not finite"},
		{"infinite", "select 1 as k, '-inf'::double as x", "column x holds 1 numbers that are not finite"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := b.run(ctx, "begin"); err != nil {
				t.Fatal(err)
			}
			defer func() {
				if err := b.run(ctx, "rollback"); err != nil {
					t.Fatal(err)
				}
			}()
			broken := queries.Query{
				Schema: "derived", Name: "broken", Grain: "one row", Key: []string{"k"}, About: "A test.", SQL: c.sql,
				Columns: []queries.Column{{Name: "k", Type: "integer", About: "k"}, {Name: "x", Type: "double", About: "x"}},
			}
			if err := b.create(ctx, broken); err != nil {
				t.Fatal(err)
			}
			err := b.settle(ctx, broken)
			if (c.want == "") != (err == nil) || (err != nil && !strings.Contains(err.Error(), c.want)) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

// TestBuildReplacesWhatAKilledRunLeft builds over a torn file and its log.
func TestBuildReplacesWhatAKilledRunLeft(t *testing.T) {
	dir := t.TempDir()
	landing, practice := smallLanding(t, dir)
	out := filepath.Join(dir, "next.duckdb")
	for _, name := range []string{out, out + ".wal"} {
		if err := os.WriteFile(name, []byte("torn"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := Build(context.Background(), BuildInput{Landing: landing, Out: out, Batch: 3, Settings: practice}); err != nil {
		t.Fatal(err)
	}
}
