package symmetry

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// The verdicts on one index beside a threshold.
const (
	clearOf   = "clear_of" // at or above it by more than the error
	undecided = "undecided"
	below     = "below" // by more than the error
)

// indexError is half the 95 % interval of one measured index, in its points, and
// false when no error of measuring is known for the measure and the raters, or the
// index itself cannot be computed. Both sides are measured with an error of their
// own: with d the smallest real change of the measure, d/sqrt(2) is half the
// interval of one value, and the index moves by what either side's error makes of
// it (delta method). It is that of one rater where one rater measured both sides,
// else that of two.
func (s measure) indexError(p warehouse.SidePair) (points float64, ok bool) {
	limit := s.realChange(p.SameRater)
	if limit == nil || p.IndexPercent == nil {
		return 0, false
	}
	over, under := p.Involved, p.Uninvolved
	if s.less {
		over, under = under, over
	}
	return 100 / under * *limit / math.Sqrt2 * math.Hypot(1, over/under), true
}

// besideThreshold says where an index lies, with the error it was judged by.
func (s measure) besideThreshold(p warehouse.SidePair, threshold float64) (verdict string, points float64, ok bool) {
	points, ok = s.indexError(p)
	if !ok {
		return "", 0, false
	}
	// Values have four decimals at most: what lies further down is rounding.
	over := math.Round(1e6*(*p.IndexPercent-threshold)) / 1e6
	switch {
	case over > points:
		return clearOf, points, true
	case over < -points:
		return below, points, true
	default:
		return undecided, points, true
	}
}

// threshold counts, at the week at which change is judged, whose index lies at
// or above the threshold by more than its error, whose below it by more, and
// whose within it, so that measuring cannot say on which side it is. An episode
// counts by its visit nearest to the week at which there is an index, of two the
// earlier. A measure without a known error has none of these figures: the change
// says so already.
func (m *maker) threshold(g group) {
	if (!g.measure.ratio && !g.measure.zero) || (g.measure.sameMDC == nil && g.measure.otherMDC == nil) {
		return
	}
	week, around, percent := m.in.Rules.ChangeWeek, m.in.Rules.SupportWeeks, m.in.Rules.ThresholdPercent
	visits := nearest(g.pairs, week, around, func(p warehouse.SidePair) bool { return p.IndexPercent != nil })
	tallies := map[string]*tally{clearOf: {}, undecided: {}, below: {}}
	var judged, unknown tally
	var errors []float64
	for _, p := range visits {
		verdict, points, ok := g.measure.besideThreshold(p, float64(percent))
		if !ok {
			unknown.add(p.PersonKey, p.EpisodeKey)
			continue
		}
		judged.add(p.PersonKey, p.EpisodeKey)
		tallies[verdict].add(p.PersonKey, p.EpisodeKey)
		errors = append(errors, points)
	}
	_, missing := unknown.counts()
	source := result.Source{
		Table:     PairsTable,
		Predicate: m.pairsWhere(g) + fmt.Sprintf(" and index_percent is not null and day between %d and %d", 7*(week-around), 7*(week+around)),
	}
	name := func(of string) string { return fmt.Sprintf("%s_%d", of, percent) }
	m.threeWays(g, source, missing, name("judged"), judged, []string{name(clearOf), name(undecided), name(below)},
		[]tally{*tallies[clearOf], *tallies[undecided], *tallies[below]})
	f := m.figure(g, name("error_at"))
	f.Unit, f.Method, f.Missing = "points", "median of half the 95 % interval of one index (delta method), rounded", missing
	f.Persons, f.Episodes = judged.counts()
	if len(errors) == 0 {
		withhold(&f, fewNear(week, m.in.Rules.SupportPersons, around))
	} else {
		f.Value = number(math.Round(10*median(errors)) / 10) // a median can be one person's own number
	}
	m.add(f, source)
}

// nearest picks, of each episode, the visit nearest to a week among those that
// count, of two the earlier. The pairs come in order of episode and day.
func nearest(pairs []warehouse.SidePair, week, around int, counts func(p warehouse.SidePair) bool) []warehouse.SidePair {
	var list []warehouse.SidePair
	for _, p := range pairs {
		if !within(p.Day, week, around) || !counts(p) {
			continue
		}
		last := len(list) - 1
		switch {
		case last < 0 || list[last].EpisodeKey != p.EpisodeKey:
			list = append(list, p)
		case abs(p.Day-7*week) < abs(list[last].Day-7*week):
			list[last] = p
		}
	}
	return list
}

// median of one value or more: the middle one, or the mean of the middle two.
func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
