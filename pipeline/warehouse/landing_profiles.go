package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"strings"

	"evenlimb/pipeline/export"
)

// Profile says what one column of the rows that a sender sent for a table in one
// batch was like, or one part of it: see drift.Profile.
type Profile struct {
	Batch       int
	Sender      string
	Table       string
	Column      string
	Part        string
	Rows        int
	Filled      int
	Measured    bool
	Low         float64
	Middle      float64
	High        float64
	Common      string
	CommonCount int
}

// Drift is something that moved against a sender's own past, as it was judged
// when its batch was closed.
type Drift struct {
	Batch  int
	Sender string
	Table  string
	Column string
	Code   string
	Rows   int
	Words  string
}

// profiledRows is about how many rows of a table and batch are looked at: every
// row of an ordinary night, and of more every second, third and so on by the hash
// of its key, so that a first delivery of years costs no more than it must.
const profiledRows = 20_000

// Profiled says whether the profiles of a batch are in the store.
func (l *Landing) Profiled(ctx context.Context, batch int) (done bool, err error) {
	err = l.db.QueryRowContext(ctx, "select count(*) > 0 from profiles where batch = ?", batch).Scan(&done)
	return done, err
}

// ProfileBatch says what the rows of a batch were like. Only the batch's own rows
// are read, and of earlier ones the episodes.
func (l *Landing) ProfileBatch(ctx context.Context, batch int) (all []Profile, err error) {
	conn, err := l.db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	for _, t := range export.Tables() {
		p := profiler{conn: conn, table: t, batch: batch}
		if err := p.profile(ctx); err != nil {
			return nil, fmt.Errorf("profile of %s: %w", t.Name, err)
		}
		all = append(all, p.found...)
	}
	return all, nil
}

// profiler profiles one table.
type profiler struct {
	conn  *sql.Conn
	table export.Table
	batch int
	step  int // one row in so many is looked at
	found []Profile
	at    map[[3]string]int // sender, column and part in found
}

func (p *profiler) profile(ctx context.Context) error {
	// Withdrawals hold a key alone, and files read again by another layout are no
	// news. The store knows the first and last batch of each stretch of a table, so
	// that this reads none of the rows before.
	fresh := "from " + p.table.Name + " where _batch = ? and _action <> 'withdrawal' and _file not in (select file from files where again_of is not null)"
	var rows int
	if err := p.conn.QueryRowContext(ctx, "select count(*) "+fresh, p.batch).Scan(&rows); err != nil || rows == 0 {
		return err
	}
	p.step, p.at = max(1, rows/profiledRows), map[[3]string]int{}
	if _, err := p.conn.ExecContext(ctx, fmt.Sprintf("create or replace temp table fresh as select * %s and _hash %% %d = 0", fresh, p.step), p.batch); err != nil {
		return err
	}
	for _, query := range []string{p.fills(), p.byMeasure(), p.values(), p.shapes(), p.known(), p.twins()} {
		if query == "" {
			continue
		}
		list, err := collect(ctx, p.conn, func(rows *sql.Rows, one *Profile) error { return scanProfile(rows, one) }, query)
		if err != nil {
			return err
		}
		for _, one := range list {
			p.add(one)
		}
	}
	return nil
}

// add takes in what a query says about a column, or adds it to what is known.
func (p *profiler) add(one Profile) {
	one.Batch, one.Table = p.batch, p.table.Name
	one.Rows, one.Filled, one.CommonCount = one.Rows*p.step, one.Filled*p.step, one.CommonCount*p.step
	key := [3]string{one.Sender, one.Column, one.Part}
	i, known := p.at[key]
	switch {
	case !known:
		p.at[key] = len(p.found)
		p.found = append(p.found, one)
	case one.Common != "":
		p.found[i].Common, p.found[i].CommonCount = one.Common, one.CommonCount
	}
}

// scanProfile reads a profile behind what stands before it.
func scanProfile(rows *sql.Rows, p *Profile, before ...any) error {
	var low, middle, high sql.NullFloat64
	var common sql.NullString
	err := rows.Scan(append(before, &p.Sender, &p.Column, &p.Part, &p.Rows, &p.Filled, &low, &middle, &high, &common, &p.CommonCount)...)
	p.Measured, p.Low, p.Middle, p.High, p.Common = middle.Valid, low.Float64, middle.Float64, high.Float64, common.String
	return err
}

// The queries of a table. Each gives sender, column, part, rows, filled, three
// quartiles, the commonest value and its count.
const (
	noQuartiles = "null, null, null"
	noMore      = noQuartiles + ", null, 0"
)

