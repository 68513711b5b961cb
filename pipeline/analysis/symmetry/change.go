package symmetry

import (
	"fmt"
	"math"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// changes counts whose involved limb (the worse one where both are involved)
// changed from baseline to the settings' week by more than the error of
// measuring: the smallest change, at 95 %, that measuring twice would not give
// by itself. It is that of one rater where one rater measured both times, else
// that of two. An episode counts by its visit nearest to the week, of two the
// earlier; one for which no error is known is left out and counted.
func (m *maker) changes(g group) {
	week, around := m.in.Rules.ChangeWeek, m.in.Rules.SupportWeeks
	tallies := map[string]*tally{"change_known": {}, improved: {}, noRealChange: {}, worse: {}}
	var unknown tally
	for _, c := range nearestChanges(g.changes, week, around) {
		verdict, ok := g.measure.verdict(c)
		if !ok {
			unknown.add(c.PersonKey, c.EpisodeKey)
			continue
		}
		tallies[verdict].add(c.PersonKey, c.EpisodeKey)
		tallies["change_known"].add(c.PersonKey, c.EpisodeKey)
	}
	_, missing := unknown.counts()
	source := result.Source{Table: ChangesTable, Predicate: m.changesWhere(g) + fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))}
	statistics := []string{"change_known", improved, noRealChange, worse}
	noError := g.measure.sameMDC == nil && g.measure.otherMDC == nil
	if noError {
		statistics = statistics[:1] // which says why the others are not there
	}
	for _, statistic := range statistics {
		f := m.figure(g, statistic)
		f.Unit, f.Method, f.Missing = "episodes", "count", missing
		f.Persons, f.Episodes = tallies[statistic].counts()
		if noError {
			withhold(&f, "The error of measuring is not known for this measure.")
		} else {
			f.Value = number(float64(*f.Episodes))
		}
		m.add(f, source)
		if statistic != "change_known" {
			m.total(g, "change_known", statistic)
		}
	}
}

// verdict says what a change is; false when no error of measuring is known for it.
func (s measure) verdict(c warehouse.LimbChange) (string, bool) {
	limit := s.realChange(c.SameRater)
	if limit == nil {
		return "", false
	}
	switch gain := s.gain(c); {
	case gain > *limit:
		return improved, true
	case gain < -*limit:
		return worse, true
	default:
		return noRealChange, true
	}
}

// realChange is the smallest change, at 95 %, that measuring twice would not give
// by itself; nil when it is not known.
func (s measure) realChange(sameRater bool) *float64 {
	if sameRater {
		return s.sameMDC
	}
	return s.otherMDC
}

// gain is a change in the better direction. Values have four decimals at most:
// what lies further down is rounding.
func (s measure) gain(c warehouse.LimbChange) float64 {
	gain := math.Round(1e6*(c.Value-c.Baseline)) / 1e6
	if s.less {
		return -gain
	}
	return gain
}
