package dose

import "evenlimb/pipeline/warehouse"

// RecordsTable is where it is published how doses were recorded.
const RecordsTable = "published.dose_records"

// recordShares are shares of the bouts of those with some work.
var recordShares = []struct {
	statistic string
	rows      string // of the published table that have one
	of, part  func(r warehouse.DoseRecords) int
}{
	{"sets_filled_in_share", "bouts > 0", func(r warehouse.DoseRecords) int { return r.Bouts }, func(r warehouse.DoseRecords) int { return r.WithoutSets }},
	{"pressure_estimated_share", "with_method > 0", func(r warehouse.DoseRecords) int { return r.WithMethod }, func(r warehouse.DoseRecords) int { return r.Estimated }},
	{"body_weight_share", "with_basis > 0", func(r warehouse.DoseRecords) int { return r.WithBasis }, func(r warehouse.DoseRecords) int { return r.BodyWeight }},
}

// recorded adds how the dose of the window was recorded: of the bouts of those with
// some work the shares whose sets were filled in, whose pressure was estimated, and
// that were done against body weight. They describe these records, no more, and
// have no interval. Whose dose is not known stands in the flow.
func (m *maker) recorded(g group) {
	for _, share := range recordShares {
		var rows []row
		all, part := 0, 0
		for _, r := range g.pick(row.some) {
			if records, ok := m.records[r.EpisodeKey]; ok && share.of(records) > 0 {
				rows = append(rows, r)
				all += share.of(records)
				part += share.part(records)
			}
		}
		if all == 0 {
			continue
		}
		f := m.figure(g, share.statistic)
		f.Unit, f.Method = "share", "bouts over bouts, of all people together"
		f.Value, f.Persons, f.Episodes = number(float64(part)/float64(all)), count(persons(rows)), count(len(rows))
		m.add(g, f, m.someRows()+" and episode_key in (select episode_key from "+RecordsTable+" where "+share.rows+")")
	}
}
