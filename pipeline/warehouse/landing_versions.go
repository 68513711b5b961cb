package warehouse

import (
	"cmp"
	"context"
	"crypto/md5" //nolint:gosec // see keyHash
	"database/sql"
	"database/sql/driver"
	"encoding/binary"
	"fmt"
	"slices"

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

// actionValues are the words, ready for the store: millions of rows share them.
var actionValues = [...]driver.Value{Accepted.String(), Duplicate.String(), Correction.String(), Withdrawal.String()}

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
	line      int
	row       int64 // in the store: tells rows that one line was turned into apart
}

func (v version) before(o version) bool {
	return cmp.Or(cmp.Compare(v.file, o.file), cmp.Compare(v.line, o.line), cmp.Compare(v.row, o.row)) < 0
}

// keyHash is the number by which the store finds a key: the later half of the
// key's MD5, which the engine knows as md5_number_lower.
func keyHash(key string) uint64 {
	sum := md5.Sum([]byte(key)) //nolint:gosec // finds keys; nobody gains by making two alike
	return binary.LittleEndian.Uint64(sum[8:])
}

// LooksUp says whether Add will look for versions of each key in the store: the
// sender's rows stand there, and nobody knows their keys.
func (f *FileLoad) LooksUp(ctx context.Context, table export.Table) (bool, error) {
	to, err := f.into(ctx, table)
	return err == nil && to.stored && to.before == nil, err
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
	hashes := make([]uint64, len(rows))
	again, earlier := false, false // a key of this file, of one before it
	for i, r := range rows {
		hashes[i] = keyHash(r.Key)
		again = !to.seen.add(hashes[i]) || again
		earlier = earlier || to.before.has(hashes[i])
	}
	inForce := map[string]version{}
	// As long as the store has nothing of the sender and no key came twice, there
	// is nothing to ask for: a first delivery of millions of rows is not joined
	// against itself once for each of its parts.
	ask := again || earlier || (to.stored && to.before == nil)
	if ask {
		if inForce, err = f.inForce(ctx, to, rows, hashes); err != nil {
			return nil, fmt.Errorf("find the versions in force: %w", err)
		}
	}
	outcomes := make([]Outcome, len(rows))
	if len(rows) > mostHeld {
		f.settle()
	}
	if err := f.widen(to.to, rows); err != nil {
		return nil, err
	}
	values := make([]driver.Value, lineage+len(to.to.columns))
	values[0], values[1], values[2] = f.planned.Sender, int32(f.batch), int32(f.file) //nolint:gosec // batches and files are far fewer
	for i, r := range rows {
		var held version
		known := false
		if ask {
			held, known = inForce[r.Key]
		}
		action := judge(r, held, known)
		if action != Duplicate && known && f.superseded(held, r.Line) {
			action = Duplicate
		}
		outcomes[i] = Outcome{Action: action, Again: known && held.file == f.file}
		f.count(action)
		if action == Duplicate {
			continue
		}
		if ask {
			inForce[r.Key] = version{content: r.Content, withdrawn: r.Withdrawn, file: f.file, line: r.Line}
		}
		values[3], values[4], values[5], values[6], values[7] = int32(r.Line), r.Key, hashes[i], nil, actionValues[action] //nolint:gosec // files have far fewer lines
		if !r.Withdrawn {
			values[6] = duckdb.UUID(r.Content)
		}
		for n, column := range to.to.columns {
			values[lineage+n] = r.Cells[column]
		}
		if err := to.to.rows.AppendRow(values...); err != nil {
			return nil, fmt.Errorf("line %d: %w", r.Line, err)
		}
	}
	if err := f.write(to.to); err != nil {
		return nil, err
	}
	f.counts.Read += len(rows)
	if _, known := f.landing.padded[f.planned.Sender]; known && padsIn(table, rows) {
		delete(f.landing.padded, f.planned.Sender)
	}
	return outcomes, nil
}

// widen makes ready to append to every column that the rows fill. A column that no
// file of the group fills costs nothing: with most files that is a good part of
// the table.
func (g *Group) widen(to *tableAppender, rows []Row) error {
	filled := make([]bool, len(to.table.Columns))
	for _, column := range to.columns {
		filled[column] = true
	}
	wider := len(to.columns) == 0
	for _, r := range rows {
		for i, v := range r.Cells {
			if v != nil && !filled[i] {
				filled[i], wider = true, true
			}
		}
	}
	if !wider {
		return g.ready(to)
	}
	g.settle()
	for _, a := range []**duckdb.Appender{&to.rows, &to.other} {
		if *a != nil {
			if err := (*a).Close(); err != nil {
				return err
			}
			*a = nil
		}
	}
	to.columns = to.columns[:0]
	for i, is := range filled {
		if is {
			to.columns = append(to.columns, i)
		}
	}
	return g.ready(to)
}

// ready makes an appender where none is free.
func (g *Group) ready(to *tableAppender) (err error) {
	if to.rows != nil {
		return nil
	}
	if to.other != nil && g.idle() {
		to.rows, to.other = to.other, nil
		return nil
	}
	g.settle()
	names := slices.Clone(lineageNames)
	for _, column := range to.columns {
		names = append(names, to.table.Columns[column].Name)
	}
	to.rows, err = duckdb.NewAppenderWithColumns(g.raw, "", "", to.table.Name, names)
	return err
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
func (f *FileLoad) inForce(ctx context.Context, to *tableLoad, rows []Row, hashes []uint64) (map[string]version, error) {
	f.settle()
	for i, hash := range hashes {
		if err := f.keys.AppendRow(int32(i), hash); err != nil {
			return nil, err
		}
	}
	if err := f.keys.Flush(); err != nil {
		return nil, err
	}
	query := `select k.ordinal, v._key, v._content, v._action = 'withdrawal', v._file, v._line, v.rowid
		from incoming_keys as k join ` + to.table.Name + ` as v on v._hash = k.hash
		where v._sender = ?`
	type found struct {
		ordinal int
		key     string
		version version
	}
	versions, err := collect(ctx, f.store(), func(rows *sql.Rows, n *found) error {
		var content []byte
		err := rows.Scan(&n.ordinal, &n.key, &content, &n.version.withdrawn, &n.version.file, &n.version.line, &n.version.row)
		copy(n.version.content[:], content)
		return err
	}, query, f.planned.Sender)
	if err != nil {
		return nil, err
	}
	inForce := make(map[string]version, len(rows))
	for _, n := range versions {
		key := rows[n.ordinal].Key
		if n.key != key {
			continue // two keys with one hash
		}
		if newest, known := inForce[key]; !known || newest.before(n.version) {
			inForce[key] = n.version
		}
	}
	_, err = f.store().ExecContext(ctx, "truncate incoming_keys")
	return inForce, err
}