// fills counts the rows of each sender and, of each column, those with a value,
// with the quartiles of numbers, all in one pass.
func (p *profiler) fills() string {
	counts, columns := "count(*) as n", "struct_pack(name := '', filled := n, q := null::double[])"
	for _, c := range p.table.Columns {
		counts += ", count(" + c.Name + ") as n_" + c.Name
		quartiles := "null::double[]"
		if (c.Type == export.Integer || c.Type == export.Decimal) && !p.ofMeasures(c) {
			counts += ", quantile_cont(cast(" + c.Name + " as double), [0.25, 0.5, 0.75]) as q_" + c.Name
			quartiles = "q_" + c.Name
		}
		columns += ", struct_pack(name := '" + c.Name + "', filled := n_" + c.Name + ", q := " + quartiles + ")"
	}
	return "select _sender, c.name, '', n, c.filled, c.q[1], c.q[2], c.q[3], null, 0 from " +
		"(select _sender, n, unnest([" + columns + "]) as c from (select _sender, " + counts + " from fresh group by _sender))"
}

// ofMeasures says whether a column holds the values of many measures.
func (p *profiler) ofMeasures(c export.Column) bool {
	return p.table.Name == "measurements" && c.Name == "value"
}

// byMeasure gives the quartiles of values by their measure.
func (p *profiler) byMeasure() string {
	if p.table.Name != "measurements" {
		return ""
	}
	return "select _sender, 'value', measure, n, n, q[1], q[2], q[3], null, 0 from " +
		"(select _sender, measure, quantile_cont(cast(value as double), [0.25, 0.5, 0.75]) as q, count(*) as n from fresh where value is not null group by all)"
}

// values counts the codes of each column of codes among its filled rows, and of
// every other column but keys and dates the commonest value.
func (p *profiler) values() string {
	var columns, coded []string
	for _, c := range p.table.Columns {
		switch c.Type {
		case export.Code, export.CodeSet, export.Boolean:
			coded = append(coded, "'"+c.Name+"'")
			columns = append(columns, "cast("+c.Name+" as varchar) as "+c.Name)
		case export.Integer, export.Decimal, export.Text, export.Reps:
			columns = append(columns, "cast("+c.Name+" as varchar) as "+c.Name)
		default:
		}
	}
	if len(columns) == 0 {
		return ""
	}
	is := "false"
	if len(coded) > 0 {
		is = "name in (" + strings.Join(coded, ", ") + ")"
	}
	return "select _sender, name, if(coded, value, ''), cast(of as integer), n, " + noQuartiles + ", if(coded, null, value), if(coded, 0, n) from " +
		"(select _sender, name, value, count(*) as n, sum(count(*)) over (partition by _sender, name) as of, " + is + " as coded, " +
		"row_number() over (partition by _sender, name order by count(*) desc, value) as place from " +
		"(unpivot (select _sender, " + strings.Join(columns, ", ") + " from fresh) on * exclude (_sender) into name name value value) group by _sender, name, value) where coded or place = 1"
}

// shapes counts how the keys of episodes and persons, and the table's own, are
// written: digits as 9, letters as a, letters and digits in turn as x.
func (p *profiler) shapes() string {
	var columns []string
	for _, c := range p.table.Columns {
		if c.Type == export.Key && (c.Name == p.table.Key[0] || c.Name == "episode_id" || c.Name == "person_id") {
			columns = append(columns, c.Name)
		}
	}
	const most = 20 // shapes of a column; keys of letters and digits at random have many
	return fmt.Sprintf("select _sender, name, '@shape ' || shape, cast(of as integer), n, %s from "+
		"(select _sender, name, shape, count(*) as n, sum(count(*)) over (partition by _sender, name) as of, row_number() over (partition by _sender, name order by count(*) desc, shape) as place from "+
		"(select _sender, name, regexp_replace(regexp_replace(regexp_replace(value, '[0-9]+', '9', 'g'), '[A-Za-z]+', 'a', 'g'), '[a9]{3,}', 'x', 'g') as shape from "+
		"(unpivot (select _sender, %s from fresh) on * exclude (_sender) into name name value value)) group by _sender, name, shape) where place <= %d", noMore, strings.Join(columns, ", "), most)
}

