package practice

import (
	"math"
	"os"
	"slices"
	"testing"

	"evenlimb/seeds/reference"
)

// outcome is what one episode contributes to a curve, read from its records
// alone: a day, and 0 for watched no longer, 1 for returned, 2 for ended
// otherwise.
type outcome struct {
	day, state int
}

// outcomes reads every episode's outcome off the tables, by injury type.
func outcomes(t *testing.T, p *Practice) map[string][]outcome {
	t.Helper()
	tables := map[string][]Row{}
	for _, table := range []int{episodesTable, sessionsTable, measurementsTable, milestonesTable, followupsTable} {
		rows, err := p.current(table)
		if err != nil {
			t.Fatal(err)
		}
		tables[tableNames[table]] = rows
	}
	last := map[string]day{}
	touch := func(id string, on day) { last[id] = max(last[id], on) }
	idOf, on, attended := column(sessionsTable, "episode_id"), column(sessionsTable, "session_date"), column(sessionsTable, "attendance")
	for _, r := range tables["sessions"] {
		if r[attended] == "attended" {
			touch(r[idOf], parseDay(r[on]))
		}
	}
	for _, r := range tables["measurements"] {
		touch(r[column(measurementsTable, "episode_id")], parseDay(r[column(measurementsTable, "measured_on")]))
	}
	for _, r := range tables["followups"] {
		if r[column(followupsTable, "reached")] == "true" {
			touch(r[0], parseDay(r[1]))
		}
	}
	marks := map[string][]Row{}
	for _, r := range tables["milestones"] {
		marks[r[1]] = append(marks[r[1]], r)
		touch(r[1], parseDay(r[2]))
	}
	rank, ladder := map[string]int{}, map[string]string{}
	for name, stages := range p.w.ladders {
		for _, s := range stages {
			rank[s.code], ladder[s.code] = s.rank, name
		}
	}
	all := map[string][]outcome{}
	cellOf := func(r Row, name string) string { return r[column(episodesTable, name)] }
	for _, r := range tables["episodes"] {
		target := cellOf(r, "target_stage")
		if target == "" {
			target, _ = reference.Cell("injury_types", cellOf(r, "injury_type"), "default_target_stage")
		}
		if at := cellOf(r, "stage_at_start"); at != "" && rank[at] >= rank[target] && ladder[at] == ladder[target] {
			continue
		}
		start := parseDay(cellOf(r, "start_date"))
		site := slices.IndexFunc(p.Scenario.sites(), func(s site) bool { return s.code == cellOf(r, "site") })
		through := p.w.siteEnds[site]
		result := outcome{int(through - start), 0}
		end := cellOf(r, "end_reason")
		switch {
		case slices.Contains(causes[:], end):
			result = outcome{int(parseDay(cellOf(r, "end_date")) - start), 2}
		case end != "" || int(through-last[r[0]]) > gapOf(cellOf(r, "injury_type")):
			result = outcome{int(last[r[0]] - start), 0}
		}
		for i, m := range marks[r[0]] {
			if m[4] == "lost" || rank[m[3]] < rank[target] || ladder[m[3]] != ladder[target] {
				continue
			}
			held := true
			for _, n := range marks[r[0]][i+1:] {
				if n[4] == "lost" && rank[n[3]] <= rank[target] && parseDay(n[2])-parseDay(m[2]) <= 14 {
					held = false
				}
			}
			if held {
				result = outcome{int(parseDay(m[2]) - start), 1}
				break
			}
		}
		all[cellOf(r, "injury_type")] = append(all[cellOf(r, "injury_type")], result)
	}
	return all
}

func gapOf(code string) int {
	text, _ := reference.Cell("injury_types", code, "contact_gap_days")
	return whole(text)
}

// cumulative is a plain product-limit share returned by a day, with what
// competes, and a rough standard error by the number at risk.
func cumulative(rows []outcome, by int) (value, se float64) {
	slices.SortFunc(rows, func(a, b outcome) int { return a.day - b.day })
	left, variance := 1.0, 0.0
	for i := 0; i < len(rows); {
		at := rows[i].day
		if at > by {
			break
		}
		risk := float64(len(rows) - i)
		var back, other float64
		for ; i < len(rows) && rows[i].day == at; i++ {
			switch rows[i].state {
			case 1:
				back++
			case 2:
				other++
			}
		}
		value += left * back / risk
		variance += left * left * back / risk / risk
		left *= 1 - (back+other)/risk
	}
	return value, math.Sqrt(variance * (1 - value))
}

func committed(t *testing.T) *Truth {
	t.Helper()
	data, err := os.ReadFile("../../testdata/truth/default.json")
	if err != nil {
		t.Fatal(err)
	}
	truth, err := ReadTruth(data)
	if err != nil {
		t.Fatal(err)
	}
	return truth
}

// Curves read off the records, with everybody lost or not yet back left out
// from the last contact on, aim at the truth: losing people is no part of it.
func TestCurvesFromRecordsAimAtTheTruth(t *testing.T) {
	truth := committed(t)
	s := Default()
	s.Seed, s.Episodes = 77, 4000
	p, err := Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	for code, rows := range outcomes(t, p) {
		for _, by := range []int{6, 12, 26} {
			want, ok := truth.Find("return." + code + "/cumulative@" + week(by))
			if !ok {
				t.Fatalf("no truth for %s at week %d", code, by)
			}
			got, se := cumulative(rows, 7*by)
			if off := (got - want.Value) / math.Hypot(math.Max(se, 1/float64(len(rows))), want.SE); math.Abs(off) > 4 {
				t.Errorf("%s by week %d: %.4f from %d records, truth %.4f: %.1f standard errors off", code, by, got, len(rows), want.Value, off)
			} else {
				t.Logf("%s by week %d: %.4f, truth %.4f (%.1f se)", code, by, got, want.Value, off)
			}
		}
	}
}
