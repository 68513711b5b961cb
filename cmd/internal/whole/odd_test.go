package whole

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// odd changes the drawn rows so that every definition of README has somebody
// for whom it matters. All rows stay such that a site could send them.
func (m *maker) odd() {
	m.each("episodes", m.oddEpisode)
	m.each("milestones", m.oddMilestone)
	m.each("sessions", m.oddSession)
	m.oddBouts()
	m.each("plans", m.oddPlan)
	m.each("measurements", m.oddMeasurement)
	m.each("followups", func(row cells) {
		if m.chance(0.1) {
			row.set("reached", m.one("false", ""))
		}
	})
	m.hops()
	m.edges()
}

// edges puts somebody on the very day on which a definition turns.
func (m *maker) edges() {
	session, milestone, followup := m.rows[0]["sessions"][0], m.rows[0]["milestones"][0], m.rows[0]["followups"][0]
	through := map[string]string{"harbour": "2026-01-20", "millrace": "2026-01-10", "ropewalk": "2026-01-18", "saltmarsh": "2025-11-12"}
	n := 0
	m.each("episodes", func(row cells) {
		site, id := row.get("site"), row.get("episode_id")
		if row.get("end_date") != "" || row.get("end_reason") != "" {
			return
		}
		of := func(table string, like sent, changes ...string) {
			like.sender = row.row.sender
			m.like(cells{m, table, &like}, append([]string{"episode_id", id}, changes...)...)
		}
		n++
		day, known := through[site]
		switch {
		case !known && n%2 == 0: // the latest day of a site that states none
			of("sessions", session, "session_id", id+"-last", "session_date", "2026-01-22", "attendance", "cancelled")
		case known && n%3 == 0: // a return that has just held, or has not yet
			stage := "full_performance"
			if row.get("injury_type") == "lateral_elbow_tendinopathy" {
				stage = "arm_full_participation"
			}
			of("milestones", milestone, "milestone_id", id+"-last", "stage", stage, "change", "reached", "reached_on", plus(parse(day), -m.days(12, 13, 14, 15)), "not_yet_on", "")
		case known && n%6 == 2: // an end on the last day that the data reach
			row.set("end_date", day)
			row.set("end_reason", "not_returning")
		case known && n%3 == 1: // last heard of as long ago as the type allows, or a day more
			gap := map[string]int{"calf_strain": 42, "lateral_elbow_tendinopathy": 56, "anterior_cruciate_reconstruction": 70}[row.get("injury_type")]
			of("followups", followup, "contact_on", plus(parse(day), -gap-m.days(0, 1)), "reached", "true")
		}
	})
}

// cells gives names to a row's cells.
type cells struct {
	m     *maker
	table string
	row   *sent
}

func (c cells) get(column string) string   { return c.row.cells[c.m.column(c.table, column)] }
func (c cells) set(column, text string)    { c.row.cells[c.m.column(c.table, column)] = text }
func (m *maker) chance(p float64) bool     { return m.rng.Float64() < p }
func (m *maker) one(list ...string) string { return list[m.rng.IntN(len(list))] }

func (m *maker) days(list ...int) int { return list[m.rng.IntN(len(list))] }

// each calls change for every row that a table has now; rows added meanwhile
// are left alone.
func (m *maker) each(table string, change func(row cells)) {
	n := len(m.rows[0][table])
	for i := range n {
		row := m.rows[0][table][i]
		change(cells{m, table, &row})
		m.rows[0][table][i] = row
	}
}

// like adds a copy of a row with some cells changed, given as column, text pairs.
func (m *maker) like(row cells, changes ...string) {
	added := sent{sender: row.row.sender, cells: slices.Clone(row.row.cells)}
	with := cells{m, row.table, &added}
	for pair := range slices.Chunk(changes, 2) {
		with.set(pair[0], pair[len(pair)-1])
	}
	m.rows[0][row.table] = append(m.rows[0][row.table], added)
}

