// Package safety answers one question: what went wrong in care, how often, and
// what of it is still waiting to be reported.
//
// It works on the rows of published.safety_sessions and safety_events and on
// nothing else, cuts them at the end of the month asked for, and returns
// figures, each with the rows it rests on.
//
// Two rates are never mixed: all events per 1,000 attended sessions, and events
// linked to a session in which symptoms were asked about per 1,000 such
// sessions. An event counts when it happened and was not ruled out.
package safety

import (
	"context"
	"fmt"
	"slices"
	"time"

	"evenlimb/pipeline/analysis/rare"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// The tables that the predicates of the figures are about.
const (
	SessionsTable = "published.safety_sessions"
	EventsTable   = "published.safety_events"
)

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// Input is what a month's figures are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Sessions     []warehouse.SafetySession // each list in order of the key
	Events       []warehouse.SafetyEvent
	Month        time.Time // any day of the month reported
	WindowMonths int       // months of sessions, to the month's end
	Rules        settings.Safety
	KindFloor    int      // persons who must have had a kind of event, or sessions for an injury type, for it to stand on its own
	InjuryTypes  []string // codes, in the order in which figures are wanted
	Sites        []string // codes, in that order
	Batch        int
}

// Month reads the published tables and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{
		Month: first, WindowMonths: practice.Return.WindowMonths, Rules: practice.Safety,
		KindFloor: practice.SmallCounts.Circulating, Batch: batch,
	}
	in.InjuryTypes = practice.TypeCodes()
	in.Sites = practice.SiteCodes()
	var err error
	if in.Sessions, err = wh.SafetySessions(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Events, err = wh.SafetyEvents(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(in)
}

// Analyse returns the figures of the month: rates and counts of the practice,
// of every injury type that had sessions, of every site, of every kind of event
// and of serious events, rare types and kinds each together; and for the whole practice what is still open, what
// could not be computed, and how long it took to know and to report.
//
// The period is the month and the WindowMonths-1 before it. Rates are per 1,000
// sessions, delays in days, shares between 0 and 1. A rate of which no event
// was seen has no value: its High says up to how much.
func Analyse(in Input) (result.Set, error) {
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	m := &maker{in: in, period: p}
	practice := m.group("", nil, "")
	if err := m.whole(practice); err != nil {
		return result.Set{}, err
	}
	m.onlyOfThePractice(practice)
	for _, g := range slices.Concat(m.types(), m.sites()) {
		if err := m.whole(g); err != nil {
			return result.Set{}, err
		}
	}
	for _, g := range m.strata(practice) {
		if err := m.rates(g); err != nil {
			return result.Set{}, err
		}
		m.events(g)
	}
	serious := m.seriousOnes(practice)
	if err := m.rates(serious); err != nil {
		return result.Set{}, err
	}
	m.events(serious)
	if err := m.delays(practice); err != nil {
		return result.Set{}, err
	}
	return m.set, m.delays(serious)
}

// types are the groups by injury type, the rare ones together.
func (m *maker) types() []group {
	persons := rare.Persons(m.in.Sessions, func(s warehouse.SafetySession) (string, int, bool) {
		return s.InjuryType, s.PersonKey, m.period.Holds(s.SessionDate)
	})
	own, few := rare.Split(m.in.InjuryTypes, persons, m.in.KindFloor)
	var groups []group
	for _, injury := range own {
		groups = append(groups, m.group(injury, []string{injury}, ""))
	}
	if len(few) > 0 {
		groups = append(groups, m.group(result.OtherTypes, few, ""))
	}
	return groups
}

func (m *maker) sites() []group {
	var groups []group
	for _, site := range m.in.Sites {
		groups = append(groups, m.group("", nil, site))
	}
	return groups
}

// whole adds what stands for the practice, a type and a site.
func (m *maker) whole(g group) error {
	if err := m.rates(g); err != nil {
		return err
	}
	m.events(g)
	m.certainties(g)
	m.exposure(g)
	return nil
}

// period is the span of sessions and onsets that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) (period, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 || in.KindFloor < 1 {
		return period{}, fmt.Errorf("adverse events: month %s, %d months of sessions and a floor of %d persons to a kind, all must be given", in.Month.Format(time.DateOnly), in.WindowMonths, in.KindFloor)
	}
	return period{result.PeriodOf(in.Month, in.WindowMonths)}, nil
}
