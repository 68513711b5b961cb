package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// Score is a row of published.scores: an answer about pain, or a
// patient-reported score, on its own scale.
type Score struct {
	EpisodeKey   int
	PersonKey    int
	Site         string
	InjuryType   string
	StartDate    time.Time
	Measure      string
	Day          int
	Value        float64
	ItemsMissing *int
	AtBest       bool
	BaselineDay  *int // day of the answer that is the baseline of the measure
}

// Scores reads published.scores in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) Scores(ctx context.Context, where string) ([]Score, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, s *Score) error {
		return rows.Scan(&s.EpisodeKey, &s.PersonKey, &s.Site, &s.InjuryType, &s.StartDate, &s.Measure, &s.Day, &s.Value, &s.ItemsMissing, &s.AtBest, &s.BaselineDay)
	}, `
		select episode_key, person_key, site, injury_type, start_date, measure, day, value, items_missing, at_best, baseline_day
		from published.scores`+condition(where)+` order by episode_key, measure, day`)
}
