package intake

import (
	"database/sql"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenlimb/pipeline/intake/source"
)

// TestParquetOfTheEngine reads a file that the engine wrote, of every type that
// has a text, in several packings: each cell must be the text that the engine
// itself makes of the value.
func TestParquetOfTheEngine(t *testing.T) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	defer shut(t, db)
	values := named(
		"'key ' || i", "i % 3 = 0", "i::tinyint", "(-i)::smallint", "(i * 100000)::integer", "(i * 10000000000)::bigint", "(i + 20)::utinyint", "(i * 300 + 6000)::usmallint", "(4294967000 + i)::uinteger", "((i + 20) * 12345)::ubigint",
		"(i / 8)::float", "(i / 3)::double", "(i * 1.25)::decimal(6, 2)", "(-i * 1.5)::decimal(18, 4)", "(i * 3)::decimal(30, 10)",
		"date '2026-01-31' - (i * 400)::integer", "timestamp '2026-01-31 08:30:15' + interval (i) minute", "timestamp_ms '2026-01-31 08:30:15.250'", "time '08:30:00' + interval (i) second", "uuid '00000000-0000-4000-8000-000000000001'",
		"case when i % 2 = 0 then 'x' end", "nullif(i, 7)",
	)
	// What differs by rule: no blank but a T in a timestamp, no zeros at the end
	// of a decimal, nothing for null.
	const asText = `coalesce(case when typeof(%[1]s) like 'TIMESTAMP%%' then replace(%[1]s::varchar, ' ', 'T') when typeof(%[1]s) like 'DECIMAL%%' then rtrim(rtrim(%[1]s::varchar, '0'), '.')
		when typeof(%[1]s) in ('FLOAT', 'DOUBLE') then regexp_replace(%[1]s::varchar, '\.0$', '') else %[1]s::varchar end, '')`
	for _, packing := range []string{"uncompressed", "snappy", "zstd", "gzip", "brotli", "lz4_raw"} {
		path := filepath.Join(t.TempDir(), "x.parquet")
		for _, one := range []string{
			"create or replace table v as select " + values + " from range(-20, 30) r(i)",
			"copy v to '" + path + "' (format parquet, compression " + packing + ", row_group_size 20)",
		} {
			if _, err := db.ExecContext(t.Context(), one); err != nil {
				t.Fatal(err)
			}
		}
		in := source.Input{Open: func() (io.ReadCloser, error) { return os.Open(path) }} //nolint:gosec // a file of the test
		form, err := source.Detect(in, source.Wish{})
		if err != nil {
			t.Fatal(err)
		}
		file, err := source.Open(in, form)
		if err != nil {
			t.Fatal(err)
		}
		headings, err := file.Sheets[0].Headings()
		if err != nil {
			t.Fatal(err)
		}
		var got [][]string
		if err := each(t.Context(), file.Sheets[0], func(rec source.Record) { got = append(got, rec.Cells) }); err != nil {
			t.Fatal(err)
		}
		shut(t, file)
		for n, h := range headings {
			want := textsOf(t, db, fmt.Sprintf(asText, h))
			for i, row := range got {
				if row[n] != want[i] {
					t.Errorf("%s, column %s, row %d: %q, the engine says %q", packing, h, i, row[n], want[i])
				}
			}
			if len(got) != len(want) {
				t.Fatalf("%s: %d rows, want %d", packing, len(got), len(want))
			}
		}
	}
}

// named gives expressions the names c0, c1 and so on.
func named(expressions ...string) string {
	for i, e := range expressions {
		expressions[i] = fmt.Sprintf("%s as c%d", e, i)
	}
	return strings.Join(expressions, ", ")
}

func textsOf(t *testing.T, db *sql.DB, expression string) []string {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), "select "+expression+" from v") //nolint:gosec // an expression of the test
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close() //nolint:errcheck // its error is looked at below
	var texts []string
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return texts
}
