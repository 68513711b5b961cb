package returning

import "slices"

// spacing adds the median days between one contact and the next, up to the cut:
// how late a return can be on record.
func (m *maker) spacing(g group) {
	var gaps []float64
	var persons, episodes []int
	for _, c := range m.in.Gaps {
		if g.holds(c.InjuryType) && m.period.Holds(c.StartDate) && c.Day <= days(c.StartDate, m.period.To) {
			gaps = append(gaps, float64(c.GapDays))
			persons = append(persons, c.PersonKey)
			episodes = append(episodes, c.EpisodeKey)
		}
	}
	f := m.figure(g, "visit_spacing_days")
	f.Unit, f.Method = "days", "median"
	f.Persons, f.Episodes = count(distinct(persons)), count(distinct(episodes))
	if len(gaps) == 0 {
		withhold(&f, "Nobody was seen twice.")
	} else {
		f.Value = number(median(gaps))
	}
	m.add(f, "", GapsTable, and(g.where, gapRows(m.period)))
}

func distinct(keys []int) int {
	slices.Sort(keys)
	return len(slices.Compact(keys))
}

// median of values in any order, which it sorts; the mean of the middle two
// when their number is even.
func median(xs []float64) float64 {
	slices.Sort(xs)
	middle := len(xs) / 2
	if len(xs)%2 == 1 {
		return xs[middle]
	}
	return (xs[middle-1] + xs[middle]) / 2
}
