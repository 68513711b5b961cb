package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// StageStay is a row of published.stage_stays: a stay on one stage of the
// target's ladder. Days count from the start of care and are uncut; nil where
// there is none. Dates are midnight UTC.
type StageStay struct {
	EpisodeKey  int
	PersonKey   int
	Site        string
	InjuryType  string
	StartDate   time.Time
	Ladder      string
	Stage       string
	Rank        int // place of the stage on its ladder
	BelowTarget bool
	Visit       int    // which stay of the episode on this stage, from 1
	Entered     string // start (since an unknown day), reached or lost (from above)
	FromDay     int    // below 0 before care
	ToDay       *int
	LeftBy      string // reached (a higher stage) or lost; empty when none is on record
	FollowDays  int
	EndDay      *int // competing end
	OutDay      int  // watched up to this day when nothing else comes first
	OutReason   string
}

// StageStays reads published.stage_stays in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) StageStays(ctx context.Context, where string) ([]StageStay, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, s *StageStay) error {
		return rows.Scan(&s.EpisodeKey, &s.PersonKey, &s.Site, &s.InjuryType, &s.StartDate, &s.Ladder, &s.Stage, &s.Rank, &s.BelowTarget,
			&s.Visit, &s.Entered, &s.FromDay, &s.ToDay, &s.LeftBy, &s.FollowDays, &s.EndDay, &s.OutDay, &s.OutReason)
	}, `
		select episode_key, person_key, site, injury_type, start_date, ladder, stage, rank, below_target,
			visit, entered, from_day, to_day, coalesce(left_by, ''), follow_days, end_day, out_day, out_reason
		from published.stage_stays`+condition(where)+` order by episode_key, from_day`)
}