func (m *maker) oddEpisode(row cells) {
	id := row.get("episode_id")
	start := m.starts[id]
	switch u := m.rng.Float64(); {
	case u < 0.06:
		row.set("target_set_on", "")
	case u < 0.11:
		row.set("target_stage", "")
		row.set("target_set_on", "")
	case u < 0.15:
		row.set("target_set_on", plus(start, m.days(27, 28, 29, 60)))
	}
	switch u := m.rng.Float64(); {
	case u < 0.08:
		row.set("stage_at_start", "")
		m.unstaged[id] = true
	case u < 0.10:
		row.set("stage_at_start", "off_work")
		m.unstaged[id] = true
	}
	switch u := m.rng.Float64(); {
	case u < 0.03:
		row.set("surgery_date", plus(start, m.days(0, 1, 20, 90, 150)))
	case u < 0.05: // about the days to which data reach
		row.set("surgery_date", m.one("2025-11-13", "2026-01-18", "2026-01-19", "2026-01-20", "2026-01-21"))
	}
	if m.chance(0.04) {
		row.set("severity", "")
	}
	if m.chance(0.05) {
		row.set("side", "bilateral")
		row.set("worse_side", m.one("left", "right", ""))
	}
	ended := row.get("end_date") != ""
	switch u := m.rng.Float64(); {
	case !ended:
		if u < 0.05 {
			row.set("end_reason", m.one("surgery", "not_returning", "transferred"))
		} else if u < 0.10 { // an end that is still to come, for most
			row.set("end_date", m.one("2025-11-12", "2025-11-13", "2025-12-15", "2026-01-10", "2026-01-18", "2026-01-20", "2026-01-21", "2026-02-10"))
			row.set("end_reason", m.one("surgery", "goal_met", "other", "lost_contact"))
		}
	case u < 0.04:
		row.set("end_reason", "")
	case u < 0.10:
		row.set("end_date", "")
	case u < 0.20:
		row.set("end_reason", m.one("surgery", "new_injury", "not_returning", "may_not_continue", "died"))
	case u < 0.22:
		row.set("end_reason", "surgery")
		row.set("end_date", plus(start, m.days(0, 1)))
	case u < 0.23:
		row.set("end_date", plus(start, -3))
	case u < 0.24:
		row.set("start_date", m.one("2025-12-01", "2026-01-21", "2026-02-02"))
		row.set("end_date", "")
		row.set("end_reason", "")
	}
}

// oddMilestone lets a stage be lost again about the days of the holds.
func (m *maker) oddMilestone(row cells) {
	day, id := parse(row.get("reached_on")), row.get("milestone_id")
	another := func(name string, changes ...string) {
		m.like(row, append([]string{"milestone_id", id + name, "not_yet_on", ""}, changes...)...)
	}
	if m.chance(0.12) {
		after := m.days(0, 0, 1, 13, 14, 15, 16, 27, 28, 29)
		another("-x1", "change", "lost", "reached_on", plus(day, after))
		if m.chance(0.6) {
			another("-x2", "change", "", "reached_on", plus(day, after+m.days(0, 1, 20, 40)))
		}
	}
	if m.chance(0.03) {
		another("-x3", "change", "lost", "stage", m.one("full_performance", "arm_full_participation"))
	}
	if m.chance(0.03) {
		another("-x4", "stage", "usual_work", "reached_on", plus(day, m.days(-20, 3)))
	}
	if m.chance(0.04) || m.unstaged[row.get("episode_id")] && m.chance(0.5) {
		another("-x5", "reached_on", plus(m.starts[row.get("episode_id")], m.days(-9, -1, 0)))
		if m.chance(0.6) {
			another("-x6", "change", "lost", "reached_on", plus(m.starts[row.get("episode_id")], m.days(-20, -1, 0)))
		}
	}
	if row.get("change") == "reached" && m.chance(0.3) {
		row.set("change", "")
	}
}

func (m *maker) oddSession(row cells) {
	day := parse(row.get("session_date"))
	switch u := m.rng.Float64(); {
	case u < 0.01:
		row.set("setting", "home")
	case u < 0.02:
		row.set("setting", "")
	case u < 0.022:
		m.like(row, "session_id", row.get("session_id")+"-x", "session_date", plus(m.starts[row.get("episode_id")], -4))
	case u < 0.024:
		m.like(row, "session_id", row.get("session_id")+"-y", "session_date", m.one("2025-11-13", "2026-01-21", "2026-03-04"), "attendance", m.one("missed", "attended"))
	case u < 0.03:
		row.set("session_date", plus(day, 1))
	}
}

// oddBouts leaves out ingredients: a few everywhere, many in some episodes, and
// all bouts of a session now and then.
func (m *maker) oddBouts() {
	careless := map[string]float64{}
	terse := map[string]bool{} // sessions in which the mode alone says that the cuff was inflated
	dropped := map[string]bool{}
	for _, row := range m.rows[0]["sessions"] {
		id := row.cells[m.column("sessions", "session_id")]
		episode := row.cells[m.column("sessions", "episode_id")]
		if _, seen := careless[episode]; !seen {
			careless[episode] = 0.02
			if m.chance(0.3) {
				careless[episode] = 0.18
			}
		}
		careless[id] = careless[episode]
		dropped[id] = m.chance(0.004)
		terse[id] = (strings.HasSuffix(id, "-s01") || strings.HasSuffix(id, "-s02")) && m.chance(0.2)
	}
	m.rows[0]["bouts"] = slices.DeleteFunc(m.rows[0]["bouts"], func(row sent) bool { return dropped[row.cells[0]] })
	m.each("bouts", func(row cells) {
		p := careless[row.get("session_id")]
		for _, column := range []string{"sets", "reps", "inflated_minutes", "pressure_percent"} {
			if m.chance(p) {
				row.set(column, "")
			}
		}
		for _, column := range []string{"side", "mode", "cuff_inflated", "occlusion_pressure_mmhg", "applied_pressure_mmhg"} {
			if m.chance(p / 4) {
				row.set(column, "")
			}
		}
		inflated := row.get("mode") != ""
		switch {
		case inflated && terse[row.get("session_id")]:
			for _, column := range []string{"cuff_inflated", "applied_pressure_mmhg", "pressure_percent", "inflated_minutes"} {
				row.set(column, "")
			}
		case inflated && m.chance(0.01):
			row.set("cuff_inflated", "false")
		case inflated && m.chance(0.01): // only the minutes say so, or nothing does
			for _, column := range []string{"cuff_inflated", "mode", "applied_pressure_mmhg", "pressure_percent"} {
				row.set(column, "")
			}
			if m.chance(0.5) {
				row.set("inflated_minutes", m.one("", "0"))
			}
		case inflated && m.chance(0.005):
			row.set("mode", "passive")
		case !inflated && m.chance(0.01):
			row.set("cuff_inflated", "true")
		}
	})
}

