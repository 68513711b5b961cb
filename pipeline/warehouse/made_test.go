package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/duckdb/duckdb-go/v2"

	"evenlimb/pipeline/export"
)

// cells are a row of an export table by column; a column left out is empty.
type cells map[string]string

// version is one version of one key, as a sender sends it.
type sent struct {
	table     string
	sender    string
	cells     cells
	withdrawn bool
}

// history is the versions of one key, oldest first.
type history []sent

// placed is a version with the place at which it was received.
type placed struct {
	sent
	batch int
	path  string
	line  int
}

// drawHistories draws the records of a made-up practice of two senders: every
// table, corrections, withdrawals, rows whose parent never comes.
func drawHistories(rng *rand.Rand, episodes int) []history {
	d := drawer{rng: rng}
	for i := range episodes {
		d.episode(i)
	}
	return d.all
}

type drawer struct {
	rng *rand.Rand
	all []history
}

// add keeps a key with one to three versions: the cells given, then corrections
// that change one of them, now and then a withdrawal.
func (d *drawer) add(table, sender string, first cells, changes func(c cells)) {
	h := history{{table: table, sender: sender, cells: first}}
	for d.rng.Float64() < 0.3 && len(h) < 3 {
		next := maps.Clone(h[len(h)-1].cells)
		changes(next)
		if !maps.Equal(next, h[len(h)-1].cells) {
			h = append(h, sent{table: table, sender: sender, cells: next})
		}
	}
	if d.rng.Float64() < 0.04 {
		h = append(h, sent{table: table, sender: sender, cells: first, withdrawn: true})
		if d.rng.Float64() < 0.5 {
			h = append(h, sent{table: table, sender: sender, cells: first})
		}
	}
	d.all = append(d.all, h)
}

func (d *drawer) pick(words ...string) string { return words[d.rng.IntN(len(words))] }

func dayText(t time.Time, days int) string { return t.AddDate(0, 0, days).Format(time.DateOnly) }

var lowerStages = []string{"walking", "daily_activity", "jogging", "fast_running", "sport_drills", "partial_participation", "full_participation", "full_performance"}

func (d *drawer) episode(i int) {
	rng := d.rng
	site := d.pick("north", "south")
	id := fmt.Sprintf("E%04d", i)
	start := time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rng.IntN(700))
	length := 20 + rng.IntN(200)
	first := cells{
		"episode_id": id, "person_id": fmt.Sprintf("P%03d", rng.IntN(1+i)), "site": site, "side": d.pick("left", "right"), "start_date": dayText(start, 0),
		"injury_type": d.pick("calf_strain", "hamstring_strain"), "stage_at_start": d.pick(lowerStages...), "target_stage": d.pick("full_participation", "sport_drills", ""),
		"target_set_on": dayText(start, rng.IntN(40)),
	}
	if rng.Float64() < 0.4 {
		first["end_date"] = dayText(start, length-rng.IntN(2)*rng.IntN(20))
		if rng.Float64() < 0.1 {
			first["end_date"] = dayText(start, -3) // such an episode cannot be used
		}
		first["end_reason"] = d.pick("goal_met", "self_discharged", "lost_contact", "surgery", "new_injury", "transferred", "died")
	}
	if i%10 == 0 { // back so recently that nobody knows whether it holds
		start, length = testDay.AddDate(0, 0, -60), 60
		first["start_date"], first["stage_at_start"], first["target_set_on"] = dayText(start, 0), "walking", dayText(start, 0)
		delete(first, "end_date")
		delete(first, "end_reason")
		d.add("milestones", site, cells{"milestone_id": id + "-late", "episode_id": id, "reached_on": dayText(start, 55), "stage": "full_performance"}, func(cells) {})
	}
	if first["target_stage"] == "" || rng.Float64() < 0.1 {
		delete(first, "target_set_on")
	}
	if rng.Float64() < 0.97 { // else its rows wait for ever
		d.add("episodes", site, first, func(c cells) {
			switch rng.IntN(3) {
			case 0:
				c["target_stage"], c["target_set_on"] = d.pick("full_performance", "jogging"), dayText(start, rng.IntN(60))
			case 1:
				c["severity"] = d.pick("mild", "moderate", "severe")
			default:
				delete(c, "person_id")
			}
		})
	}
	for n, day := 0, 0; day < length; n, day = n+1, day+4+rng.IntN(12) {
		d.session(site, id, fmt.Sprintf("%s-S%02d", id, n), start, day)
	}
	for n := range rng.IntN(4) {
		day := rng.IntN(length + 1)
		m := cells{"episode_id": id, "reached_on": dayText(start, day), "stage": d.pick(lowerStages...), "change": d.pick("reached", "reached", "lost", "")}
		if rng.Float64() < 0.7 {
			m["milestone_id"] = fmt.Sprintf("%s-M%d", id, n)
		}
		d.add("milestones", site, m, func(c cells) { c["how_known"] = d.pick("observed", "told", "inferred") })
	}
	d.add("followups", site, cells{"episode_id": id, "contact_on": dayText(start, length+rng.IntN(30)), "reached": d.pick("true", "false")},
		func(c cells) { c["stage"] = d.pick(lowerStages...) })
	d.add("plans", site, cells{
		"episode_id": id, "plan_from": dayText(start, 0), "sessions_per_week": "2.5", "exercise": exerciseOf(id), "cuff_inflated": "true", "sets": "3", "reps": "45", "pressure_percent": "60",
	}, func(c cells) { c["sets"] = strconv.Itoa(1 + rng.IntN(4)) })
	if rng.Float64() < 0.6 {
		d.add("adverse_events", site, event(i, id, start), func(c cells) { c["grade"] = strconv.Itoa(1 + rng.IntN(4)) })
	}
}

