package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// DoseCovariates is a row of published.dose_covariates: what was known of an
// episode when it began. Texts are empty and pointers nil where it was not
// recorded.
type DoseCovariates struct {
	EpisodeKey    int
	PersonKey     int
	Site          string
	InjuryType    string
	StartDate     time.Time
	AgeBand       string
	Sex           string // female, male or other
	Severity      string
	OnsetDays     *int // from the operation, else from the onset, to the start
	ActivityLevel string
	TargetLadder  string
	TargetShare   *float64 // place on the ladder, 0 to 1
	BaselinePain  *float64
	Complete      bool // all of these are known
	Clinician     *int // of most attended sessions of the window
}

// DoseCovariates reads published.dose_covariates in order of its key; where is
// as in ReturnEpisodes.
func (w *Warehouse) DoseCovariates(ctx context.Context, where string) ([]DoseCovariates, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, c *DoseCovariates) error {
		return rows.Scan(&c.EpisodeKey, &c.PersonKey, &c.Site, &c.InjuryType, &c.StartDate, &c.AgeBand, &c.Sex, &c.Severity, &c.OnsetDays,
			&c.ActivityLevel, &c.TargetLadder, &c.TargetShare, &c.BaselinePain, &c.Complete, &c.Clinician)
	}, `
		select episode_key, person_key, site, injury_type, start_date, coalesce(age_band, ''), coalesce(sex, ''), coalesce(severity, ''), onset_days,
			coalesce(activity_level, ''), coalesce(target_ladder, ''), target_share, baseline_pain, complete, clinician
		from published.dose_covariates`+condition(where)+` order by episode_key`)
}
