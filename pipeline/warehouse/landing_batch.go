package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"evenlimb/pipeline/settings"
)

// Batch is one taking in of files, or of a changed version of the settings.
type Batch struct {
	Number     int
	ReceivedOn time.Time // a label: a date at midnight UTC, never earlier than the batch before
	Open       bool      // its files are not all in yet
	Program    string    // version of the program that opened it
}

// Planned is a file that a batch is to take in. The plan is written before the
// first of its files, so that a night that was cut off is finished as it began.
type Planned struct {
	Sender string
	Path   string // below inbox/, with slashes, the sender first
	SHA256 string // of its bytes, under which it lies in archive/
	Bytes  int64
	Mode   Mode

	// Refused says why nothing of the file was kept, not even in archive/; empty
	// for a file that was. Rules stands for what it was judged by: when that
	// changes, the file is looked at again.
	Refused Problem
	Rules   string
	Allowed []string // columns in which the practice allows what would be refused
}

// Mode says why a batch takes a file in.
type Mode string

// The modes.
const (
	New   Mode = ""      // it is new in the inbox
	Again Mode = "again" // it was read before and is read with today's layout
	Meant Mode = "meant" // it was held back, and the practice says that so many rows are gone
)

// comesBefore is the order of a plan: the path in byte order, and what was sent
// earlier under the same path first.
func (p Planned) comesBefore(o Planned) bool {
	return p.Path < o.Path || (p.Path == o.Path && p.SHA256 != o.SHA256 && p.Mode != New)
}

// The states of a batch.
const (
	batchOpen   = "open"
	batchClosed = "closed"
)

