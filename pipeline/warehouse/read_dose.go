package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// DoseEpisode is a row of published.dose_episodes. Amounts are of the window
// from day 0 to the day before LandmarkDay; nil where they are missing.
type DoseEpisode struct {
	EpisodeKey      int
	PersonKey       int
	Site            string
	InjuryType      string
	StartDate       time.Time
	Severity        string // empty when not recorded
	LandmarkDay     int
	MissingReason   string // why the window cannot be judged; empty when it can
	Sessions        *int   // attended
	Bouts           *int   // that count as dose
	Sets            *float64
	Reps            *float64
	InflatedMinutes *float64
	PressureMinutes *float64
	PlannedSets     *float64
	FollowDays      *int
	Unusable        string // why the episode cannot be used; empty when it can
	AtTarget        bool
	ReturnDay       *int
	Provisional     bool // ReturnDay is too young for its hold to have been watched in full
	EndDay          *int // competing end
	OutDay          int
	OutReason       string
}

// DoseEpisodes reads published.dose_episodes in order of its key; where is as
// in ReturnEpisodes.
func (w *Warehouse) DoseEpisodes(ctx context.Context, where string) ([]DoseEpisode, error) {
	return kept(ctx, w, where, func(rows *sql.Rows, e *DoseEpisode) error {
		return rows.Scan(&e.EpisodeKey, &e.PersonKey, &e.Site, &e.InjuryType, &e.StartDate, &e.Severity, &e.LandmarkDay, &e.MissingReason,
			&e.Sessions, &e.Bouts, &e.Sets, &e.Reps, &e.InflatedMinutes, &e.PressureMinutes, &e.PlannedSets,
			&e.FollowDays, &e.Unusable, &e.AtTarget, &e.ReturnDay, &e.Provisional, &e.EndDay, &e.OutDay, &e.OutReason)
	}, `
		select episode_key, person_key, site, injury_type, start_date, coalesce(severity, ''), landmark_day, coalesce(missing_reason, ''),
			sessions, bouts, sets, reps, inflated_minutes, pressure_minutes, planned_sets,
			follow_days, coalesce(unusable, ''), at_target, return_day, provisional, end_day, out_day, out_reason
		from published.dose_episodes`+condition(where)+` order by episode_key`)
}
