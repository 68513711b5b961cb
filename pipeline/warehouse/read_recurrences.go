package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// Recurrence is a row of published.recurrences: a return, and when the same
// person began care for the same injury and side again. Days count from the start
// of care and are uncut; nil where there is none. Dates are midnight UTC.
type Recurrence struct {
	EpisodeKey  int
	PersonKey   int
	Site        string
	InjuryType  string
	StartDate   time.Time
	Side        string
	PersonKnown bool
	ReturnDay   int
	FollowDays  int
	NextDay     *int
}

// Recurrences reads published.recurrences in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) Recurrences(ctx context.Context, where string) ([]Recurrence, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, r *Recurrence) error {
		return rows.Scan(&r.EpisodeKey, &r.PersonKey, &r.Site, &r.InjuryType, &r.StartDate, &r.Side, &r.PersonKnown, &r.ReturnDay, &r.FollowDays, &r.NextDay)
	}, `
		select episode_key, person_key, site, injury_type, start_date, side, person_known, return_day, follow_days, next_day
		from published.recurrences`+condition(where)+` order by episode_key`)
}
