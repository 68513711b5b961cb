package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// SafetySession is a row of published.safety_sessions: an attended session.
type SafetySession struct {
	SessionKey    int
	EpisodeKey    int
	PersonKey     int
	Site          string
	InjuryType    string
	StartDate     time.Time
	SessionDate   time.Time
	SymptomsAsked bool
}

// SafetySessions reads published.safety_sessions in order of its key; where is
// as in ReturnEpisodes.
func (w *Warehouse) SafetySessions(ctx context.Context, where string) ([]SafetySession, error) {
	shared := sharing()
	return collect(ctx, w.db, func(rows *sql.Rows, s *SafetySession) error {
		err := rows.Scan(&s.SessionKey, &s.EpisodeKey, &s.PersonKey, &s.Site, &s.InjuryType, &s.StartDate, &s.SessionDate, &s.SymptomsAsked)
		s.Site, s.InjuryType = shared(s.Site), shared(s.InjuryType)
		return err
	}, `
		select session_key, episode_key, person_key, site, injury_type, start_date, session_date, symptoms_asked
		from published.safety_sessions`+condition(where)+` order by session_key`)
}

// SafetyEvent is a row of published.safety_events. Dates are midnight UTC.
type SafetyEvent struct {
	EventKey            int
	EpisodeKey          int
	PersonKey           int
	Site                string
	InjuryType          string
	StartDate           time.Time
	OnsetDate           time.Time
	Watched             bool // the site's data reach to the onset
	Kind                string
	Potential           bool
	RuledOut            bool
	Counts              bool   // it happened and was not ruled out
	Certainty           string // suspected, confirmed or ruled_out; empty when not recorded
	Serious             *bool  // nil when not recorded
	SessionKey          *int   // the attended session it is linked to
	SessionDate         *time.Time
	SessionAsked        *bool
	AwareDate           *time.Time
	ReportedDate        *time.Time
	OrderImpossible     bool
	OnsetToAwareDays    *int
	AwareToReportedDays *int
}

// SafetyEvents reads published.safety_events in order of its key; where is as
// in ReturnEpisodes.
func (w *Warehouse) SafetyEvents(ctx context.Context, where string) ([]SafetyEvent, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, e *SafetyEvent) error {
		return rows.Scan(&e.EventKey, &e.EpisodeKey, &e.PersonKey, &e.Site, &e.InjuryType, &e.StartDate, &e.OnsetDate, &e.Watched, &e.Kind,
			&e.Potential, &e.RuledOut, &e.Counts, &e.Certainty, &e.Serious, &e.SessionKey, &e.SessionDate, &e.SessionAsked,
			&e.AwareDate, &e.ReportedDate, &e.OrderImpossible, &e.OnsetToAwareDays, &e.AwareToReportedDays)
	}, `
		select event_key, episode_key, person_key, site, injury_type, start_date, onset_date, watched, kind,
			potential, ruled_out, counts, coalesce(certainty, ''), serious, session_key, session_date, session_asked,
			aware_date, reported_date, order_impossible, onset_to_aware_days, aware_to_reported_days
		from published.safety_events`+condition(where)+` order by event_key`)
}
