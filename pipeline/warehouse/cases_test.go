package warehouse

import (
	"context"
	"database/sql"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"evenlimb/pipeline/export"
	"evenlimb/queries"
)

// absent is how a case writes a cell that is null.
const absent = "~"

const casesDir = "../../testdata/queries"

// TestCases runs every case of testdata/queries: the rows given go into the
// tables named, the query runs, and the rows wanted must come out in order of
// its key, in the columns that the case names. A table in schema settings or
// seeds is replaced; others begin empty. A landing row may leave out its
// lineage: one sender, one file, a line each.
func TestCases(t *testing.T) {
	paths, err := filepath.Glob(casesDir + "/*/*/*.txtar")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no cases found: %v", err)
	}
	for _, path := range paths {
		table := filepath.Base(filepath.Dir(filepath.Dir(path))) + "." + filepath.Base(filepath.Dir(path))
		t.Run(table+"/"+strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			archive, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			runCase(t, table, archive)
		})
	}
}

// TestEveryQueryHasItsCases holds that each table beyond landing has the plain
// case and the empty one.
func TestEveryQueryHasItsCases(t *testing.T) {
	made, err := queries.All()
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range made {
		if q.Schema == "landing" || q.View {
			continue
		}
		for _, name := range []string{"plain", "nothing"} {
			if _, err := os.Stat(filepath.Join(casesDir, q.Schema, q.Name, name+".txtar")); err != nil {
				t.Errorf("%s has no case %s", q.Table(), name)
			}
		}
	}
}

func runCase(t *testing.T, table string, archive *txtar.Archive) {
	t.Helper()
	q, ok := queries.Find(table)
	if !ok {
		t.Fatalf("no query makes %s", table)
	}
	conn := baseConn(t)
	b := builder{conn: conn}
	ctx := context.Background()
	if err := b.run(ctx, "begin"); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := b.run(ctx, "rollback"); err != nil {
			t.Fatal(err)
		}
	}()
	if err := b.run(ctx, "insert into store.files by name select 1 as file, 1 as batch, 'north' as sender, 'inbox/north/a.csv' as path, 'aa' as sha256, 1 as bytes, "+
		"0 as rows_read, 0 as accepted, 0 as duplicates, 0 as corrections, 0 as withdrawals, 0 as quarantined"); err != nil {
		t.Fatal(err)
	}
	var want [][]string
	for _, file := range archive.Files {
		rows := readCSV(t, file)
		name := strings.TrimSuffix(file.Name, ".csv")
		if name == "want" {
			want = rows
			continue
		}
		insertCase(t, conn, q, name, rows)
	}
	if want == nil {
		t.Fatal("the case has no want.csv")
	}
	got := query(t, conn, q, want[0])
	if !slices.EqualFunc(got, want[1:], slices.Equal) {
		t.Errorf("%s\ngot:\n%s\nwant:\n%s", strings.TrimSpace(string(archive.Comment)), show(want[0], got), show(want[0], want[1:]))
	}
}

func readCSV(t *testing.T, file txtar.File) [][]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(string(file.Data)))
	r.TrimLeadingSpace = true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file.Name, err)
	}
	for _, row := range rows {
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
	}
	return rows
}

// insertCase writes the rows of a case into a table that the query may read.
func insertCase(t *testing.T, conn *sql.Conn, q queries.Query, table string, rows [][]string) {
	t.Helper()
	schema, name, _ := strings.Cut(table, ".")
	if schema == "store" {
		rows = addLineage(t, name, rows)
	}
	b := builder{conn: conn}
	ctx := context.Background()
	if schema == "settings" || schema == "seeds" || table == "store.files" {
		if err := b.run(ctx, "delete from "+table); err != nil {
			t.Fatal(err)
		}
	}
	for _, row := range rows[1:] {
		columns, places := []string{}, []string{}
		var args []any
		for i, cell := range row {
			if cell == absent {
				continue
			}
			columns, places, args = append(columns, rows[0][i]), append(places, "?"), append(args, cell)
		}
		insert := fmt.Sprintf("insert into %s (%s) values (%s)", table, strings.Join(columns, ", "), strings.Join(places, ", ")) //nolint:gosec // names come from the cases of the repository
		if _, err := conn.ExecContext(ctx, insert, args...); err != nil {
			t.Fatalf("%s of the case for %s: %v", table, q.Table(), err)
		}
	}
}

// addLineage fills in the lineage that the landing rows of a case leave out.
func addLineage(t *testing.T, name string, rows [][]string) [][]string {
	t.Helper()
	table, ok := export.Find(name)
	if !ok {
		return rows
	}
	out := [][]string{slices.Clone(rows[0])}
	defaults := map[string]func(line int, row []string) string{
		"_sender": func(int, []string) string { return "north" },
		"_batch":  func(int, []string) string { return "1" },
		"_file":   func(int, []string) string { return "1" },
		"_line":   func(line int, _ []string) string { return strconv.Itoa(line + 2) },
		"_action": func(int, []string) string { return "accepted" },
		"_key":    func(_ int, row []string) string { return caseKey(table, rows[0], row) },
		"_hash":   func(int, []string) string { return "0" }, // only the intake looks keys up by it
	}
	var missing []string
	for _, column := range []string{"_sender", "_batch", "_file", "_line", "_action", "_key", "_hash"} {
		if !slices.Contains(rows[0], column) {
			missing = append(missing, column)
		}
	}
	out[0] = append(out[0], missing...)
	for i, row := range rows[1:] {
		full := slices.Clone(row)
		for _, column := range missing {
			full = append(full, defaults[column](i, row))
		}
		out = append(out, full)
	}
	return out
}

func caseKey(table export.Table, header, row []string) string {
	join := func(columns []string) (string, bool) {
		var parts []string
		for _, c := range columns {
			i := slices.Index(header, c)
			if i < 0 || row[i] == absent {
				parts = append(parts, "")
				continue
			}
			parts = append(parts, row[i])
		}
		return strings.Join(parts, "|"), parts[0] != ""
	}
	if key, ok := join(table.Key); ok || table.FallbackKey == nil {
		return "id:" + key
	}
	key, _ := join(table.FallbackKey)
	return "c:" + key
}

// query runs the select of q and returns the columns wanted as text.
func query(t *testing.T, conn *sql.Conn, q queries.Query, columns []string) [][]string {
	t.Helper()
	texts := make([]string, len(columns))
	for i, c := range columns {
		texts[i] = "coalesce(" + c + "::varchar, '" + absent + "')"
	}
	scan := func(rows *sql.Rows, row *[]string) error {
		*row = make([]string, len(columns))
		into := make([]any, len(columns))
		for i := range into {
			into[i] = &(*row)[i]
		}
		return rows.Scan(into...)
	}
	out, err := collect(context.Background(), conn, scan,
		fmt.Sprintf("select %s from (%s) order by %s", strings.Join(texts, ", "), q.SQL, strings.Join(q.Key, ", ")))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func show(header []string, rows [][]string) string {
	var b strings.Builder
	for _, row := range append([][]string{header}, rows...) {
		b.WriteString("  " + strings.Join(row, ", ") + "\n")
	}
	return b.String()
}
