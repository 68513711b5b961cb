package safety

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/rates"
	"evenlimb/pipeline/warehouse"
)

// delays adds how long it took until an event was known, and from then until it
// was reported, of the events in the rate per attended session. Those not known
// or reported by the month's end are left out and counted as missing, and so
// are those whose dates are missing or contradict each other.
func (m *maker) delays(g group) error {
	for _, d := range []struct {
		statistic string
		where     string
		days      func(warehouse.SafetyEvent) *int
	}{
		{"onset_to_aware_median_days", "onset_to_aware_days is not null and aware_date <= " + date(m.period.To), func(e warehouse.SafetyEvent) *int {
			if e.AwareDate == nil || e.AwareDate.After(m.period.To) {
				return nil
			}
			return e.OnsetToAwareDays
		}},
		{"aware_to_reported_median_days", "aware_to_reported_days is not null and reported_date <= " + date(m.period.To), func(e warehouse.SafetyEvent) *int {
			if !reportedBy(e, m.period.To) {
				return nil
			}
			return e.AwareToReportedDays
		}},
	} {
		f := m.figure(g, d.statistic)
		if err := m.delay(&f, g, d.days); err != nil {
			return err
		}
		m.add(f, source{EventsTable, and(countedOf(g, m.period), d.where)})
	}
	return nil
}

func (m *maker) delay(f *result.Figure, g group, days func(warehouse.SafetyEvent) *int) error {
	var delays []float64
	var persons, episodes []int
	missing, impossible := 0, 0
	for _, e := range g.events {
		if !m.period.inRate(e) {
			continue
		}
		n := days(e)
		if n == nil {
			missing++
			if e.OrderImpossible {
				impossible++
			}
			continue
		}
		delays = append(delays, float64(*n))
		persons, episodes = append(persons, e.PersonKey), append(episodes, e.EpisodeKey)
	}
	f.Unit, f.Method = "days", "median, limits from the order of the values"
	f.Persons, f.Episodes = count(distinct(persons)), count(distinct(episodes))
	f.Events, f.Missing = count(len(delays)), &missing
	if impossible > 0 {
		f.Warnings = append(f.Warnings, fmt.Sprintf("Events whose dates stand in an order that cannot be, so that their delay cannot be computed: %d.", impossible))
	}
	if g.stratum == serious {
		m.noteUnrecorded(f)
	}
	if len(delays) == 0 {
		withhold(f, "No event has both dates on record.")
		return nil
	}
	slices.Sort(delays)
	f.Value = number(median(delays))
	return limits(f, delays)
}

// limits adds exact limits of the median: the order statistics between which it
// lies at the level, by the binomial distribution (Conover 1999, section 3.2).
// Fewer than six values have none.
func limits(f *result.Figure, sorted []float64) error {
	n := len(sorted)
	within, err := rates.BinomialLimits(n, 0.5, level)
	if err != nil {
		return fmt.Errorf("adverse events, limits of a median: %w", err)
	}
	if within.Low == 0 {
		f.Warnings = append(f.Warnings, "Too few events for limits of the median.")
		return nil
	}
	f.Low, f.High, f.Level = number(sorted[within.Low-1]), number(sorted[n-within.Low]), level
	return nil
}

// median of sorted values; the mean of the middle two when their number is even.
func median(sorted []float64) float64 {
	middle := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[middle]
	}
	return (sorted[middle-1] + sorted[middle]) / 2
}