// OpenBatch writes the next batch with its plan and the settings files that
// changed, in one transaction. The plan must be in byte order of the paths. A
// settings file that is gone has no text. today is the date of the run in the
// practice's zone; when it lies before the batch before, that batch's date is
// taken and back is true.
func (l *Landing) OpenBatch(ctx context.Context, today time.Time, program string, plan []Planned, changed []settings.File) (opened Batch, back bool, err error) {
	for i := 1; i < len(plan); i++ {
		if !plan[i-1].comesBefore(plan[i]) {
			return Batch{}, false, fmt.Errorf("open batch: plan is not in order of paths: %s, %s", plan[i-1].Path, plan[i].Path)
		}
	}
	err = l.inTransaction(ctx, func(tx *sql.Tx) error {
		var last int
		var received sql.NullTime
		var open bool
		const newest = "select coalesce(max(batch), 0), max(received_on), coalesce(bool_or(state = 'open'), false) from batches"
		if err := tx.QueryRowContext(ctx, newest).Scan(&last, &received, &open); err != nil {
			return err
		}
		if open {
			return errors.New("a batch is open; it must be finished first")
		}
		opened = Batch{Number: last + 1, ReceivedOn: today, Open: true, Program: program}
		if received.Valid && today.Before(received.Time) {
			opened.ReceivedOn, back = received.Time, true
		}
		if _, err := tx.ExecContext(ctx, "insert into batches values (?, ?, ?, ?)", opened.Number, opened.ReceivedOn, batchOpen, program); err != nil {
			return err
		}
		for i, p := range plan {
			if _, err := tx.ExecContext(ctx, "insert into batch_plan values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", opened.Number, i+1, p.Sender, p.Path, p.SHA256, p.Bytes,
				string(p.Mode), nullable(p.Refused.Code), nullable(p.Refused.Words), nullable(p.Rules), p.Allowed); err != nil {
				return err
			}
		}
		for _, f := range changed {
			text := sql.NullString{String: string(f.Text), Valid: f.Text != nil}
			if _, err := tx.ExecContext(ctx, "insert into settings_versions values (?, ?, ?, ?)", opened.Number, f.Path, f.Version, text); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Batch{}, false, fmt.Errorf("open batch: %w", err)
	}
	return opened, back, nil
}

// ResumeBatch returns the batch that is open and the planned files that are not
// in yet, in their order; ok is false when none is open.
func (l *Landing) ResumeBatch(ctx context.Context) (b Batch, rest []Planned, ok bool, err error) {
	all, err := l.Batches(ctx)
	if err != nil {
		return Batch{}, nil, false, err
	}
	if len(all) == 0 || !all[len(all)-1].Open {
		return Batch{}, nil, false, nil
	}
	b = all[len(all)-1]
	const missing = planColumns + ` from batch_plan as p
		anti join files as f on f.batch = p.batch and f.path = p.path and f.sha256 = p.sha256
		where p.batch = ? order by p.ordinal`
	rest, err = collect(ctx, l.db, scanPlanned, missing, b.Number)
	if err != nil {
		return Batch{}, nil, false, fmt.Errorf("read the plan of batch %d: %w", b.Number, err)
	}
	return b, rest, true, nil
}

const planColumns = `select p.sender, p.path, p.sha256, p.bytes, p.mode, coalesce(p.problem_code, ''), coalesce(p.problem, ''), coalesce(p.rules, ''), p.allowed`

func scanPlanned(rows *sql.Rows, p *Planned) error {
	var allowed []any
	err := rows.Scan(&p.Sender, &p.Path, &p.SHA256, &p.Bytes, &p.Mode, &p.Refused.Code, &p.Refused.Words, &p.Rules, &allowed)
	if len(allowed) > 0 {
		p.Allowed = texts(allowed)
	}
	return err
}

// Plan returns all that a batch was planned to take in, in its order.
func (l *Landing) Plan(ctx context.Context, batch int) ([]Planned, error) {
	list, err := collect(ctx, l.db, scanPlanned, planColumns+" from batch_plan as p where p.batch = ? order by p.ordinal", batch)
	if err != nil {
		return nil, fmt.Errorf("read the plan of batch %d: %w", batch, err)
	}
	return list, nil
}

// CloseBatch marks a batch as whole. Every planned file must be in.
func (l *Landing) CloseBatch(ctx context.Context, batch int) error {
	const finish = `update batches set state = 'closed' where batch = ? and state = 'open'
		and not exists (select 1 from batch_plan as p anti join files as f on f.batch = p.batch and f.path = p.path and f.sha256 = p.sha256 where p.batch = batches.batch)`
	result, err := l.db.ExecContext(ctx, finish, batch)
	if err != nil {
		return fmt.Errorf("close batch %d: %w", batch, err)
	}
	if n, err := result.RowsAffected(); err != nil || n != 1 {
		return errors.Join(fmt.Errorf("close batch %d: it is not open, or a planned file is not in yet", batch), err)
	}
	return nil
}

// Batches returns all batches, oldest first.
func (l *Landing) Batches(ctx context.Context) ([]Batch, error) {
	const query = "select batch, received_on, state, program from batches order by batch"
	batches, err := collect(ctx, l.db, func(rows *sql.Rows, b *Batch) error {
		var state string
		err := rows.Scan(&b.Number, &b.ReceivedOn, &state, &b.Program)
		b.Open = state == batchOpen
		return err
	}, query)
	if err != nil {
		return nil, fmt.Errorf("read the batches: %w", err)
	}
	return batches, nil
}

// Batch returns one batch.
func (l *Landing) Batch(ctx context.Context, number int) (Batch, error) {
	batches, err := l.Batches(ctx)
	if err != nil {
		return Batch{}, err
	}
	for _, b := range batches {
		if b.Number == number {
			return b, nil
		}
	}
	return Batch{}, fmt.Errorf("there is no batch %d; the newest is %d", number, len(batches))
}

// BatchAsOf returns the last whole batch received by a date; ok is false when
// there is none.
func (l *Landing) BatchAsOf(ctx context.Context, date time.Time) (b Batch, ok bool, err error) {
	batches, err := l.Batches(ctx)
	if err != nil {
		return Batch{}, false, err
	}
	for _, one := range batches {
		if !one.Open && !one.ReceivedOn.After(date) {
			b, ok = one, true
		}
	}
	return b, ok, nil
}

// SettingsAt returns the settings files in force in a batch, in order of their
// paths. Before the first batch there are none.
func (l *Landing) SettingsAt(ctx context.Context, batch int) ([]settings.File, error) {
	const inForce = `select path, version, text from settings_versions where batch <= ?
		qualify row_number() over (partition by path order by batch desc) = 1 order by path`
	var files []settings.File
	versions, err := collect(ctx, l.db, scanSettings, inForce, batch)
	if err != nil {
		return nil, fmt.Errorf("read the settings of batch %d: %w", batch, err)
	}
	for _, f := range versions {
		if f.Text != nil {
			files = append(files, f)
		}
	}
	return files, nil
}

// SettingsOf returns the settings files that changed with a batch, in order of
// their paths; one that is gone has no text.
func (l *Landing) SettingsOf(ctx context.Context, batch int) ([]settings.File, error) {
	files, err := collect(ctx, l.db, scanSettings, "select path, version, text from settings_versions where batch = ? order by path", batch)
	if err != nil {
		return nil, fmt.Errorf("read the settings of batch %d: %w", batch, err)
	}
	return files, nil
}

func scanSettings(rows *sql.Rows, f *settings.File) error {
	var text sql.NullString
	err := rows.Scan(&f.Path, &f.Version, &text)
	if text.Valid {
		f.Text = []byte(text.String)
	}
	return err
}

// PracticeAt returns the practice's settings in force in a batch.
func (l *Landing) PracticeAt(ctx context.Context, batch int) (*settings.Practice, error) {
	files, err := l.SettingsAt(ctx, batch)
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if f.Path == settings.PracticeFile {
			return settings.Parse(f.Text, fmt.Sprintf("%s of batch %d", f.Path, batch))
		}
	}
	return nil, fmt.Errorf("batch %d has no %s", batch, settings.PracticeFile)
}

// collect reads all rows of a query into a slice, each by scan.
func collect[T any](ctx context.Context, db queryer, scan func(*sql.Rows, *T) error, query string, args ...any) (list []T, err error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var one T
		if err := scan(rows, &one); err != nil {
			return nil, err
		}
		list = append(list, one)
	}
	return list, rows.Err()
}

// queryer is a database, a connection or a transaction.
type queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}
