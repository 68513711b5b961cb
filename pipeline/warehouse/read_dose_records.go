package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// DoseRecords is a row of published.dose_records: how the dose of an episode was
// recorded, in bouts that count as dose before the landmark.
type DoseRecords struct {
	EpisodeKey  int
	PersonKey   int
	Site        string
	InjuryType  string
	StartDate   time.Time
	Bouts       int
	WithoutSets int
	WithMethod  int // with a way of finding the full occlusion pressure on record
	Estimated   int // of those
	WithBasis   int // with the kind of load on record
	BodyWeight  int // of those
}

// DoseRecords reads published.dose_records in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) DoseRecords(ctx context.Context, where string) ([]DoseRecords, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, r *DoseRecords) error {
		return rows.Scan(&r.EpisodeKey, &r.PersonKey, &r.Site, &r.InjuryType, &r.StartDate,
			&r.Bouts, &r.WithoutSets, &r.WithMethod, &r.Estimated, &r.WithBasis, &r.BodyWeight)
	}, `
		select episode_key, person_key, site, injury_type, start_date, bouts, without_sets, with_method, estimated, with_basis, body_weight
		from published.dose_records`+condition(where)+` order by episode_key`)
}
