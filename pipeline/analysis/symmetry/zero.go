package symmetry

import (
	"errors"
	"fmt"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/warehouse"
)

// atZero adds the share of those measured near a week who could do nothing on the
// involved side: no hop, no raise. They are in the typical difference too, where
// they stand at the other side's whole value. A timed task is never zero.
func (m *maker) atZero(g group) error {
	if g.measure.less {
		return nil
	}
	around := m.in.Rules.SupportWeeks
	for _, week := range m.weeks(g) {
		var t, zero tally
		var persons []int // in the order in which they come
		with, of := map[int]int{}, map[int]int{}
		for _, p := range nearest(g.pairs, week, around, func(warehouse.SidePair) bool { return true }) {
			if of[p.PersonKey] == 0 {
				persons = append(persons, p.PersonKey)
			}
			of[p.PersonKey]++
			t.add(p.PersonKey, p.EpisodeKey)
			if p.Involved == 0 {
				with[p.PersonKey]++
				zero.add(p.PersonKey, p.EpisodeKey)
			}
		}
		f := m.figure(g, "at_zero")
		f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", "share"
		f.Persons, f.Episodes = t.counts()
		_, f.Events = zero.counts()
		if *f.Persons < m.in.Rules.SupportPersons {
			withhold(&f, fewNear(week, m.in.Rules.SupportPersons, around))
		} else if err := m.shareAtZero(&f, persons, with, of); err != nil {
			return err
		}
		m.add(f, result.Source{Table: PairsTable, Predicate: m.pairsWhere(g) + fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))})
	}
	return nil
}

// shareAtZero estimates the share over episodes, some persons having two.
func (m *maker) shareAtZero(f *result.Figure, persons []int, with, of map[int]int) error {
	k, n := make([]int, len(persons)), make([]int, len(persons))
	for i, person := range persons {
		k[i], n[i] = with[person], of[person]
	}
	e, err := rates.ShareByPerson(k, n, level)
	switch {
	case errors.Is(err, stats.ErrTooFew):
		withhold(f, "Too few persons were measured.")
		return nil
	case err != nil:
		return err
	}
	f.Value, f.Low, f.High, f.StdError, f.Level, f.Method = number(e.Value), number(e.Low), number(e.High), number(e.SE), e.Level, e.Method
	for _, w := range e.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
	return nil
}