func (m *maker) oddPlan(row cells) {
	from := parse(row.get("plan_from"))
	cuff := row.get("cuff_inflated") == "true"
	switch u := m.rng.Float64(); {
	case u < 0.02:
		row.set("sessions_per_week", "")
	case u < 0.03:
		row.set("cuff_inflated", "")
	case cuff && u < 0.07:
		row.set("sets", "")
	case cuff && u < 0.09:
		row.set("setting", "home")
	case u < 0.17:
		m.like(row, "plan_from", plus(from, m.days(-6, 3, 10, 13, 14, 30)), "sets", m.one("2", "4"), "sessions_per_week", m.one("1.5", "3"))
	case row.get("exercise") == "" && cuff && u < 0.25:
		row.set("sets", m.one("6", "9"))
	}
}

func (m *maker) oddMeasurement(row cells) {
	day := parse(row.get("measured_on"))
	if day.Equal(m.starts[row.get("episode_id")]) && m.chance(0.25) { // a first test after the first visit
		day = day.AddDate(0, 0, m.days(1, 2, 3, 4, 6, 7, 8))
		row.set("measured_on", plus(day, 0))
	}
	if row.get("measurement_id") == "" && strings.HasPrefix(row.get("measure"), "girth") && m.chance(0.2) {
		row.set("trial", "") // known by its other cells, as trial 1
	}
	switch u := m.rng.Float64(); {
	case u < 0.06:
		row.set("measured_on", plus(day, m.days(-9, -8, -7, -3, 3, 7, 8)))
	case u < 0.08: // as long before the day of the test as after it
		apart := m.days(2, 6, 7)
		if id := row.get("measurement_id"); id != "" {
			m.like(row, "measurement_id", id+"-x", "measured_on", plus(day, apart))
			row.set("measured_on", plus(day, -apart))
		}
	case u < 0.10:
		row.set("unit", "")
	case u < 0.11 && row.get("unit") == "cm":
		row.set("unit", "[in_i]")
	case u < 0.16 && row.get("measurement_id") != "":
		row.set("rater_id", m.one("", "c-other"))
	}
}

// hops adds measures of hops and endurance, which take the best of their trials;
// one can be zero, and of one less is better.
func (m *maker) hops() {
	seen := map[string]bool{}
	m.each("measurements", func(row cells) {
		episode, on := row.get("episode_id"), row.get("measured_on")
		if seen[episode+on] || row.get("measure") != "strength_knee_extension" || row.get("measurement_id") == "" {
			return
		}
		seen[episode+on] = true
		weeks := parse(on).Sub(m.starts[episode]).Hours() / 24 / 7
		if weeks < 10 {
			return
		}
		for i, side := range []string{"left", "right"} {
			for trial := 1; trial <= 2; trial++ {
				value := 110 + 20*m.rng.NormFloat64()
				if m.chance(0.02) {
					value = 0
				}
				id := fmt.Sprintf("%s-%s%d", row.get("measurement_id"), side, trial)
				m.like(row, "measurement_id", id+"h", "measure", "hop_single", "unit", "cm", "side", side, "trial", strconv.Itoa(trial), "value", decimal(math.Max(0, value)))
				m.like(row, "measurement_id", id+"t", "measure", "hop_timed_6m", "unit", "s", "side", side, "trial", strconv.Itoa(trial), "value", decimal(2.4+0.3*float64(i)+0.3*m.rng.Float64()))
				m.like(row, "measurement_id", id+"r", "measure", "heel_raises", "unit", "{rep}", "side", side, "trial", strconv.Itoa(trial), "value", strconv.Itoa(10+m.rng.IntN(20)))
			}
		}
	})
}

func decimal(x float64) string { return strconv.FormatFloat(math.Round(100*x)/100, 'f', -1, 64) }