// event is an adverse event of an episode: of every certainty and seriousness,
// linked or not, reported or not, now and then with dates that cannot be.
func event(i int, episode string, start time.Time) cells {
	c := cells{
		"event_id": episode + "-A", "episode_id": episode, "session_id": episode + "-S00", "onset_date": dayText(start, 3),
		"kind": []string{"bruising", "numbness", "dizziness"}[i%3], "certainty": []string{"confirmed", "suspected", "", "ruled_out", "confirmed"}[i%5],
		"serious": []string{"false", "true", ""}[(i/3)%3], "aware_date": dayText(start, 3+i%4),
	}
	if i%6 == 0 {
		delete(c, "session_id")
	}
	if i%11 == 0 {
		c["actuality"] = "potential"
	}
	if i%13 == 0 {
		c["aware_date"] = dayText(start, 1)
	}
	if i%7 > 1 {
		c["reported_date"] = dayText(start, 2+i%7)
	}
	return c
}

func (d *drawer) session(site, episode, id string, start time.Time, day int) {
	rng := d.rng
	d.add("sessions", site, cells{"session_id": id, "episode_id": episode, "session_date": dayText(start, day), "attendance": d.pick("attended", "attended", "attended", "missed"), "symptoms_asked": strconv.FormatBool(day%3 == 0), "pain_before": strconv.Itoa(day % 4), "pain_after": strconv.Itoa(day % 6)},
		func(c cells) { c["pain_before"] = strconv.Itoa(rng.IntN(11)) })
	d.add("bouts", site, bout(id, exerciseOf(episode), day),
		func(c cells) { c["reps"] = strconv.Itoa(rng.IntN(80)) })
	for _, answer := range []struct {
		measure string
		value   int
	}{{"pain_nrs", max(0, 6-day/14) + day%2}, {"lefs", min(80, 30+day/2+day%5)}} {
		// No draws: what follows must not depend on them.
		d.all = append(d.all, history{{table: "measurements", sender: site, cells: cells{
			"episode_id": episode, "measured_on": dayText(start, day), "measure": answer.measure, "side": "none", "value": strconv.Itoa(answer.value), "trial": "1",
		}}})
	}
	for _, side := range []string{"left", "right"} {
		d.add("measurements", site, cells{"episode_id": episode, "measured_on": dayText(start, day), "measure": "girth_calf", "side": side, "value": strconv.Itoa(30 + rng.IntN(10)), "trial": "1"},
			func(c cells) { c["value"] = fmt.Sprintf("%d.5", 30+rng.IntN(10)) })
	}
}

// exerciseOf is the one exercise of an episode.
func exerciseOf(episode string) string {
	return []string{"leg_press", "step_up"}[episode[len(episode)-1]%2]
}

// bout is the work of a session: harder as care goes on, easier again now and
// then, with and without the cuff, now and then ended for pain.
func bout(session, exercise string, day int) cells {
	c := cells{
		"session_id": session, "bout_no": "1", "exercise": exercise, "side": "bilateral", "sets": "3", "reps": strconv.Itoa(30 + day%20),
		"level": strconv.Itoa(1 + min(day/40, 3) - day%5/4*min(day/40, 1)), "movement_range": []string{"partial", "full"}[day/10%2], "load_kg": strconv.Itoa(20 + day%7),
		"end_reason": "planned", "seconds_per_rep": "2", "rest_seconds": "30", "mode": "continuous", "inflated_minutes": "3", "applied_pressure_mmhg": strconv.Itoa(90 + day%3*15), "occlusion_pressure_mmhg": "180",
	}
	if day%5 == 0 {
		c["end_reason"] = "pain"
	}
	if day%4 == 1 {
		c["cuff_inflated"] = "false"
		for _, column := range []string{"mode", "inflated_minutes", "applied_pressure_mmhg", "occlusion_pressure_mmhg"} {
			delete(c, column)
		}
	}
	return c
}

