package symmetry

import (
	"fmt"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// The verdicts on one change.
const (
	improved     = "improved"
	noRealChange = "no_real_change"
	worse        = "worse"
)

// atLast ends the statistics of the change up to the last visit.
const atLast = "_last"

// lastChanges counts the changes from baseline to the last visit, as changes does
// to the settings' week, and when half of those visits were. A measure without a
// known error has none of these figures: the change to the week says so already.
func (m *maker) lastChanges(g group) {
	if g.measure.sameMDC == nil && g.measure.otherMDC == nil {
		return
	}
	tallies := map[string]*tally{improved: {}, noRealChange: {}, worse: {}}
	var known, unknown tally
	var weeks []float64
	for _, c := range lastVisits(g.changes) {
		verdict, ok := g.measure.verdict(c)
		if !ok {
			unknown.add(c.PersonKey, c.EpisodeKey)
			continue
		}
		tallies[verdict].add(c.PersonKey, c.EpisodeKey)
		known.add(c.PersonKey, c.EpisodeKey)
		weeks = append(weeks, float64(c.Day)/7)
	}
	_, missing := unknown.counts()
	source := result.Source{Table: ChangesTable, Predicate: m.changesWhere(g)}
	m.threeWays(g, source, missing, "change_known"+atLast, known, []string{improved + atLast, noRealChange + atLast, worse + atLast},
		[]tally{*tallies[improved], *tallies[noRealChange], *tallies[worse]})
	if len(weeks) == 0 {
		return
	}
	f := m.figure(g, "last_visit_weeks")
	f.Unit, f.Method, f.Missing = "weeks", "median", missing
	f.Persons, f.Episodes = known.counts()
	f.Value = number(median(weeks))
	m.add(f, source)
}

// important counts whose involved limb changed by the minimal important change of
// the measure or more, at the settings' week and at the last visit, where such a
// change is known. It is judged apart from the error of measuring: a change can be
// the one and not the other.
func (m *maker) important(g group) {
	if g.measure.mic == nil {
		return
	}
	week, around := m.in.Rules.ChangeWeek, m.in.Rules.SupportWeeks
	for _, at := range []struct {
		end    string
		visits []warehouse.LimbChange
		where  string
	}{
		{"", nearestChanges(g.changes, week, around), fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))},
		{atLast, lastVisits(g.changes), ""},
	} {
		var all, better, less, not tally
		for _, c := range at.visits {
			all.add(c.PersonKey, c.EpisodeKey)
			switch gain := g.measure.gain(c); {
			case gain >= *g.measure.mic:
				better.add(c.PersonKey, c.EpisodeKey)
			case gain <= -*g.measure.mic:
				less.add(c.PersonKey, c.EpisodeKey)
			default:
				not.add(c.PersonKey, c.EpisodeKey)
			}
		}
		m.threeWays(g, result.Source{Table: ChangesTable, Predicate: m.changesWhere(g) + at.where}, count(0), "change_compared"+at.end, all,
			[]string{"important_better" + at.end, "not_important" + at.end, "important_worse" + at.end}, []tally{better, not, less})
	}
}

// threeWays adds a count of episodes and its three parts.
func (m *maker) threeWays(g group, source result.Source, missing *int, whole string, all tally, parts []string, tallies []tally) {
	add := func(statistic string, t tally) {
		f := m.figure(g, statistic)
		f.Unit, f.Method, f.Missing = "episodes", "count", missing
		f.Persons, f.Episodes = t.counts()
		f.Value = number(float64(*f.Episodes))
		m.add(f, source)
	}
	add(whole, all)
	for i, t := range tallies {
		add(parts[i], t)
		m.total(g, whole, parts[i])
	}
}

// lastVisits picks the last visit of each episode. The changes come in order of
// episode and day.
func lastVisits(changes []warehouse.LimbChange) []warehouse.LimbChange {
	var list []warehouse.LimbChange
	for _, c := range changes {
		if last := len(list) - 1; last >= 0 && list[last].EpisodeKey == c.EpisodeKey {
			list[last] = c
			continue
		}
		list = append(list, c)
	}
	return list
}

// nearestChanges picks, of each episode, the visit nearest to a week, of two the
// earlier. The changes come in order of episode and day.
func nearestChanges(changes []warehouse.LimbChange, week, around int) []warehouse.LimbChange {
	var list []warehouse.LimbChange
	for _, c := range changes {
		if !within(c.Day, week, around) {
			continue
		}
		last := len(list) - 1
		switch {
		case last < 0 || list[last].EpisodeKey != c.EpisodeKey:
			list = append(list, c)
		case abs(c.Day-7*week) < abs(list[last].Day-7*week):
			list[last] = c
		}
	}
	return list
}