// known counts, among the different episodes that rows of other tables belong to,
// those that an earlier batch brought.
func (p *profiler) known() string {
	for _, parent := range p.table.Parents {
		if parent.Table == "episodes" {
			return fmt.Sprintf("select m._sender, 'episode_id', '@known', count(*), count(e.episode_id), %s from (select distinct _sender, episode_id from fresh) as m "+
				"left join (select distinct _sender, episode_id from episodes where _batch < %d) as e on e._sender = m._sender and e.episode_id = m.episode_id group by m._sender", noMore, p.batch)
		}
	}
	return ""
}

// twins counts new episodes that are, but for the key, one of an earlier batch.
func (p *profiler) twins() string {
	if p.table.Name != "episodes" {
		return ""
	}
	facts := []string{"_sender", "site", "injury_type", "side", "start_date", "onset_date", "surgery_date", "age_band", "sex"}
	var same []string
	for _, c := range facts {
		same = append(same, "m."+c+" is not distinct from b."+c)
	}
	return fmt.Sprintf("select m._sender, '', '@twins', count(*), count(b._sender), %s from (select * from fresh where _action = 'accepted') as m "+
		"left join (select distinct %s from episodes where _batch < %d and _action <> 'withdrawal') as b on %s group by m._sender",
		noMore, strings.Join(facts, ", "), p.batch, strings.Join(same, " and "))
}

// PastProfiles returns, for the senders and tables of the profiles of a batch,
// those of at most limit batches before it.
func (l *Landing) PastProfiles(ctx context.Context, now []Profile, limit int) ([]Profile, error) {
	if len(now) == 0 {
		return nil, nil
	}
	var wanted []string
	for _, p := range now {
		if p.Column == "" && p.Part == "" {
			wanted = append(wanted, p.Sender+"/"+p.Table)
		}
	}
	const query = `with recent as (select batch, sender, table_name from profiles
			where column_name = '' and part = '' and batch < $1 and sender || '/' || table_name in (select unnest($3::varchar[]))
			qualify row_number() over (partition by sender, table_name order by batch desc) <= $2)
		select p.batch, p.table_name, p.sender, p.column_name, p.part, p.row_count, p.filled, p.low, p.middle, p.high, p.common, p.common_count
		from profiles as p semi join recent as r on r.batch = p.batch and r.sender = p.sender and r.table_name = p.table_name
		order by all`
	list, err := collect(ctx, l.db, func(rows *sql.Rows, p *Profile) error {
		return scanProfile(rows, p, &p.Batch, &p.Table)
	}, query, now[0].Batch, limit, wanted)
	if err != nil {
		return nil, fmt.Errorf("read the profiles of earlier batches: %w", err)
	}
	return list, nil
}

// KeepProfiles stores the profiles of a batch and what moved, together.
func (l *Landing) KeepProfiles(ctx context.Context, profiles []Profile, moved []Drift) error {
	err := inTransaction(ctx, l.db, func(_ *sql.Tx, raw driver.Conn) error {
		err := appendAll(raw, "", "profiles", profiles, func(p Profile) []any {
			var low, middle, high, common any
			if p.Measured {
				low, middle, high = p.Low, p.Middle, p.High
			}
			if p.Common != "" {
				common = p.Common
			}
			return []any{p.Batch, p.Sender, p.Table, p.Column, p.Part, p.Rows, p.Filled, low, middle, high, common, p.CommonCount}
		})
		if err != nil {
			return err
		}
		return appendAll(raw, "", "drift_findings", moved, func(d Drift) []any {
			return []any{d.Batch, d.Sender, d.Table, d.Column, d.Code, d.Rows, d.Words}
		})
	})
	if err != nil {
		return fmt.Errorf("keep the profiles of the batch: %w", err)
	}
	return nil
}

// Moved returns what had moved in the batches received on or after a day, those
// of one code from all batches, by batch, sender, table and column.
func (l *Landing) Moved(ctx context.Context, batch int, sinceDays int, always string) ([]Drift, error) {
	const query = `select d.batch, d.sender, d.table_name, d.column_name, d.code, d.row_count, d.words
		from drift_findings as d
		join batches as b on b.batch = d.batch
		where d.batch <= $1 and (d.code = $3 or b.received_on >= (select received_on from batches where batch = $1) - cast($2 as integer))
		order by all`
	list, err := collect(ctx, l.db, func(rows *sql.Rows, d *Drift) error {
		return rows.Scan(&d.Batch, &d.Sender, &d.Table, &d.Column, &d.Code, &d.Rows, &d.Words)
	}, query, batch, sinceDays, always)
	if err != nil {
		return nil, fmt.Errorf("read what moved: %w", err)
	}
	return list, nil
}
