package warehouse

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Warehouse is a warehouse open for reading. Nothing that stands in it changes:
// the next night builds another file.
type Warehouse struct {
	db       tables
	readings readings
}

// Open opens the warehouse at path for reading.
func Open(ctx context.Context, path string, engine Engine) (*Warehouse, error) {
	db, err := openDB(ctx, path, engine, readOnly)
	if err != nil {
		return nil, fmt.Errorf("open the warehouse: %w", err)
	}
	return &Warehouse{db: tables{DB: db}}, nil
}

// Close closes the warehouse.
func (w *Warehouse) Close() error { return w.db.Close() }

// ReturnEpisode is a row of published.return_episodes. Days count from the
// start of care and are uncut; nil where there is none. Dates are midnight UTC.
type ReturnEpisode struct {
	EpisodeKey     int
	PersonKey      int
	Site           string
	InjuryType     string
	StartDate      time.Time
	DataThrough    *time.Time
	FollowDays     *int
	Unusable       string // why it cannot be used; empty when it can
	TargetStage    string
	TargetOrigin   string // in_time, undated, late or type_default
	StageAtStart   string
	AtTarget       bool
	ReturnDay      *int // with the hold of the settings
	ReturnDayShort *int // with their shorter hold
	ReturnDayLong  *int // with their longer hold
	Provisional    bool // ReturnDay is too young for its hold to have been watched in full
	EndDay         *int // competing end
	EndCause       string
	OutDay         int // watched up to this day when nothing else comes first
	OutReason      string
	GoalMetDay     *int
	LastContactDay int
	Contacts       int
}

// ReturnEpisodes reads published.return_episodes in order of its key. Where is
// a condition on its columns, made of checked values alone; empty means all. The
// rows are the same for everybody who asks; nobody may change them. So it is with
// the other tables.
func (w *Warehouse) ReturnEpisodes(ctx context.Context, where string) ([]ReturnEpisode, error) {
	return kept(ctx, w, where, scanReturnEpisode, `
		select episode_key, person_key, site, injury_type, start_date, data_through, follow_days, coalesce(unusable, ''),
			coalesce(target_stage, ''), coalesce(target_origin, ''), coalesce(stage_at_start, ''), at_target,
			return_day, return_day_short, return_day_long, provisional, end_day, coalesce(end_cause, ''),
			out_day, out_reason, goal_met_day, last_contact_day, contacts
		from published.return_episodes`+condition(where)+` order by episode_key`)
}

func scanReturnEpisode(rows *sql.Rows, e *ReturnEpisode) error {
	return rows.Scan(&e.EpisodeKey, &e.PersonKey, &e.Site, &e.InjuryType, &e.StartDate, &e.DataThrough, &e.FollowDays, &e.Unusable,
		&e.TargetStage, &e.TargetOrigin, &e.StageAtStart, &e.AtTarget,
		&e.ReturnDay, &e.ReturnDayShort, &e.ReturnDayLong, &e.Provisional, &e.EndDay, &e.EndCause,
		&e.OutDay, &e.OutReason, &e.GoalMetDay, &e.LastContactDay, &e.Contacts)
}

// ContactGap is a row of published.contact_gaps.
type ContactGap struct {
	EpisodeKey int
	PersonKey  int
	Site       string
	InjuryType string
	StartDate  time.Time
	Day        int
	GapDays    int
}

// ContactGaps reads published.contact_gaps in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) ContactGaps(ctx context.Context, where string) ([]ContactGap, error) {
	shared := sharing()
	return collect(ctx, w.db, func(rows *sql.Rows, g *ContactGap) error {
		err := rows.Scan(&g.EpisodeKey, &g.PersonKey, &g.Site, &g.InjuryType, &g.StartDate, &g.Day, &g.GapDays)
		g.Site, g.InjuryType = shared(g.Site), shared(g.InjuryType)
		return err
	}, `
		select episode_key, person_key, site, injury_type, start_date, day, gap_days
		from published.contact_gaps`+condition(where)+` order by episode_key, day`)
}

func condition(where string) string {
	if where == "" {
		return ""
	}
	return " where (" + where + ")"
}
