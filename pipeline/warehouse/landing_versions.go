package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/export"
)

// Action is what a row of a file does to what was known before.
type Action int

// The actions. All but Duplicate put a row into landing.
const (
	Accepted   Action = iota // a key not known before
	Duplicate                // means the same as the version in force
	Correction               // means something else, or brings back what was withdrawn
	Withdrawal               // says that the row no longer holds
)

// String is the word that stands in the landing column _action.
func (a Action) String() string {
	return [...]string{"accepted", "duplicate", "correction", "withdrawal"}[a]
}

// Outcome is what became of one row.
type Outcome struct {
	Action Action
	Again  bool // its key stood in the same file before
}

// version is the version of a key in force.
type version struct {
	content   [16]byte
	withdrawn bool
	file      int
}

// Add takes in rows of one table, in the order of the file, and says what became
// of each. Each is judged against the version in force before it: the newest by
// batch, path and line, rows of this file among them. No rows at all still name
// the table as one that the file fills.
func (f *FileLoad) Add(ctx context.Context, table export.Table, rows []Row) ([]Outcome, error) {
	to, err := f.into(ctx, table)
	if err != nil {
		return nil, err
	}
	inForce, err := f.inForce(ctx, to, rows)
	if err != nil {
		return nil, fmt.Errorf("find the versions in force: %w", err)
	}
	outcomes := make([]Outcome, len(rows))
	values := make([]driver.Value, 7+len(table.Columns))
	for i, r := range rows {
		before, known := inForce[r.Key]
		action := judge(r, before, known)
		outcomes[i] = Outcome{Action: action, Again: known && before.file == f.file}
		f.count(action)
		if action == Duplicate {
			continue
		}
		inForce[r.Key] = version{content: r.Content, withdrawn: r.Withdrawn, file: f.file}
		values[0], values[1], values[2], values[3] = f.planned.Sender, int32(f.batch), int32(f.file), int32(r.Line) //nolint:gosec // files have far fewer lines
		values[4], values[5], values[6] = r.Key, nil, action.String()
		if !r.Withdrawn {
			values[5] = duckdb.UUID(r.Content)
		}
		copy(values[7:], r.Cells)
		if err := to.rows.AppendRow(values...); err != nil {
			return nil, fmt.Errorf("line %d: %w", r.Line, err)
		}
	}
	if err := to.rows.Flush(); err != nil {
		return nil, err
	}
	to.stored = true
	f.counts.Read += len(rows)
	return outcomes, nil
}

func judge(r Row, before version, known bool) Action {
	switch {
	case known && r.Withdrawn == before.withdrawn && (r.Withdrawn || r.Content == before.content):
		return Duplicate
	case r.Withdrawn:
		return Withdrawal
	case known:
		return Correction
	default:
		return Accepted
	}
}

func (f *FileLoad) count(a Action) {
	switch a {
	case Accepted:
		f.counts.Accepted++
	case Duplicate:
		f.counts.Duplicates++
	case Correction:
		f.counts.Corrections++
	case Withdrawal:
		f.counts.Withdrawals++
	}
}

// inForce returns the versions in force of the keys of the rows.
func (f *FileLoad) inForce(ctx context.Context, to *tableLoad, rows []Row) (map[string]version, error) {
	found := make(map[string]version, len(rows))
	if !to.stored {
		return found, nil
	}
	for i, r := range rows {
		if err := f.keys.AppendRow(int32(i), r.Key); err != nil {
			return nil, err
		}
	}
	if err := f.keys.Flush(); err != nil {
		return nil, err
	}
	// A withdrawal has no content, and arg_max passes over what is empty; the
	// content found is then that of an earlier version, and is not looked at.
	query := `with asked as (select key, min(ordinal) as ordinal from incoming_keys group by key),
		versions as (
			select k.ordinal, v._content, v._action, v._file, v._file::bigint * 4294967296 + v._line as place
			from asked as k join ` + to.table.Name + ` as v on v._key = k.key
			where v._sender = ?
		)
		select ordinal, arg_max(_content, place), arg_max(_action, place) = 'withdrawal', max(_file) from versions group by ordinal`
	type newest struct {
		ordinal int
		version version
	}
	versions, err := collect(ctx, f.tx, func(rows *sql.Rows, n *newest) error {
		var content []byte
		err := rows.Scan(&n.ordinal, &content, &n.version.withdrawn, &n.version.file)
		copy(n.version.content[:], content)
		return err
	}, query, f.planned.Sender)
	if err != nil {
		return nil, err
	}
	for _, n := range versions {
		found[rows[n.ordinal].Key] = n.version
	}
	if _, err := f.tx.ExecContext(ctx, "truncate incoming_keys"); err != nil {
		return nil, err
	}
	return found, nil
}
