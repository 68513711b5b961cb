package safety

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/warehouse"
)

const (
	level       = 0.95
	perSessions = 1000 // sessions to which rates are stated
)

// definition is one of the two rates: which sessions it counts against, and
// which events count in it.
type definition struct {
	statistic    string
	exposureUnit string
	none         string // why there is no rate without such a session
	sessions     func(group) exposure
	event        func(period, warehouse.SafetyEvent) bool
	sessionsOf   func(group, period) string
	eventsOf     func(group, period) string
}

var definitions = []definition{
	{
		statistic: "rate_all", exposureUnit: "attended sessions", none: "No attended session in the period.",
		sessions: attended, event: period.inRate, sessionsOf: sessionsOf, eventsOf: countedOf,
	},
	{
		statistic: "rate_asked", exposureUnit: "sessions in which symptoms were asked about", none: "Symptoms were asked about in no attended session of the period.",
		sessions: asked, event: period.inAskedRate, sessionsOf: askedSessionsOf, eventsOf: askedEventsOf,
	},
}

// byPerson are the events and sessions of the persons of a group, in order of
// their key. A person may have an event and no session in the period.
type byPerson struct {
	events   []int
	sessions []float64
}

func (d definition) tally(g group, p period) byPerson {
	events, sessions := map[int]int{}, d.sessions(g).byPerson
	persons := make([]int, 0, len(sessions))
	for person := range sessions {
		persons = append(persons, person)
	}
	for _, e := range g.events {
		if d.event(p, e) {
			events[e.PersonKey]++
			if _, attends := sessions[e.PersonKey]; !attends && events[e.PersonKey] == 1 {
				persons = append(persons, e.PersonKey)
			}
		}
	}
	slices.Sort(persons)
	all := byPerson{events: make([]int, len(persons)), sessions: make([]float64, len(persons))}
	for i, person := range persons {
		all.events[i], all.sessions[i] = events[person], float64(sessions[person])
	}
	return all
}

// sums are the events and sessions of all persons.
func (b byPerson) sums() (events int, sessions float64) {
	for i, n := range b.events {
		events += n
		sessions += b.sessions[i]
	}
	return events, sessions
}

// rates adds both rates of a group, each with exact limits and, beside it, with
// mid-P limits.
func (m *maker) rates(g group) error {
	for _, d := range definitions {
		if err := m.rate(g, d); err != nil {
			return fmt.Errorf("adverse events: %w", err)
		}
	}
	return nil
}

func (m *maker) rate(g group, d definition) error {
	exact, midP := m.figure(g, d.statistic), m.figure(g, d.statistic+"_midp")
	tally := d.tally(g, m.period)
	events, sessions := tally.sums()
	for _, f := range []*result.Figure{&exact, &midP} {
		restsOn(f, d.sessions(g))
		f.Unit, f.ExposureUnit = "per 1,000 "+d.exposureUnit, d.exposureUnit
		f.Events, f.Exposure = &events, &sessions
		if g.stratum == serious {
			m.noteUnrecorded(f)
		}
	}
	if sessions == 0 {
		withhold(&exact, d.none)
		withhold(&midP, d.none)
		m.addRates(g, d, exact, midP)
		return nil
	}
	clustered, err := rates.Clustered(tally.events, tally.sessions, rates.ClusterOptions{Level: level, WidenAbove: 1 + float64(m.in.Rules.WidenAbovePercent)/100})
	if err != nil {
		return err
	}
	estimate(&exact, clustered.Estimate, d)
	beside, err := rates.MidP(events, sessions, level)
	if err != nil {
		return err
	}
	estimate(&midP, beside, d)
	if clustered.Widened {
		midP.Warnings = append(midP.Warnings, "These limits take events as independent. They come in the same persons, so that these limits are too narrow; the exact ones beside them were widened.")
	}
	m.addRates(g, d, exact, midP)
	return nil
}

func (m *maker) addRates(g group, d definition, figures ...result.Figure) {
	for _, f := range figures {
		m.add(f, source{SessionsTable, d.sessionsOf(g, m.period)}, source{EventsTable, d.eventsOf(g, m.period)})
	}
}

// estimate fills a rate in. Where no event was seen a value of 0 would say more
// than is known: there is none, and the upper limit is stated (decision: no
// event seen).
func estimate(f *result.Figure, e stats.Estimate, d definition) {
	f.Method, f.Level = e.Method, e.Level
	f.High = number(perSessions * e.High)
	for _, w := range e.Warnings {
		if w.Code != "no-events" {
			f.Warnings = append(f.Warnings, w.Text)
		}
	}
	if e.Events == 0 {
		f.Reason = fmt.Sprintf("No event in %.0f %s: up to %s per 1,000 (%.2f/%.0f, two-sided %.0f %%).", *f.Exposure, d.exposureUnit, short(*f.High), e.High**f.Exposure, *f.Exposure, 100*e.Level)
		return
	}
	f.Value, f.Low, f.StdError = number(perSessions*e.Value), number(perSessions*e.Low), number(perSessions*e.SE)
}

// short writes a number above 0 with two or three digits that count.
func short(x float64) string {
	switch {
	case x >= 10:
		return fmt.Sprintf("%.0f", x)
	case x >= 1:
		return fmt.Sprintf("%.1f", x)
	case x >= 0.1:
		return fmt.Sprintf("%.2f", x)
	default:
		return fmt.Sprintf("%.3f", x)
	}
}
