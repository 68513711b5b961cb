package practice

import (
	"math"
	"os"
	"slices"
	"strconv"
	"sync"
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

var readOnce = sync.OnceValues(func() (*Truth, error) {
	data, err := os.ReadFile("../../testdata/truth/default.json")
	if err != nil {
		return nil, err
	}
	return ReadTruth(data)
})

// committed is the truth file of the default practice.
func committed(t *testing.T) *Truth {
	t.Helper()
	truth, err := readOnce()
	if err != nil {
		t.Fatal(err)
	}
	return truth
}

// drawnOnce is a practice of about 4,500 episodes.
var drawnOnce = sync.OnceValues(func() (*Practice, error) {
	s := Default()
	s.Seed, s.Episodes = 77, 4000
	return Draw(s)
})

func drawn(t *testing.T) *Practice {
	t.Helper()
	p, err := drawnOnce()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, name string, got, se float64, n int) {
	t.Helper()
	want, ok := committed(t).Find(name)
	if !ok {
		t.Fatalf("no truth of %s", name)
	}
	if off := (got - want.Value) / math.Hypot(se, want.SE); math.Abs(off) > 4 {
		t.Errorf("%s: %.4f from %d records, truth %.4f: %.1f standard errors off", name, got, n, want.Value, off)
	}
}

// Curves read off the records, with everybody lost or not yet back left out
// from the last contact on, aim at the truth: losing people is no part of it.
func TestCurvesFromRecordsAimAtTheTruth(t *testing.T) {
	for code, rows := range outcomes(t, drawn(t)) {
		for _, by := range []int{6, 12, 26} {
			got, se := cumulative(rows, 7*by)
			near(t, "return."+code+"/cumulative@"+week(by), got, math.Max(se, 1/float64(len(rows))), len(rows))
		}
	}
}

// Ratios of the two limbs on days about week 6 and 12 aim at the typical index.
func TestRatiosFromRecordsAimAtTheTruth(t *testing.T) {
	p := drawn(t)
	type of struct {
		injury, side string
		start        day
	}
	episodes := map[string]of{}
	rows, err := p.current(episodesTable)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		episodes[r[0]] = of{r[column(episodesTable, "injury_type")], r[column(episodesTable, "side")], parseDay(r[column(episodesTable, "start_date")])}
	}
	if rows, err = p.current(measurementsTable); err != nil {
		t.Fatal(err)
	}
	measure := map[string]string{}
	for _, in := range injuries {
		measure[in.code] = in.strength
	}
	logs := map[string]map[string]float64{} // by type and week, episode: log of involved less that of uninvolved
	seen := map[string]int{}
	for _, r := range rows {
		id := r[1]
		e := episodes[id]
		on := parseDay(r[2]) - e.start
		by := 0
		switch {
		case on >= 6*7-5 && on <= 6*7+5:
			by = 6
		case on >= 12*7-5 && on <= 12*7+5:
			by = 12
		}
		if by == 0 || e.side == "bilateral" || r[3] != measure[e.injury] {
			continue
		}
		value, err := strconv.ParseFloat(r[5], 64)
		if err != nil {
			t.Fatal(err)
		}
		sign := -1.0
		if r[4] == e.side {
			sign = 1
		}
		k := e.injury + " " + week(by)
		if logs[k] == nil {
			logs[k] = map[string]float64{}
		}
		logs[k][id] += sign * math.Log(value)
		seen[k+id] += 1 + 100*int((1+sign)/2)
	}
	compared := 0
	for _, in := range injuries {
		for _, by := range []int{6, 12} {
			k := in.code + " " + week(by)
			var ratios []float64
			for id, sum := range logs[k] {
				if seen[k+id] == 204 { // two trials of either side, one day of testing
					ratios = append(ratios, sum/2)
				}
			}
			if len(ratios) < 60 {
				continue
			}
			compared++
			value, se := mean(ratios)
			index := 100 * math.Exp(value)
			near(t, "symmetry."+in.code+"."+in.strength+"/typical_index@"+week(by), index, index*se, len(ratios))
		}
	}
	if compared < 12 {
		t.Errorf("only %d points compared", compared)
	}
}

// Events that count, by attended session, aim at the truth.
func TestEventsFromRecordsAimAtTheTruth(t *testing.T) {
	p := drawn(t)
	sessions, err := p.current(sessionsTable)
	if err != nil {
		t.Fatal(err)
	}
	attended, asked := 0, map[string]bool{}
	for _, r := range sessions {
		if r[column(sessionsTable, "attendance")] != "attended" {
			continue
		}
		attended++
		if r[column(sessionsTable, "symptoms_asked")] == "true" {
			asked[r[0]] = true
		}
	}
	events, err := p.current(eventsTable)
	if err != nil {
		t.Fatal(err)
	}
	all, linked := 0.0, 0.0
	for _, r := range events {
		if r[column(eventsTable, "actuality")] == "potential" || r[column(eventsTable, "certainty")] == "ruled_out" {
			continue
		}
		all++
		if asked[r[column(eventsTable, "session_id")]] {
			linked++
		}
	}
	for name, rate := range map[string]struct{ events, sessions float64 }{
		"safety/per_1000_attended": {all, float64(attended)}, "safety/per_1000_asked": {linked, float64(len(asked))},
	} {
		near(t, name, 1000*rate.events/rate.sessions, 1000*math.Sqrt(rate.events)/rate.sessions, int(rate.sessions))
	}
}
