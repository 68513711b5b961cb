package usable

import (
	"slices"

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/warehouse"
)

// item is something that was not recorded of an episode, and that alone would
// have let it be used for one more question.
type item struct {
	code  string
	table string
	rows  string // condition that picks the episodes out, never null
}

// items in order: an episode counts under the first that it lacks, so that it is
// promised once.
func (m *maker) items() []item {
	dates := returning.EpisodesTable
	sides, unknown := symmetry.EpisodesTable, dose.UnknownRows(m.period.To)
	days := "select episode_key, count(*) as days from " + symmetry.PairsTable + " where " + m.pairRows() + " group by episode_key, measure"
	measured := "not bilateral and episode_key in (select episode_key from (" + days + ") group by episode_key having max(days) = 1)"
	other := "not bilateral and episode_key not in (select episode_key from (" + days + ")) and episode_key in (select episode_key from " +
		symmetry.ChangesTable + " where " + m.changeRows() + ")"
	return []item{
		{"target_stage", dates, "coalesce(unusable = 'no_target', false)"},
		{"right_dates", dates, "coalesce(unusable = 'end_before_start', false)"},
		{"second_day", sides, measured},
		{"other_side", sides, other},
		{"sets", dose.EpisodesTable, unknown + " and missing_reason is null"},
		{"bouts", dose.EpisodesTable, unknown + " and coalesce(missing_reason = 'session_without_bouts', false)"},
		{"home_sessions", dose.EpisodesTable, unknown + " and coalesce(missing_reason = 'home_not_logged', false)"},
		{"delivery", dose.EpisodesTable, unknown + " and coalesce(missing_reason = 'delivery_gap', false)"},
	}
}

// lacking are the codes of the one item that each episode lacks, by its key.
func (m *maker) lacking() map[int]string {
	code := map[int]string{}
	lacks := func(episode int, item string) {
		if item != "" && code[episode] == "" {
			code[episode] = item
		}
	}
	for _, e := range m.in.Returns {
		switch e.Unusable {
		case "no_target":
			lacks(e.EpisodeKey, "target_stage")
		case "end_before_start":
			lacks(e.EpisodeKey, "right_dates")
		}
	}
	changed := map[int]bool{}
	for _, c := range m.in.Changes {
		changed[c.EpisodeKey] = changed[c.EpisodeKey] || m.inCare(c)
	}
	for _, e := range m.in.Sides {
		switch days := m.days[e.EpisodeKey]; {
		case e.Bilateral || days > 1:
		case days == 1:
			lacks(e.EpisodeKey, "second_day")
		case changed[e.EpisodeKey]:
			lacks(e.EpisodeKey, "other_side")
		}
	}
	of := map[string]string{"": "sets", "session_without_bouts": "bouts", "home_not_logged": "home_sessions", "delivery_gap": "delivery"}
	for _, e := range m.in.Doses {
		if dose.Unknown(e, m.period.To) {
			lacks(e.EpisodeKey, of[e.MissingReason])
		}
	}
	return code
}

// inCare says that the involved limb was measured on two days of care within the
// period: the day of the change and that of its baseline.
func (m *maker) inCare(c warehouse.LimbChange) bool {
	return m.holds(c.StartDate) && c.BaselineDay >= 0 && !c.StartDate.AddDate(0, 0, c.Day).After(m.period.To)
}

func (m *maker) changeRows() string {
	return m.began() + " and baseline_day >= 0 and day <= " + date(m.period.To) + " - start_date"
}

// gains adds, for the practice, each site and each injury type, of how many
// people one episode more could have been used had one more item been recorded:
// the item that most of them lack (of two as many the earlier). Nobody is counted
// twice in a group.
func (m *maker) gains(rows []row, types []group) {
	if len(rows) == 0 {
		return
	}
	code, hash := m.lacking(), inputsHash(rows)
	for _, g := range slices.Concat([]group{{}}, m.sites(), types) {
		people, episodes := map[string]map[int]bool{}, map[string]int{}
		for _, r := range rows {
			lacked := code[r.episode]
			if lacked == "" || !g.holds(r) {
				continue
			}
			if people[lacked] == nil {
				people[lacked] = map[int]bool{}
			}
			people[lacked][r.person] = true
			episodes[lacked]++
		}
		before := ""
		var most *item
		var where string
		for _, i := range m.items() {
			if n := len(people[i.code]); n > 0 && (most == nil || n > len(people[most.code])) {
				most, where = &i, m.where(g)+" and "+i.rows+before
			}
			before += " and episode_key not in (select episode_key from " + i.table + " where " + i.rows + ")"
		}
		if most == nil {
			continue
		}
		persons := len(people[most.code])
		f := m.figure(g, "", "one_more."+most.code, persons, persons, episodes[most.code])
		f.Unit, f.Method, f.InputsHash = "persons", "count", hash
		m.add(f, most.table, where)
	}
}
