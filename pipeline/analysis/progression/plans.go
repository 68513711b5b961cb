package progression

import (
	"fmt"

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/warehouse"
)

const secondsPerMinute = 60

// against are what was done over what was intended. ok is false where one of the
// two is not known, or nothing was intended.
var against = []struct {
	statistic, condition string
	of                   func(p warehouse.PlanDelivery) (done, intended float64, ok bool)
}{
	{"sessions_share", "planned_sessions > 0 and sessions is not null", func(p warehouse.PlanDelivery) (done, intended float64, ok bool) {
		if p.PlannedSessions == nil || p.Sessions == nil {
			return 0, 0, false
		}
		return float64(*p.Sessions), *p.PlannedSessions, *p.PlannedSessions > 0
	}},
	{"sets_share", "planned_sessions > 0 and sessions > 0 and planned_sets > 0 and sets is not null", func(p warehouse.PlanDelivery) (done, intended float64, ok bool) {
		if p.PlannedSessions == nil || p.Sessions == nil || p.PlannedSets == nil || p.Sets == nil || *p.PlannedSessions <= 0 {
			return 0, 0, false
		}
		intended = float64(*p.Sessions) * *p.PlannedSets / *p.PlannedSessions
		return *p.Sets, intended, intended > 0
	}},
	{"pressure_share", "pressure_bouts > 0 and planned_pressure > 0", func(p warehouse.PlanDelivery) (done, intended float64, ok bool) {
		if p.PressureBouts == 0 || p.AppliedPressure == nil || p.PlannedPressure == nil {
			return 0, 0, false
		}
		return *p.AppliedPressure, *p.PlannedPressure, *p.PlannedPressure > 0
	}},
	{"minutes_share", "timed_bouts > 0 and planned_seconds > 0", func(p warehouse.PlanDelivery) (done, intended float64, ok bool) {
		if p.TimedBouts == 0 || p.InflatedMinutes == nil || p.PlannedSeconds == nil {
			return 0, 0, false
		}
		return secondsPerMinute * *p.InflatedMinutes, *p.PlannedSeconds, *p.PlannedSeconds > 0
	}},
}

// plans adds what was done over what plans intended for the window before the
// landmark, of those who were still followed at it: sessions; sets in as many
// sessions as were attended; pressure and minutes of the bouts done.
func (m *maker) plans(injury string) error {
	followed := map[int]bool{}
	for _, e := range m.in.Doses {
		followed[e.EpisodeKey] = dose.Analysed(e, m.period.To)
	}
	var rows []warehouse.PlanDelivery
	for _, p := range m.in.Plans {
		if (injury == "" || p.InjuryType == injury) && followed[p.EpisodeKey] {
			rows = append(rows, p)
		}
	}
	s := subject{
		question: "plan", injury: injury, table: PlansTable,
		where: ofType(injury, m.period.began()) + " and episode_key in (select episode_key from " + dose.EpisodesTable + " where " + dose.AnalysedRows(m.period.To) + ")",
		hash: inputsHash(rows, func(p warehouse.PlanDelivery) string {
			return fmt.Sprint(p.EpisodeKey, p.PersonKey, text(p.PlannedSessions), text(p.Sessions), text(p.PlannedSets), text(p.Sets),
				p.PressureBouts, text(p.PlannedPressure), text(p.AppliedPressure), p.TimedBouts, text(p.PlannedSeconds), text(p.InflatedMinutes))
		}),
	}
	for _, a := range against {
		by := newSums()
		for _, p := range rows {
			if done, intended, ok := a.of(p); ok {
				by.add(p.PersonKey, 1, done, intended)
			}
		}
		if err := m.ratio(s, a.statistic, a.condition, by); err != nil {
			return err
		}
	}
	return nil
}
