package symmetry

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// shares are the percentiles told of those measured near a week.
var shares = []struct {
	statistic string
	share     float64
}{{"spread_low", 0.1}, {"spread_middle", 0.5}, {"spread_high", 0.9}}

// spread adds, along the course, between which values the middle eight tenths of
// those measured near a week lie: the 10th, 50th and 90th percentile over
// episodes, each by its visit nearest to the week, of two the earlier. It runs
// from the first week of the course with three times the persons that support
// one, so that some lie beyond either end, to the last before one without. A
// percentile can be one person's own number: it is rounded to whole percent or
// to a tenth of a centimetre.
func (m *maker) spread(t *trend) {
	if t.withholds != "" {
		return
	}
	g, around := t.group, m.in.Rules.SupportWeeks
	value := func(p warehouse.SidePair) (float64, bool) {
		y, ok := t.outcome.of(p)
		return t.outcome.back(y), ok
	}
	begun := false
	for week := t.first; week <= t.last; week += step {
		var values []float64
		var all tally
		for _, p := range nearest(g.pairs, week, around, func(warehouse.SidePair) bool { return true }) {
			if y, ok := value(p); ok {
				values = append(values, y)
				all.add(p.PersonKey, p.EpisodeKey)
			}
		}
		persons, episodes := all.counts()
		if *persons < 3*m.in.Rules.SupportPersons {
			if begun {
				return
			}
			continue
		}
		begun = true
		slices.Sort(values)
		source := result.Source{Table: PairsTable, Predicate: m.pairsWhere(g) + fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))}
		if t.outcome.rows != "" {
			source.Predicate += " and " + t.outcome.rows
		}
		for _, s := range shares {
			f := m.figure(g, s.statistic)
			f.X, f.XUnit, f.Unit, f.Method = number(float64(week)), "weeks", t.outcome.unit, "percentile over episodes (type 7), rounded"
			f.Persons, f.Episodes = persons, episodes
			f.Value = number(rounded(percentile(values, s.share), t.outcome.unit != "cm"))
			m.add(f, source)
		}
	}
}

// percentile of sorted values, linear between them (type 7 of Hyndman and Fan).
func percentile(sorted []float64, share float64) float64 {
	at := share * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-2)
	if i < 0 {
		return sorted[0]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

// rounded is whole percent, or a tenth of a centimetre. What lies below the sixth
// decimal is rounding already and does not decide.
func rounded(x float64, percent bool) float64 {
	tens := 10.0
	if percent {
		tens = 1
	}
	return math.Round(math.Round(1e6*x)/1e6*tens) / tens
}
