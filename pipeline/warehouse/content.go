package warehouse

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ContentHash returns the SHA-256, in hex, of what a store holds: its tables by
// name, their columns, and their rows in the order of their own text. How and
// in which order the engine wrote them does not matter. Two stores with the
// same hash hold the same rows.
func ContentHash(ctx context.Context, path string, engine Engine) (hash string, err error) {
	tables, err := ContentByTable(ctx, path, engine)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	for _, t := range tables {
		fmt.Fprintf(sum, "%s %s\n", t.Table, t.SHA256)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// TableContent is what one table of a store holds.
type TableContent struct {
	Table  string // schema.table
	Rows   int
	SHA256 string // of its columns and rows, in hex
}

// ContentByTable returns what each table of a store holds, by name.
func ContentByTable(ctx context.Context, path string, engine Engine) (tables []TableContent, err error) {
	db, err := openDB(ctx, path, engine, readOnly)
	if err != nil {
		return nil, fmt.Errorf("hash the content: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	type column struct{ schema, table, name, kind string }
	columns, err := collect(ctx, db, func(rows *sql.Rows, c *column) error { return rows.Scan(&c.schema, &c.table, &c.name, &c.kind) }, `
		select c.schema_name, c.table_name, c.column_name, c.data_type
		from duckdb_columns() as c join duckdb_tables() as t on t.table_oid = c.table_oid and t.database_oid = c.database_oid
		where not t.internal
		order by c.schema_name, c.table_name, c.column_index`)
	if err != nil {
		return nil, fmt.Errorf("hash the content: %w", err)
	}
	for start := 0; start < len(columns); {
		first := columns[start]
		sum := sha256.New()
		var texts []string
		end := start
		for ; end < len(columns) && columns[end].table == first.table && columns[end].schema == first.schema; end++ {
			fmt.Fprintf(sum, "%s %s\n", columns[end].name, columns[end].kind)
			texts = append(texts, `"`+columns[end].name+`"::varchar`)
		}
		// Each row is hashed by itself, so that only the hashes are sorted.
		query := "select count(*), coalesce(sha256(string_agg(h, '' order by h)), '') from (select sha256(to_json([" +
			strings.Join(texts, ", ") + `])::varchar) as h from "` + first.schema + `"."` + first.table + `")`
		one := TableContent{Table: first.schema + "." + first.table}
		var content string
		if err := db.QueryRowContext(ctx, query).Scan(&one.Rows, &content); err != nil {
			return nil, fmt.Errorf("hash %s: %w", one.Table, err)
		}
		fmt.Fprintf(sum, "%d %s\n", one.Rows, content)
		one.SHA256 = hex.EncodeToString(sum.Sum(nil))
		tables = append(tables, one)
		start = end
	}
	return tables, nil
}

// Difference is a table that two stores do not have alike.
type Difference struct {
	Table     string
	Rows, Was int // rows of the new one and of the old one; -1: it has no such table
}

// Differences lists the tables that differ, by name.
func Differences(now, was []TableContent) []Difference {
	old := map[string]TableContent{}
	for _, t := range was {
		old[t.Table] = t
	}
	var list []Difference
	for _, t := range now {
		before, ok := old[t.Table]
		delete(old, t.Table)
		switch {
		case !ok:
			list = append(list, Difference{t.Table, t.Rows, -1})
		case t.SHA256 != before.SHA256:
			list = append(list, Difference{t.Table, t.Rows, before.Rows})
		}
	}
	for _, t := range old {
		list = append(list, Difference{t.Table, -1, t.Rows})
	}
	slices.SortFunc(list, func(a, b Difference) int { return strings.Compare(a.Table, b.Table) })
	return list
}

// TakenIn keeps, of what a landing store holds, the tables that follow from the
// files and settings taken in: not the ledger of runs, the register of reports,
// nor how the inbox lay.
func TakenIn(tables []TableContent) []TableContent {
	return slices.DeleteFunc(slices.Clone(tables), func(t TableContent) bool {
		return slices.Contains(ownHistory, strings.TrimPrefix(t.Table, "main."))
	})
}