// arrange places the versions in batches and files: in random order, but for
// each key's own order of versions, cut at random places.
func arrange(rng *rand.Rand, histories []history, batches int) []placed {
	next := make([]int, len(histories))
	var open []int
	total := 0
	for i, h := range histories {
		open = append(open, i)
		total += len(h)
	}
	var out []placed
	lines := map[string]int{}
	const files = 3 // of each sender and table in a batch
	for n := 0; len(open) > 0; n++ {
		at := rng.IntN(len(open))
		i := open[at]
		v := histories[i][next[i]]
		next[i]++
		if next[i] == len(histories[i]) {
			open[at] = open[len(open)-1]
			open = open[:len(open)-1]
		}
		chunk := n * batches * files / total
		path := fmt.Sprintf("inbox/%s/%d_%s.csv", v.sender, chunk%files, v.table)
		key := fmt.Sprint(chunk/files, path)
		lines[key] += 1 + rng.IntN(2)
		out = append(out, placed{sent: v, batch: 1 + chunk/files, path: path, line: 1 + lines[key]})
	}
	return out
}

// land writes placed versions into a landing store; catalog is the name under
// which the connection has it. Batch n is received on testDay less as many days
// as batches follow.
func land(tb testing.TB, conn *sql.Conn, catalog string, versions []placed, batches int) {
	tb.Helper()
	exec := func(statement string, args ...any) {
		if _, err := conn.ExecContext(context.Background(), statement, args...); err != nil {
			tb.Fatalf("%.120s: %v", statement, err)
		}
	}
	for b := 1; b <= batches; b++ {
		exec("insert into "+catalog+".batches values (?, ?, 'closed', 'test')", b, testDay.AddDate(0, 0, b-batches))
	}
	type place struct {
		batch int
		path  string
	}
	files := map[place]sent{}
	byTable := map[string][]placed{}
	for _, v := range versions {
		files[place{v.batch, v.path}] = v.sent
		byTable[v.table] = append(byTable[v.table], v)
	}
	number := map[place]int{}
	for i, p := range slices.SortedFunc(maps.Keys(files), func(a, b place) int {
		if a.batch != b.batch {
			return a.batch - b.batch
		}
		return strings.Compare(a.path, b.path)
	}) {
		number[p] = i + 1
		exec("insert into "+catalog+".files by name select ?::integer as file, ?::integer as batch, ? as sender, ? as path, ? as sha256, 1 as bytes, ? as table_name, "+
			"1 as rows_read, 1 as accepted, 0 as duplicates, 0 as corrections, 0 as withdrawals, 0 as quarantined",
			i+1, p.batch, files[p].sender, p.path, fmt.Sprintf("%064x", i+1), files[p].table)
	}
	for _, table := range export.Tables() {
		landTable(tb, conn, catalog, table, byTable[table.Name], func(v placed) int { return number[place{v.batch, v.path}] })
	}
}

// landTable writes the versions of one table: as text into a table of its own,
// and from there into the store, where the engine reads them by their types.
func landTable(tb testing.TB, conn *sql.Conn, catalog string, table export.Table, versions []placed, file func(placed) int) {
	tb.Helper()
	columns := []string{"_sender", "_batch", "_file", "_line", "_action", "_key"}
	for _, c := range table.Columns {
		columns = append(columns, c.Name)
	}
	ctx := context.Background()
	statement := func(s string) {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			tb.Fatalf("%.120s: %v", s, err)
		}
	}
	statement("create or replace temp table incoming (" + strings.Join(columns, " varchar, ") + " varchar)")
	err := conn.Raw(func(raw any) error {
		rows, err := duckdb.NewAppender(raw.(driver.Conn), "temp", "main", "incoming")
		if err != nil {
			return err
		}
		for _, v := range versions {
			if err := rows.AppendRow(incoming(v, table, columns, file(v))...); err != nil {
				return err
			}
		}
		return rows.Close()
	})
	if err != nil {
		tb.Fatal(err)
	}
	statement("insert into " + catalog + "." + table.Name + " (" + strings.Join(columns, ", ") + ", _hash) select *, md5_number_lower(_key) from temp.main.incoming")
	statement("drop table temp.main.incoming")
}

func incoming(v placed, table export.Table, columns []string, file int) []driver.Value {
	action := "accepted"
	if v.withdrawn {
		action = "withdrawal"
	}
	header := columns[6:]
	row, values := make([]string, len(header)), make([]driver.Value, len(header))
	for i, name := range header {
		row[i] = absent
		if cell := v.cells[name]; cell != "" {
			row[i], values[i] = cell, cell
		}
	}
	lineage := []driver.Value{v.sender, strconv.Itoa(v.batch), strconv.Itoa(file), strconv.Itoa(v.line), action, caseKey(table, header, row)}
	return append(lineage, values...)
}
