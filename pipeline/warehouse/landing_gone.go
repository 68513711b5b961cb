package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/export"
)

var exportTables = export.Tables()

// Scope is which rows of a sender a complete delivery speaks for.
type Scope struct {
	Site  string    // empty: all sites
	From  time.Time // first day; zero: from the beginning
	To    time.Time // last day; zero: to the end
	Brake float64   // share of the rows in the scope; when more would go, nothing does
}

// noBrake lets everything go.
const noBrake = 1

// TooManyGoneError reports a complete delivery that leaves out so much that it
// looks like a mistake.
type TooManyGoneError struct {
	Table    string
	Gone     int
	Standing int
	Brake    float64
}

func (e *TooManyGoneError) Error() string {
	return fmt.Sprintf("%d of %d rows of %s that stand in the store are not in this complete delivery, more than the %g %% that its layout lets go",
		e.Gone, e.Standing, e.Table, 100*e.Brake)
}

// dayOf names, for each export table, the day by which a delivery's range takes
// its rows; the rows of a bout count by their session.
var dayOf = map[string]string{
	"episodes": "start_date", "plans": "plan_from", "sessions": "session_date", "bouts": "session_date", "measurements": "measured_on",
	"milestones": "reached_on", "followups": "contact_on", "adverse_events": "onset_date",
}

// Gone withdraws the rows of one table that stand in the store and in the scope
// of a complete delivery but were not in it, and returns how many. A row that was
// rejected was in it. Where the key of a rejected row could not be read, nothing
// is withdrawn, with a finding. It comes after the last row of the file; when it
// fails with TooManyGoneError the file must be aborted.
func (f *FileLoad) Gone(ctx context.Context, t export.Table, scope Scope) (int, error) {
	if f.again.of > 0 || f.unsaidCannotBeTold(t.Name) {
		return 0, nil // an old delivery says nothing about what came after it
	}
	brake := scope.Brake
	if f.planned.Mode == Meant {
		brake = noBrake
	}
	// The newest version of each key; of a parent the newest with cells in it, so
	// that rows follow a parent that this delivery withdraws.
	newest := func(table, columns, where string) string {
		return "(select " + columns + " from " + table + " where _sender = $1" + where +
			" qualify row_number() over (partition by _key order by _file desc, _line desc, rowid desc) = 1)"
	}
	const current = " and _action <> 'withdrawal'"
	day := dayOf[t.Name]
	columns := "_key, _hash, _action, min(_file) over (partition by _key) < $2 as earlier, " + keyList(t, "")
	from := "standing as s"
	own := func(column string) bool {
		return slices.ContainsFunc(t.Columns, func(c export.Column) bool { return c.Name == column })
	}
	for _, column := range []string{day, "site", "episode_id", "session_id"} {
		if own(column) && !slices.Contains(keyColumns(t), column) {
			columns += ", " + column
		}
	}
	episode, dated, place := "s", "s", "s"
	if !own(day) {
		from += " join " + newest("sessions", "session_id, episode_id, session_date", current) + " as p on p.session_id = s.session_id"
		episode, dated = "p", "p"
	}
	if !own("site") {
		from += " join " + newest("episodes", "episode_id, site", current) + " as e on e.episode_id = " + episode + ".episode_id"
		place = "e"
	}
	query := "with standing as " + newest(t.Name, columns, "") +
		" select s._key, s._hash, s.earlier, " + keyList(t, "s.") + " from " + from +
		" where s._action <> 'withdrawal' and ($3 = '' or " + place + ".site = $3)" +
		" and ($4::date is null or " + dated + "." + day + " >= $4) and ($5::date is null or " + dated + "." + day + " <= $5)" +
		livesOn(t)
	gone, err := f.withdraw(ctx, t, brake, query, f.planned.Sender, f.file, scope.Site, dateOrNull(scope.From), dateOrNull(scope.To))
	return gone, err
}

