package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"

	"evenlimb/pipeline/export"
)

// bringUpToDate turns a store of an earlier form into one of today's. A store
// of a newer program is refused.
func (l *Landing) bringUpToDate(ctx context.Context) error {
	name := filepath.Base(l.path)
	var version int
	if err := l.db.QueryRowContext(ctx, "select version from store").Scan(&version); err != nil {
		return fmt.Errorf("%s is not a landing store of this program: %w", name, err)
	}
	switch {
	case version == landingVersion:
		return nil
	case version > landingVersion:
		return fmt.Errorf("%s was written by a newer program (form %d, this one knows %d); run that program, or put back a backup from before", name, version, landingVersion)
	}
	err := l.inTransaction(ctx, func(tx *sql.Tx) error {
		for _, s := range fromForm1() {
			if _, err := tx.ExecContext(ctx, s); err != nil {
				return fmt.Errorf("%.60s: %w", s, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("bring %s from form %d to form %d: %w; it is as it was", name, version, landingVersion, err)
	}
	return nil
}

// fromForm1 gives what turns a store of form 1 into one of form 2: the hash of
// the keys, how files were read and planned, and what the inbox looked like.
// Tables are made anew, so that their columns stand as in a new store.
func fromForm1() []string {
	var statements []string
	remake := func(table, ddl, columns, values string) {
		statements = append(statements,
			"alter table "+table+" rename to form1",
			ddl,
			"insert into "+table+" ("+columns+") select "+values+" from form1",
			"drop table form1")
	}
	for _, ddl := range landingTables {
		name, _, _ := strings.Cut(strings.TrimPrefix(ddl, "create table "), " ")
		switch name {
		case "files":
			const kept = "file, batch, sender, path, sha256, bytes, table_name, headings, rows_read, accepted, duplicates, corrections, withdrawals, quarantined, problem_code, problem"
			remake(name, ddl, kept, kept)
		case "batch_plan":
			const kept = "batch, ordinal, sender, path, sha256, bytes"
			remake(name, ddl, kept+", allowed", kept+", []")
		case "seen_files", "set_aside", "profiles", "drift_findings", "rekeys":
			statements = append(statements, ddl)
		}
	}
	for _, t := range export.Tables() {
		kept := "_sender, _batch, _file, _line, _key, _content, _action"
		for _, c := range t.Columns {
			kept += ", " + c.Name
		}
		remake(t.Name, exportTableDDL(t), kept+", _hash", kept+", md5_number_lower(_key)")
	}
	return append(statements, fmt.Sprintf("update store set version = %d", landingVersion))
}
