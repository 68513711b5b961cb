package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// DoseResponse is a row of published.dose_responses: a measure near the week of
// change, beside its baseline.
type DoseResponse struct {
	EpisodeKey int
	PersonKey  int
	Site       string
	InjuryType string
	StartDate  time.Time
	Kind       string // strength (the index, in percent), girth (the difference) or pain
	Measure    string
	Day        int
	Value      float64
	Baseline   float64
}

// DoseResponses reads published.dose_responses in order of its key; where is as
// in ReturnEpisodes.
func (w *Warehouse) DoseResponses(ctx context.Context, where string) ([]DoseResponse, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, r *DoseResponse) error {
		return rows.Scan(&r.EpisodeKey, &r.PersonKey, &r.Site, &r.InjuryType, &r.StartDate, &r.Kind, &r.Measure, &r.Day, &r.Value, &r.Baseline)
	}, `
		select episode_key, person_key, site, injury_type, start_date, kind, measure, day, value, baseline
		from published.dose_responses`+condition(where)+` order by episode_key, measure`)
}
