package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"

	"github.com/duckdb/duckdb-go/v2"
)

// inTransaction does something on one connection, wholly or not at all. raw is
// the connection for appendAll, whose rows belong to the transaction.
func inTransaction(ctx context.Context, db *sql.DB, do func(tx *sql.Tx, raw driver.Conn) error) (err error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	raw, err := rawConn(conn)
	if err != nil {
		return err
	}
	// A transaction that ended by itself with its context would leave appenders
	// writing outside of any.
	tx, err := conn.BeginTx(context.WithoutCancel(ctx), nil)
	if err != nil {
		return err
	}
	if err := do(tx, raw); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// rawConn returns the driver's own connection. It is used while conn is held.
func rawConn(conn *sql.Conn) (raw driver.Conn, err error) {
	err = conn.Raw(func(c any) error {
		var ok bool
		if raw, ok = c.(driver.Conn); !ok {
			return fmt.Errorf("unexpected driver connection %T", c)
		}
		return nil
	})
	return raw, err
}

// appendAll writes rows to the end of a table, many times faster than inserts.
func appendAll[T any](raw driver.Conn, schema, table string, rows []T, values func(T) []any) (err error) {
	if len(rows) == 0 {
		return nil
	}
	to, err := duckdb.NewAppenderFromConn(raw, schema, table)
	if err != nil {
		return fmt.Errorf("%s: %w", table, err)
	}
	defer func() {
		if err = errors.Join(err, to.Close()); err != nil {
			err = fmt.Errorf("%s: %w", table, err)
		}
	}()
	for _, row := range rows {
		list := values(row)
		cells := make([]driver.Value, len(list))
		for i, v := range list {
			cells[i] = appendable(v)
		}
		if err := to.AppendRow(cells...); err != nil {
			return err
		}
	}
	return nil
}

// appendable turns a value into the one Go type that the appender takes for its
// column: 32 bits for an integer, nil for a pointer to nothing.
func appendable(v any) driver.Value {
	switch v := v.(type) {
	case int:
		return int32(v) //nolint:gosec // counts of persons, rows and batches
	case *int:
		if v == nil {
			return nil
		}
		return int32(*v) //nolint:gosec // as above
	case *float64:
		if v == nil {
			return nil
		}
		return *v
	default:
		return v
	}
}