// livesOn leaves out the rows whose key, or that of the row they belong to, was
// exchanged for another: they are in the delivery under the new one.
func livesOn(t export.Table) string {
	exchanged := map[string]string{}
	if len(t.Key) == 1 {
		exchanged[t.Key[0]] = t.Name
	}
	for _, p := range t.Parents {
		exchanged[p.Column] = p.Table
	}
	condition := ""
	for _, column := range keyColumns(t) {
		if table := exchanged[column]; table != "" {
			condition += " and not exists (select 1 from rekeys as k where k.sender = $1 and k.table_name = '" + table + "' and k.old_key = s." + column + ")"
		}
	}
	return condition
}

func dateOrNull(day time.Time) sql.NullTime { return sql.NullTime{Time: day, Valid: !day.IsZero()} }

// withdraw writes withdrawals for the keys among those standing that are not in
// the file. The query gives _key, _hash, whether the key is known from an
// earlier file, and the columns of the key.
func (f *FileLoad) withdraw(ctx context.Context, t export.Table, brake float64, query string, args ...any) (gone int, err error) {
	if _, err := f.store().ExecContext(ctx, "create or replace temp table standing as "+query, args...); err != nil {
		return 0, fmt.Errorf("find what stands in %s: %w", t.Name, err)
	}
	type key struct {
		hash    uint64
		earlier bool
	}
	keys, err := collect(ctx, f.store(), func(rows *sql.Rows, k *key) error { return rows.Scan(&k.hash, &k.earlier) }, "select _hash, earlier from standing")
	if err != nil {
		return 0, fmt.Errorf("find what stands in %s: %w", t.Name, err)
	}
	said := f.said(t.Name)
	standing := 0
	missing, err := duckdb.NewAppender(f.raw, "temp", "main", "incoming_keys")
	if err != nil {
		return 0, err
	}
	for _, k := range keys {
		if k.earlier {
			standing++
		}
		if !said(k.hash) {
			if err := missing.AppendRow(int32(gone), k.hash); err != nil {
				return 0, err
			}
			gone++
		}
	}
	if err := missing.Close(); err != nil {
		return 0, err
	}
	if gone > 0 && float64(gone) > brake*float64(standing) {
		return 0, &TooManyGoneError{t.Name, gone, standing, brake}
	}
	insert := "insert into " + t.Name + ` by name select ? as _sender, ?::integer as _batch, ?::integer as _file, 0 as _line, _key, _hash, null as _content,
		'withdrawal' as _action, ` + keyList(t, "") + ` from standing where _hash in (select hash from incoming_keys)`
	if _, err := f.store().ExecContext(ctx, insert, f.planned.Sender, f.batch, f.file); err != nil {
		return 0, fmt.Errorf("withdraw rows of %s: %w", t.Name, err)
	}
	f.counts.Gone += gone
	_, err = f.store().ExecContext(ctx, "truncate incoming_keys")
	return gone, err
}

// said tells whether a key of the table stood in the file, in a good row or a
// rejected one.
func (f *FileLoad) said(table string) func(hash uint64) bool {
	var good *keySet
	for _, one := range f.tables {
		if one.table.Name == table {
			good = &one.seen
		}
	}
	rejected := f.rejects[table]
	return func(hash uint64) bool {
		_, there := rejected[hash]
		return there || good.has(hash)
	}
}

// unsaidCannotBeTold says whether a row of the file was rejected whose key
// could not be read: it may be any of those that seem to be missing. It notes
// that as a finding.
func (f *FileLoad) unsaidCannotBeTold(table string) bool {
	unread := f.unread[table] + f.unread[""]
	if unread == 0 {
		return false
	}
	code := "gone_not_judged"
	if !slices.ContainsFunc(f.findings, func(n FileFinding) bool { return n.Code == code }) {
		f.findings = append(f.findings, FileFinding{
			Code: code, Count: unread,
			Words: "the keys of rejected rows could not be read, so rows that seem to be missing from the delivery were not withdrawn",
		})
	}
	return true
}

// keyColumns are the columns that a withdrawal names.
func keyColumns(t export.Table) []string {
	columns := slices.Clone(t.Key)
	for _, c := range t.FallbackKey {
		if !slices.Contains(columns, c) {
			columns = append(columns, c)
		}
	}
	return columns
}

func keyList(t export.Table, prefix string) string {
	return prefix + strings.Join(keyColumns(t), ", "+prefix)
}
