// Package progression answers three questions about the work of care: how
// exercises moved up and down their ladders, how well they were tolerated, and
// how what was done compares with what plans intended.
//
// It works on the rows of published.progress_months, tolerance_months and
// plan_deliveries, with published.dose_episodes for whom the last of them is
// about, cuts them at the end of the month asked for, and returns figures, each
// with the rows it rests on. It describes; what a clinician makes of it is not
// its business.
package progression

import (
	"context"
	"fmt"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// The tables that the predicates of the figures are about.
const (
	ProgressTable  = "published.progress_months"
	ToleranceTable = "published.tolerance_months"
	PlansTable     = "published.plan_deliveries"
)

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// level of the intervals.
const level = 0.95

// Input is what a month's figures are made from: the rows of the period, and
// no others, but for Doses, of which other rows are left out. Nothing in it is
// changed.
type Input struct {
	Progress     []warehouse.ProgressSum  // in order of the episode
	Tolerance    []warehouse.ToleranceSum // in order of exercise, band and person
	Plans        []warehouse.PlanDelivery // in order of the episode
	Doses        []warehouse.DoseEpisode  // those of Plans
	Month        time.Time                // any day of the month reported
	WindowMonths int                      // months of starts of care, to the month's end
	Bands        settings.Tolerance       // the bounds of the bands of pressure
	InjuryTypes  []string                 // codes, in the order in which figures are wanted
	Floor        int                      // persons on whom a figure must rest to be computed, 2 or more
	Batch        int
}

// Month reads the published tables and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{
		Month: first, WindowMonths: practice.Return.WindowMonths, Bands: practice.Tolerance,
		Floor: practice.SmallCounts.Circulating, Batch: batch,
	}
	in.InjuryTypes = practice.TypeCodes()
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	if in.Progress, err = wh.ProgressSums(ctx, p.months()); err != nil {
		return result.Set{}, err
	}
	if in.Tolerance, err = wh.ToleranceSums(ctx, p.months()); err != nil {
		return result.Set{}, err
	}
	if in.Plans, err = wh.PlanDeliveries(ctx, p.began()); err != nil {
		return result.Set{}, err
	}
	if in.Doses, err = wh.DoseEpisodes(ctx, p.began()); err != nil {
		return result.Set{}, err
	}
	return Analyse(in)
}

// Analyse returns the figures of the month. Of the practice and of every injury
// type: how often each ingredient of an exercise moved up and down between
// visits, steps up and back, steps back soon after a painful session and
// otherwise, stalls, the weeks to the first step up, and sessions, sets, pressure
// and minutes against the plan. Of every exercise and band of pressure, and of
// every band: bouts ended early for pain or a symptom, and pain settled by the
// next visit.
//
// The period is the month and the WindowMonths-1 before it. Shares lie between 0
// and 1, but for those of a plan, which may lie above; bouts ended early are per
// 1,000 bouts; times are in weeks. All intervals are clustered on persons. A figure that rests on fewer than Floor
// persons is left out.
func Analyse(in Input) (result.Set, error) {
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	m := &maker{in: in, period: p}
	for _, injury := range append([]string{""}, in.InjuryTypes...) {
		if err := m.progress(injury); err != nil {
			return result.Set{}, fmt.Errorf("progression of %s: %w", name(injury), err)
		}
		if err := m.plans(injury); err != nil {
			return result.Set{}, fmt.Errorf("plans of %s: %w", name(injury), err)
		}
	}
	if err := m.tolerance(); err != nil {
		return result.Set{}, fmt.Errorf("tolerance: %w", err)
	}
	return m.set, nil
}

func name(injury string) string {
	if injury == "" {
		return "the practice"
	}
	return injury
}

// period is the span of starts of care that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) (period, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 || in.Floor < 2 {
		return period{}, fmt.Errorf("progression: month %s, %d months of starts and a floor of %d persons; the first two must be given, the last be 2 or more", in.Month.Format(time.DateOnly), in.WindowMonths, in.Floor)
	}
	return period{result.PeriodOf(in.Month, in.WindowMonths)}, nil
}
