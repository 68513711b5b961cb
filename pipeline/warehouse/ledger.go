package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"time"
)

// Run is one entry of the run ledger.
type Run struct {
	Number   int
	Batch    int // newest batch at its end; 0: none yet
	Command  string
	Program  string
	Started  time.Time // UTC
	Ended    time.Time // zero: it runs, or was cut off
	Outcome  string    // a sentence
	ExitCode int
}

// KnownFinding is something that needs a person, under a name by which it is
// recognised the next time.
type KnownFinding struct {
	Fingerprint string
	Words       string
}

// StartRun notes that a command has begun and returns the number of the run.
func (l *Landing) StartRun(ctx context.Context, command, program string, started time.Time) (number int, err error) {
	err = l.inTransaction(ctx, func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, "select coalesce(max(run), 0) + 1 from runs").Scan(&number); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "insert into runs values (?, null, ?, ?, ?, null, null, null)", number, command, program, started.UTC())
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("run ledger: %w", err)
	}
	return number, nil
}

// EndRun notes how a run ended and what it found that needs a person.
func (l *Landing) EndRun(ctx context.Context, r Run, findings []KnownFinding) error {
	err := inTransaction(ctx, l.db, func(tx *sql.Tx, raw driver.Conn) error {
		batch := sql.NullInt64{Int64: int64(r.Batch), Valid: r.Batch > 0}
		result, err := tx.ExecContext(ctx, "update runs set batch = ?, ended = ?, outcome = ?, exit_code = ? where run = ? and ended is null",
			batch, r.Ended.UTC(), r.Outcome, r.ExitCode, r.Number)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n != 1 {
			return errors.Join(fmt.Errorf("run %d is not running", r.Number), err)
		}
		return appendAll(raw, "", "run_findings", findings, func(k KnownFinding) []any {
			return []any{r.Number, k.Fingerprint, k.Words}
		})
	})
	if err != nil {
		return fmt.Errorf("run ledger: %w", err)
	}
	return nil
}

// Runs returns the newest runs, newest first, at most limit of them.
func (l *Landing) Runs(ctx context.Context, limit int) ([]Run, error) {
	const query = `select run, coalesce(batch, 0), command, program, started, ended, coalesce(outcome, ''), coalesce(exit_code, 0)
		from runs order by run desc limit ?`
	runs, err := collect(ctx, l.db, func(rows *sql.Rows, r *Run) error {
		var ended sql.NullTime
		err := rows.Scan(&r.Number, &r.Batch, &r.Command, &r.Program, &r.Started, &ended, &r.Outcome, &r.ExitCode)
		r.Ended = ended.Time
		return err
	}, query, limit)
	if err != nil {
		return nil, fmt.Errorf("run ledger: %w", err)
	}
	return runs, nil
}

// KnownFindings returns what the last run of the command noted that ended with
// one of the exit codes: a run that finds nothing beyond it brings nothing new.
func (l *Landing) KnownFindings(ctx context.Context, command string, exitCodes ...int) (map[string]bool, error) {
	codes := make([]int32, len(exitCodes))
	for i, c := range exitCodes {
		codes[i] = int32(c) //nolint:gosec // exit codes are below 256
	}
	const query = `select fingerprint from run_findings where run =
		(select max(run) from runs where command = ? and ended is not null and exit_code in (select unnest(?::integer[])))`
	list, err := collect(ctx, l.db, func(rows *sql.Rows, fingerprint *string) error {
		return rows.Scan(fingerprint)
	}, query, command, codes)
	if err != nil {
		return nil, fmt.Errorf("run ledger: %w", err)
	}
	known := make(map[string]bool, len(list))
	for _, f := range list {
		known[f] = true
	}
	return known, nil
}

// LogTrace notes that the persons behind a figure were written out: which
// figure (or which person-level list), as of which batch, into which folder, how many rows. run is 0 where
// the command keeps no entry in the ledger.
func (l *Landing) LogTrace(ctx context.Context, run int, figure string, batch int, folder string, rows int) error {
	number := sql.NullInt64{Int64: int64(run), Valid: run > 0}
	if _, err := l.db.ExecContext(ctx, "insert into trace_log values (?, ?, ?, ?, ?)", number, figure, batch, folder, rows); err != nil {
		return fmt.Errorf("run ledger: note the trace of %s: %w", figure, err)
	}
	return nil
}
