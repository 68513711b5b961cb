package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// SymmetryEpisode is a row of published.symmetry_episodes.
type SymmetryEpisode struct {
	EpisodeKey int
	PersonKey  int
	Site       string
	InjuryType string
	StartDate  time.Time
	Bilateral  bool
	Severity   string // empty when not recorded
	ReturnDay  *int
}

// SymmetryEpisodes reads published.symmetry_episodes in order of its key; where
// is as in ReturnEpisodes.
func (w *Warehouse) SymmetryEpisodes(ctx context.Context, where string) ([]SymmetryEpisode, error) {
	return kept(ctx, w, where, func(rows *sql.Rows, e *SymmetryEpisode) error {
		return rows.Scan(&e.EpisodeKey, &e.PersonKey, &e.Site, &e.InjuryType, &e.StartDate, &e.Bilateral, &e.Severity, &e.ReturnDay)
	}, `
		select episode_key, person_key, site, injury_type, start_date, bilateral, coalesce(severity, ''), return_day
		from published.symmetry_episodes`+condition(where)+` order by episode_key`)
}

// SidePair is a row of published.side_pairs. Values are in the measure's unit.
type SidePair struct {
	EpisodeKey         int
	PersonKey          int
	Site               string
	InjuryType         string
	StartDate          time.Time
	Severity           string // empty when not recorded
	Measure            string
	Day                int
	Involved           float64
	Uninvolved         float64
	UninvolvedDay      int
	UninvolvedBaseline *float64
	IndexPercent       *float64
	BaselinePercent    *float64
	SameRater          bool // one rater, on record, measured both sides
}

// SidePairs reads published.side_pairs in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) SidePairs(ctx context.Context, where string) ([]SidePair, error) {
	shared := sharing()
	return kept(ctx, w, where, func(rows *sql.Rows, p *SidePair) error {
		err := rows.Scan(&p.EpisodeKey, &p.PersonKey, &p.Site, &p.InjuryType, &p.StartDate, &p.Severity, &p.Measure, &p.Day,
			&p.Involved, &p.Uninvolved, &p.UninvolvedDay, &p.UninvolvedBaseline, &p.IndexPercent, &p.BaselinePercent, &p.SameRater)
		p.Site, p.InjuryType, p.Severity, p.Measure = shared(p.Site), shared(p.InjuryType), shared(p.Severity), shared(p.Measure)
		return err
	}, `
		select episode_key, person_key, site, injury_type, start_date, coalesce(severity, ''), measure, day,
			involved, uninvolved, uninvolved_day, uninvolved_baseline, index_percent, baseline_percent, same_rater
		from published.side_pairs`+condition(where)+` order by episode_key, measure, day`)
}

// LimbChange is a row of published.limb_changes. Values are in the measure's unit.
type LimbChange struct {
	EpisodeKey  int
	PersonKey   int
	Site        string
	InjuryType  string
	StartDate   time.Time
	Measure     string
	Day         int
	BaselineDay int
	Value       float64
	Baseline    float64
	SameRater   bool
}

// LimbChanges reads published.limb_changes in order of its key; where is as in
// ReturnEpisodes.
func (w *Warehouse) LimbChanges(ctx context.Context, where string) ([]LimbChange, error) {
	shared := sharing()
	return kept(ctx, w, where, func(rows *sql.Rows, c *LimbChange) error {
		err := rows.Scan(&c.EpisodeKey, &c.PersonKey, &c.Site, &c.InjuryType, &c.StartDate, &c.Measure, &c.Day, &c.BaselineDay,
			&c.Value, &c.Baseline, &c.SameRater)
		c.Site, c.InjuryType, c.Measure = shared(c.Site), shared(c.InjuryType), shared(c.Measure)
		return err
	}, `
		select episode_key, person_key, site, injury_type, start_date, measure, day, baseline_day, value, baseline, same_rater
		from published.limb_changes`+condition(where)+` order by episode_key, measure, day`)
}

// BilateralChange is a row of published.bilateral_changes: the change of one limb
// of an episode with both sides involved.
type BilateralChange struct {
	LimbChange
	Limb string // worse or other
}

// BilateralChanges reads published.bilateral_changes in order of its key; where is
// as in ReturnEpisodes.
func (w *Warehouse) BilateralChanges(ctx context.Context, where string) ([]BilateralChange, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, c *BilateralChange) error {
		return rows.Scan(&c.EpisodeKey, &c.PersonKey, &c.Site, &c.InjuryType, &c.StartDate, &c.Measure, &c.Limb, &c.Day, &c.BaselineDay,
			&c.Value, &c.Baseline, &c.SameRater)
	}, `
		select episode_key, person_key, site, injury_type, start_date, measure, limb, day, baseline_day, value, baseline, same_rater
		from published.bilateral_changes`+condition(where)+` order by episode_key, measure, limb, day`)
}
