package warehouse

import (
	"context"
	"database/sql"
	"fmt"
)

// RekeysTable is what stands for the export table of a file that says which keys
// took the place of which.
const RekeysTable = "rekeys"

// PeopleKeys stands for a table in a Rekey whose keys are those of persons.
const PeopleKeys = "people"

// Rekey says that a sender writes a new key for what had an old one.
type Rekey struct {
	Line   int
	Table  string // an export table, or PeopleKeys
	OldKey string
	NewKey string
}

// Rekey takes in which keys took the place of which; the file holds nothing else.
func (f *FileLoad) Rekey(ctx context.Context, list []Rekey) error {
	f.side = RekeysTable
	for _, r := range list {
		_, err := f.store().ExecContext(ctx, "insert into rekeys values (?, ?, ?, ?, ?, ?, ?)", f.batch, f.file, r.Line, f.planned.Sender, r.Table, r.OldKey, r.NewKey)
		if err != nil {
			return err
		}
	}
	f.counts.Read += len(list)
	f.counts.Accepted += len(list)
	return nil
}

// GivenUp returns the keys of the sender that others took the place of, by table
// and key, each with the key that is written now.
func (f *FileLoad) GivenUp(ctx context.Context) (map[[2]string]string, error) {
	current, err := currentKeys(ctx, f.store(), "rekeys", f.batch)
	if err != nil {
		return nil, err
	}
	own := map[[2]string]string{}
	for k, now := range current {
		if k.sender == f.planned.Sender {
			own[[2]string{k.table, k.key}] = now
		}
	}
	return own, nil
}

// Rekeyed returns the newest batch in which each sender said for a table which
// keys took the place of which, by sender and table joined with a slash.
func (l *Landing) Rekeyed(ctx context.Context) (map[string]int, error) {
	type last struct {
		of    string
		batch int
	}
	list, err := collect(ctx, l.db, func(rows *sql.Rows, one *last) error { return rows.Scan(&one.of, &one.batch) },
		"select sender || '/' || table_name, max(batch) from rekeys group by all")
	if err != nil {
		return nil, fmt.Errorf("read which keys were exchanged: %w", err)
	}
	newest := map[string]int{}
	for _, one := range list {
		newest[one.of] = one.batch
	}
	return newest, nil
}
