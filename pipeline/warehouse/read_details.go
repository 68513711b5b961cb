package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// ReturnDetail is a row of published.return_details: what stands beside the
// return of a course of care. Texts are empty and days nil where nothing is on
// record. Dates are midnight UTC.
type ReturnDetail struct {
	EpisodeKey int
	PersonKey  int
	Site       string
	InjuryType string
	StartDate  time.Time
	Severity   string
	Sex        string
	AgeBand    string
	ClockFrom  string // surgery or onset
	ClockDay   *int   // days from there to the start of care
	ReturnDay  *int
	NotYetDay  *int // last day of care known to be before the return
}

// ReturnDetails reads published.return_details in order of its key; where is as
// in ReturnEpisodes.
func (w *Warehouse) ReturnDetails(ctx context.Context, where string) ([]ReturnDetail, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, d *ReturnDetail) error {
		return rows.Scan(&d.EpisodeKey, &d.PersonKey, &d.Site, &d.InjuryType, &d.StartDate, &d.Severity, &d.Sex, &d.AgeBand, &d.ClockFrom, &d.ClockDay, &d.ReturnDay, &d.NotYetDay)
	}, `
		select episode_key, person_key, site, injury_type, start_date, coalesce(severity, ''), coalesce(sex, ''), coalesce(age_band, ''),
			coalesce(clock_from, ''), clock_day, return_day, not_yet_day
		from published.return_details`+condition(where)+` order by episode_key`)
}
