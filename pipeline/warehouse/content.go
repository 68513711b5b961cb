package warehouse

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// ContentHash returns the SHA-256, in hex, of what a store holds: its tables by
// name, their columns, and their rows in the order of their own text. How and
// in which order the engine wrote them does not matter. Two stores with the
// same hash hold the same rows.
func ContentHash(ctx context.Context, path string, engine Engine) (hash string, err error) {
	db, err := openDB(ctx, path, engine, readOnly)
	if err != nil {
		return "", fmt.Errorf("hash the content: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	type column struct{ table, name, kind string }
	columns, err := collect(ctx, db, func(rows *sql.Rows, c *column) error { return rows.Scan(&c.table, &c.name, &c.kind) }, `
		select '"' || c.schema_name || '"."' || c.table_name || '"', c.column_name, c.data_type
		from duckdb_columns() as c join duckdb_tables() as t on t.table_oid = c.table_oid and t.database_oid = c.database_oid
		where not t.internal
		order by c.schema_name, c.table_name, c.column_index`)
	if err != nil {
		return "", fmt.Errorf("hash the content: %w", err)
	}
	sum := sha256.New()
	for start := 0; start < len(columns); {
		end := start
		var texts []string
		for ; end < len(columns) && columns[end].table == columns[start].table; end++ {
			fmt.Fprintf(sum, "%s %s %s\n", columns[end].table, columns[end].name, columns[end].kind)
			texts = append(texts, `"`+columns[end].name+`"::varchar`)
		}
		// Each row is hashed by itself, so that only the hashes are sorted.
		query := "select count(*), coalesce(sha256(string_agg(h, '' order by h)), '') from (select sha256(to_json([" +
			strings.Join(texts, ", ") + "])::varchar) as h from " + columns[start].table + ")"
		var rows int
		var content string
		if err := db.QueryRowContext(ctx, query).Scan(&rows, &content); err != nil {
			return "", fmt.Errorf("hash %s: %w", columns[start].table, err)
		}
		fmt.Fprintf(sum, "%d %s\n", rows, content)
		start = end
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
