package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
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

// profiledRows is about how many rows of a batch the quartiles and commonest
// values are taken from: every so-manieth row by the hash of its key, so that a
// first delivery of years costs no more than it must.
const profiledRows = 200_000

// Profiled says whether the profiles of a batch are in the store.
func (l *Landing) Profiled(ctx context.Context, batch int) (done bool, err error) {
	err = l.db.QueryRowContext(ctx, "select count(*) > 0 from profiles where batch = ?", batch).Scan(&done)
	return done, err
}

// ProfileBatch says what the rows of a batch were like. Only the batch's own rows
// are read, and of earlier ones the keys of episodes.
func (l *Landing) ProfileBatch(ctx context.Context, batch int) ([]Profile, error) {
	var all []Profile
	for _, t := range export.Tables() {
		var rows int
		// The smallest and largest batch of each stretch of the table are known, so
		// that this reads none of the rows before.
		err := l.db.QueryRowContext(ctx, "select count(*) from "+t.Name+" where _batch = ? and _action <> 'withdrawal'", batch).Scan(&rows)
		if err != nil {
			return nil, fmt.Errorf("profile of %s: %w", t.Name, err)
		}
		if rows == 0 {
			continue
		}
		p := profiler{table: t, step: max(1, rows/profiledRows)}
		for _, query := range []string{p.fills(), p.codes(), p.shapes(), p.quartiles(), p.commonest(), p.known(), p.twins()} {
			if query == "" {
				continue
			}
			list, err := collect(ctx, l.db, func(rows *sql.Rows, one *Profile) error {
				one.Batch, one.Table = batch, t.Name
				return scanProfile(rows, one)
			}, fresh(t)+query, batch)
			if err != nil {
				return nil, fmt.Errorf("profile of %s: %w", t.Name, err)
			}
			all = merge(all, list)
		}
	}
	return all, nil
}

// fresh are the rows of a batch that came for the first time, not those of files
// read again by another layout.
func fresh(t export.Table) string {
	return "with fresh as not materialized (select * from " + t.Name + " where _batch = $1 and _action <> 'withdrawal' and _file not in (select file from files where again_of is not null)) "
}

// scanProfile reads a profile behind what stands before it.
func scanProfile(rows *sql.Rows, p *Profile, before ...any) error {
	var low, middle, high sql.NullFloat64
	var common sql.NullString
	err := rows.Scan(append(before, &p.Sender, &p.Column, &p.Part, &p.Rows, &p.Filled, &low, &middle, &high, &common, &p.CommonCount)...)
	p.Measured, p.Low, p.Middle, p.High, p.Common = middle.Valid, low.Float64, middle.Float64, high.Float64, common.String
	return err
}

// merge adds what later queries say about a column to what is known of it.
func merge(all, more []Profile) []Profile {
	at := make(map[[4]string]int, len(all))
	for i, p := range all {
		at[[4]string{p.Sender, p.Table, p.Column, p.Part}] = i
	}
	for _, p := range more {
		i, known := at[[4]string{p.Sender, p.Table, p.Column, p.Part}]
		if !known {
			all = append(all, p)
			continue
		}
		if p.Measured {
			all[i].Measured, all[i].Low, all[i].Middle, all[i].High = true, p.Low, p.Middle, p.High
		}
		if p.Common != "" {
			all[i].Common, all[i].CommonCount = p.Common, p.CommonCount
		}
	}
	return all
}

// profiler writes the queries of one table. Each gives sender, column, part,
// rows, filled, three quartiles, the commonest value and its count.
type profiler struct {
	table export.Table
	step  int // one row in so many is looked at more closely
}

const noMore = "null, null, null, null, 0"

// fills counts rows, and those with a value, of each column.
func (p profiler) fills() string {
	counts, parts := []string{"count(*) as all_rows"}, []string{"select _sender, '', '', all_rows, all_rows, " + noMore + " from counted"}
	for _, c := range p.table.Columns {
		counts = append(counts, "count("+c.Name+") as "+c.Name)
		parts = append(parts, fmt.Sprintf("select _sender, '%s', '', all_rows, %s, %s from counted", c.Name, c.Name, noMore))
	}
	return ", counted as materialized (select _sender, " + strings.Join(counts, ", ") + " from fresh group by _sender) " + union(parts)
}

