package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// EpisodeName is a course of care as its sender calls it: for person-level files
// alone, never for a figure.
type EpisodeName struct {
	EpisodeKey int
	PersonKey  int
	Sender     string
	EpisodeID  string
	PersonID   string // empty when the sender gave none
	Site       string
	InjuryType string
	Side       string // left, right or bilateral
	WorseSide  string // empty when not recorded
	StartDate  time.Time
	EndDate    *time.Time // nil while no end is recorded
}

// EpisodeNames reads all courses of care of clean.episodes in order of their key.
func (w *Warehouse) EpisodeNames(ctx context.Context) ([]EpisodeName, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, e *EpisodeName) error {
		return rows.Scan(&e.EpisodeKey, &e.PersonKey, &e.Sender, &e.EpisodeID, &e.PersonID, &e.Site, &e.InjuryType, &e.Side, &e.WorseSide,
			&e.StartDate, &e.EndDate)
	}, `
		select episode_key, person_key, sender, episode_id, coalesce(person_id, ''), site, injury_type, side, coalesce(worse_side, ''), start_date, end_date
		from clean.episodes order by episode_key`)
}
