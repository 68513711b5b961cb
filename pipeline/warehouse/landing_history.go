package warehouse

import (
	"context"
	"errors"
	"fmt"
)

// CopyHistory copies into a new landing store what the archive cannot bring back
// from the one before it: the ledger of runs, the register of reports, what was
// set aside. Nobody may have either of them open.
func CopyHistory(ctx context.Context, to, from string, engine Engine) (err error) {
	db, err := openDB(ctx, to, engine, readWrite, from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	statements := []string{"attach " + quote(absolute(from)) + " as old (read_only)", "begin transaction"}
	for _, table := range ownHistory {
		statements = append(statements, "insert into "+table+" by name select * from old."+table)
	}
	for _, s := range append(statements, "commit", "detach old") {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			return fmt.Errorf("copy the ledger and the register: %w", err)
		}
	}
	return nil
}