// codes counts the codes of each column of codes among its filled rows.
func (p profiler) codes() string {
	var parts []string
	for _, c := range p.table.Columns {
		switch c.Type {
		case export.Code, export.CodeSet, export.Boolean:
			parts = append(parts, fmt.Sprintf(
				"select _sender, '%s', cast(%s as varchar), cast(sum(count(*)) over (partition by _sender) as integer), count(*), %s from fresh where %s is not null group by _sender, %s",
				c.Name, c.Name, noMore, c.Name, c.Name))
		default:
		}
	}
	return union(parts)
}

// shapes counts how the keys of episodes and persons, and the table's own, are
// written: digits as 9, letters as a, letters and digits in turn as x.
func (p profiler) shapes() string {
	var parts []string
	for _, c := range p.table.Columns {
		if c.Type != export.Key || (c.Name != p.table.Key[0] && c.Name != "episode_id" && c.Name != "person_id") {
			continue
		}
		shape := fmt.Sprintf("regexp_replace(regexp_replace(regexp_replace(%s, '[0-9]+', '9', 'g'), '[A-Za-z]+', 'a', 'g'), '[a9]{3,}', 'x', 'g')", c.Name)
		parts = append(parts, fmt.Sprintf(
			"select _sender, '%s', '@shape ' || shape, cast(sum(count(*)) over (partition by _sender) as integer), count(*), %s from (select _sender, %s as shape from fresh where %s is not null and _hash %% %d = 0) group by _sender, shape "+
				"qualify row_number() over (partition by _sender order by count(*) desc, shape) <= 20",
			c.Name, noMore, shape, c.Name, p.step))
	}
	return union(parts)
}

// quartiles tells the middle of each column of numbers; of values, by measure.
func (p profiler) quartiles() string {
	var parts []string
	for _, c := range p.table.Columns {
		if c.Type != export.Integer && c.Type != export.Decimal {
			continue
		}
		part := "''"
		if p.table.Name == "measurements" && c.Name == "value" {
			part = "measure"
		}
		parts = append(parts, fmt.Sprintf(
			"select _sender, '%s', part, n, n, q[1], q[2], q[3], null, 0 from "+
				"(select _sender, %s as part, quantile_cont(cast(%s as double), [0.25, 0.5, 0.75]) as q, count(*) as n from fresh where %s is not null and _hash %% %d = 0 group by all)",
			c.Name, part, c.Name, c.Name, p.step))
	}
	return union(parts)
}

// commonest tells the commonest value of each column of numbers, of text and of
// repetitions.
func (p profiler) commonest() string {
	var parts []string
	for _, c := range p.table.Columns {
		switch c.Type {
		case export.Integer, export.Decimal, export.Text, export.Reps:
			parts = append(parts, fmt.Sprintf(
				"select _sender, '%s', '', 0, 0, null, null, null, cast(%s as varchar), count(*) * %d from fresh where %s is not null and _hash %% %d = 0 group by _sender, %s "+
					"qualify row_number() over (partition by _sender order by count(*) desc, %s) = 1",
				c.Name, c.Name, p.step, c.Name, p.step, c.Name, c.Name))
		default:
		}
	}
	return union(parts)
}

// known counts, among the different episodes that rows of other tables belong to,
// those that an earlier batch brought.
func (p profiler) known() string {
	for _, parent := range p.table.Parents {
		if parent.Table == "episodes" {
			return ", mine as (select distinct _sender, episode_id from fresh) " +
				"select m._sender, 'episode_id', '@known', count(*), count(e.episode_id), " + noMore +
				" from mine as m left join (select distinct _sender, episode_id from episodes where _batch < $1) as e on e._sender = m._sender and e.episode_id = m.episode_id group by m._sender"
		}
	}
	return ""
}

// twins counts new episodes that are, but for the key, one of an earlier batch.
func (p profiler) twins() string {
	if p.table.Name != "episodes" {
		return ""
	}
	const facts = "_sender, site, injury_type, side, start_date, onset_date, surgery_date, age_band, sex"
	return ", mine as (select * from fresh where _action = 'accepted'), before as (select distinct " + facts + " from episodes where _batch < $1 and _action <> 'withdrawal'), " +
		"met as (select m._sender, b._sender is not null as met from mine as m left join before as b on " + same("m", "b", facts) + ") " +
		"select _sender, '', '@twins', count(*), count(*) filter (met), " + noMore + " from met group by _sender"
}

// same joins two rows by columns that may be empty.
func same(a, b, columns string) string {
	var all []string
	for _, c := range strings.Split(columns, ", ") {
		all = append(all, a+"."+c+" is not distinct from "+b+"."+c)
	}
	return strings.Join(all, " and ")
}

func union(parts []string) string { return strings.Join(parts, " union all ") }

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
