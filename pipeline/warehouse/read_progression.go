package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// Moves are the visits at which an ingredient of an exercise could be set
// against an earlier visit, and those of them at which it was higher or lower.
type Moves struct {
	Compared int
	Up       int
	Down     int
}

// ProgressSum is what the months of an episode in published.progress_months
// come to.
type ProgressSum struct {
	EpisodeKey    int
	PersonKey     int
	Site          string
	InjuryType    string
	StartDate     time.Time
	Level         Moves
	Range         Moves
	Load          Moves
	Reps          Moves
	Pressure      Moves
	Steps         Moves
	AfterPain     int // compared visits soon after a painful session
	BackAfterPain int // of these, with a step back
	KeptUp        int // exercises kept up for as long as a stall lasts
	Stalled       int // of these, with a stall
	FirstStepDay  *int
	LastDay       int
}

// ProgressSums sums published.progress_months by episode, in order of its key.
// Where picks the months out and is as in ReturnEpisodes. Sums are of whole
// numbers, so that no digit depends on how the engine adds.
func (w *Warehouse) ProgressSums(ctx context.Context, where string) ([]ProgressSum, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, s *ProgressSum) error {
		return rows.Scan(&s.EpisodeKey, &s.PersonKey, &s.Site, &s.InjuryType, &s.StartDate,
			&s.Level.Compared, &s.Level.Up, &s.Level.Down, &s.Range.Compared, &s.Range.Up, &s.Range.Down, &s.Load.Compared, &s.Load.Up, &s.Load.Down,
			&s.Reps.Compared, &s.Reps.Up, &s.Reps.Down, &s.Pressure.Compared, &s.Pressure.Up, &s.Pressure.Down, &s.Steps.Compared, &s.Steps.Up, &s.Steps.Down,
			&s.AfterPain, &s.BackAfterPain, &s.KeptUp, &s.Stalled, &s.FirstStepDay, &s.LastDay)
	}, `
		select episode_key, person_key, site, injury_type, start_date,
			sum(level_compared), sum(level_up), sum(level_down), sum(range_compared), sum(range_up), sum(range_down),
			sum(load_compared), sum(load_up), sum(load_down), sum(reps_compared), sum(reps_up), sum(reps_down),
			sum(pressure_compared), sum(pressure_up), sum(pressure_down), sum(compared), sum(step_up), sum(step_back),
			sum(after_pain), sum(back_after_pain), sum(kept_up), sum(stalled), min(first_step_day), max(last_day)
		from published.progress_months`+condition(where)+` group by episode_key, person_key, site, injury_type, start_date order by episode_key`)
}

// ToleranceSum is what a person's months in published.tolerance_months come to,
// of one exercise and band of pressure.
type ToleranceSum struct {
	PersonKey  int
	Exercise   string
	Band       int // 0 without the cuff; else 1 and the bounds that the pressure reaches
	Bouts      int // whose end is on record
	EndedEarly int
	Sessions   int // sessions after which pain had risen, and whose next visit tells
	Settled    int
}

// ToleranceSums sums published.tolerance_months by exercise, band and person, in
// that order; where is as in ProgressSums.
func (w *Warehouse) ToleranceSums(ctx context.Context, where string) ([]ToleranceSum, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, s *ToleranceSum) error {
		return rows.Scan(&s.PersonKey, &s.Exercise, &s.Band, &s.Bouts, &s.EndedEarly, &s.Sessions, &s.Settled)
	}, `
		select person_key, exercise, band, sum(bouts), sum(ended_early), sum(sessions), sum(settled)
		from published.tolerance_months`+condition(where)+` group by person_key, exercise, band order by exercise, band, person_key`)
}

// PlanDelivery is a row of published.plan_deliveries.
type PlanDelivery struct {
	EpisodeKey      int
	PersonKey       int
	Site            string
	InjuryType      string
	StartDate       time.Time
	PlannedSessions *float64
	Sessions        *int
	PlannedSets     *float64
	Sets            *float64
	PressureBouts   int
	PlannedPressure *float64
	AppliedPressure *float64
	TimedBouts      int
	PlannedSeconds  *float64
	InflatedMinutes *float64
}

// PlanDeliveries reads published.plan_deliveries in order of its key; where is
// as in ReturnEpisodes.
func (w *Warehouse) PlanDeliveries(ctx context.Context, where string) ([]PlanDelivery, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, p *PlanDelivery) error {
		return rows.Scan(&p.EpisodeKey, &p.PersonKey, &p.Site, &p.InjuryType, &p.StartDate, &p.PlannedSessions, &p.Sessions, &p.PlannedSets, &p.Sets,
			&p.PressureBouts, &p.PlannedPressure, &p.AppliedPressure, &p.TimedBouts, &p.PlannedSeconds, &p.InflatedMinutes)
	}, `
		select episode_key, person_key, site, injury_type, start_date, planned_sessions, sessions, planned_sets, sets,
			pressure_bouts, planned_pressure::double, applied_pressure::double, timed_bouts, planned_seconds::double, inflated_minutes::double
		from published.plan_deliveries`+condition(where)+` order by episode_key`)
}
