package safety

import (
	"fmt"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// events adds the number of events in the rate per attended session.
func (m *maker) events(g group) { m.counted(g, "events", "", all) }

// certainties adds how many of them are suspected, confirmed, or neither on
// record.
func (m *maker) certainties(g group) {
	m.counted(g, "events_suspected", "certainty = 'suspected'", func(e warehouse.SafetyEvent) bool { return e.Certainty == "suspected" })
	m.counted(g, "events_confirmed", "certainty = 'confirmed'", func(e warehouse.SafetyEvent) bool { return e.Certainty == "confirmed" })
	m.counted(g, "events_certainty_not_recorded", "certainty is null", func(e warehouse.SafetyEvent) bool { return e.Certainty == "" })
}

func all(warehouse.SafetyEvent) bool { return true }

// counted adds a count of events in the rate per attended session: those that
// keep holds for, which the condition picks out. It rests on everybody who
// attended a session.
func (m *maker) counted(g group, statistic, condition string, keep func(warehouse.SafetyEvent) bool) {
	f := m.figure(g, statistic)
	n := 0
	for _, e := range g.events {
		if m.period.inRate(e) && keep(e) {
			n++
		}
	}
	m.eventCount(f, g, n, and(countedOf(g, m.period), condition))
}

func (m *maker) eventCount(f result.Figure, g group, n int, where string) {
	f.Unit, f.Method = "events", "count"
	f.Value, f.Events = number(float64(n)), &n
	restsOn(&f, g.attended)
	m.add(f, source{SessionsTable, sessionsOf(g, m.period)}, source{EventsTable, where})
}

// exposure adds the attended sessions, those in which symptoms were asked about,
// and the share of them.
func (m *maker) exposure(g group) {
	for _, c := range []struct {
		statistic string
		of        exposure
		where     string
	}{
		{"sessions_attended", g.attended, sessionsOf(g, m.period)},
		{"sessions_asked", g.asked, askedSessionsOf(g, m.period)},
	} {
		f := m.figure(g, c.statistic)
		f.Unit, f.Method, f.Value = "sessions", "count", number(float64(c.of.sessions))
		restsOn(&f, c.of)
		m.add(f, source{SessionsTable, c.where})
	}
	f := m.figure(g, "asked_share")
	f.Unit, f.Method = "share", "share of the sessions on record"
	restsOn(&f, g.attended)
	f.Exposure, f.ExposureUnit = number(float64(g.attended.sessions)), "attended sessions"
	if g.attended.sessions == 0 {
		withhold(&f, "No attended session in the period.")
	} else {
		f.Value = number(float64(g.asked.sessions) / float64(g.attended.sessions))
	}
	m.add(f, source{SessionsTable, sessionsOf(g, m.period)})
}

// onlyOfThePractice adds what is stated for the whole practice alone: what the
// rates leave out, serious events, and reports that are still open.
func (m *maker) onlyOfThePractice(g group) {
	m.counted(g, "seriousness_not_recorded", "serious is null", func(e warehouse.SafetyEvent) bool { return e.Serious == nil })
	m.counted(g, "not_linked", "session_key is null", func(e warehouse.SafetyEvent) bool { return e.SessionKey == nil })
	m.leftOut(g, "potential_events", "potential and not ruled_out", func(e warehouse.SafetyEvent) bool { return e.Potential && !e.RuledOut })
	m.leftOut(g, "ruled_out_events", "ruled_out", func(e warehouse.SafetyEvent) bool { return e.RuledOut })

	// Nobody may overlook these: they are counted whether or not the site's data
	// reach them, and an open clock however old it is (decision: open clocks).
	m.always(g, "serious_events", m.began("counts and serious"), func(e warehouse.SafetyEvent) bool {
		return e.Counts && e.Serious != nil && *e.Serious && m.period.Holds(e.OnsetDate)
	})
	m.always(g, "open_clocks", openClocks(m.period), func(e warehouse.SafetyEvent) bool {
		return runsClock(e) && knownBy(e, m.period.To) && !reportedBy(e, m.period.To)
	})
	m.always(g, "clocks_not_computable", m.began(closedClocks(m.period)+" and aware_to_reported_days is null"), func(e warehouse.SafetyEvent) bool {
		return runsClock(e) && m.period.Holds(e.OnsetDate) && reportedBy(e, m.period.To) && e.AwareToReportedDays == nil
	})
}

// leftOut adds a count of events that no rate holds.
func (m *maker) leftOut(g group, statistic, condition string, keep func(warehouse.SafetyEvent) bool) {
	f := m.figure(g, statistic)
	n := 0
	for _, e := range g.events {
		if e.Watched && m.period.Holds(e.OnsetDate) && keep(e) {
			n++
		}
	}
	m.eventCount(f, g, n, m.began("watched and "+condition))
}

// always adds a count of events with the persons who had them.
func (m *maker) always(g group, statistic, where string, keep func(warehouse.SafetyEvent) bool) {
	f := m.figure(g, statistic)
	var persons, episodes []int
	for _, e := range g.events {
		if keep(e) {
			persons, episodes = append(persons, e.PersonKey), append(episodes, e.EpisodeKey)
		}
	}
	n := len(persons)
	f.Unit, f.Method, f.Value, f.Events = "events", "count", number(float64(n)), &n
	f.Persons, f.Episodes = count(distinct(persons)), count(distinct(episodes))
	m.add(f, source{EventsTable, where})
}

// noteUnrecorded says beside a figure of serious events how many events may
// belong to it.
func (m *maker) noteUnrecorded(f *result.Figure) {
	n := 0
	for _, e := range m.in.Events {
		if e.Serious == nil && m.period.inRate(e) {
			n++
		}
	}
	if n > 0 {
		f.Warnings = append(f.Warnings, fmt.Sprintf("Further events of which nobody recorded whether they were serious: %d. They are not in this figure; their clocks run as if they were.", n))
	}
}
