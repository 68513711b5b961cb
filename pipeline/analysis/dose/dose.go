// Package dose answers one question: how does the work done with the cuff
// inflated in the first weeks of care go with the return to activity after them.
//
// It works on the rows of published.dose_episodes and on nothing else, cuts
// them at the end of the month asked for, and returns figures, each with the
// rows it rests on. It describes; what a clinician makes of it is not its
// business.
package dose

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"evenlimb/pipeline/analysis/rare"
	"evenlimb/pipeline/analysis/returning"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// EpisodesTable is the table that the predicates of the figures are about.
const EpisodesTable = "published.dose_episodes"

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// replicates is how often persons are drawn for an interval.
const replicates = 2000

// level is the confidence level of every interval.
const level = 0.95

// Input is what a month's figures are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Episodes     []warehouse.DoseEpisode    // in any order
	Covariates   []warehouse.DoseCovariates // of the same episodes, in any order; nil: nothing is standardised over them
	Records      []warehouse.DoseRecords    // of the same, where there are any
	Responses    []warehouse.DoseResponse   // of the same, where there are any
	ChangeWeek   int                        // week near which these were measured
	Month        time.Time                  // any day of the month reported
	WindowMonths int                        // months of starts of care, to the month's end
	Rules        settings.Dose
	HorizonWeeks []int    // shorter horizons, taken where nothing is known at that of the rules
	InjuryTypes  []string // codes, in the order in which figures are wanted
	TypeFloor    int      // persons who must have begun with an injury type for it to be told on its own
	Batch        int
	Replicates   int // draws of persons for an interval; 0 for 2,000
}

// Month reads the published table and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{
		Month: first, WindowMonths: practice.Return.WindowMonths, Rules: practice.Dose, HorizonWeeks: practice.Return.HorizonWeeks,
		TypeFloor: practice.SmallCounts.Circulating, Batch: batch, ChangeWeek: practice.Symmetry.ChangeWeek,
	}
	in.InjuryTypes = practice.TypeCodes()
	var err error
	if in.Episodes, err = wh.DoseEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Covariates, err = wh.DoseCovariates(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Records, err = wh.DoseRecords(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Responses, err = wh.DoseResponses(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(ctx, in)
}

// Analyse returns the figures of the month: for every injury type that began
// in the period the flow to the landmark, how much work was done, and the share
// returned by the horizon in each third of dose with the contrast of the upper
// less the lower, raw and standardised over severity. With Covariates, also what
// package adjust makes of people alike at the start: some work less none, the third
// less the first quartile of dose with its curve, weights and strength, the
// measures near ChangeWeek, and the types leaning on one another. The flow stands
// also for the whole practice, there with the reasons for being gone before the
// landmark, and for the types together that fewer than TypeFloor persons began
// with: their landmarks differ, so that nothing of theirs is compared.
//
// The period is the month and the WindowMonths-1 before it; nobody is watched
// past its last day. Amounts are per week of the window, shares between 0 and 1.
// A figure whose method refuses is withheld with a sentence. The error says
// which part of the input cannot be, or is that of ctx.
func Analyse(ctx context.Context, in Input) (result.Set, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 {
		return result.Set{}, fmt.Errorf("dose: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), in.WindowMonths)
	}
	if in.Rules.HorizonWeek < 1 {
		return result.Set{}, fmt.Errorf("dose: horizon of %d weeks; set horizon_week of [dose] to 1 or more", in.Rules.HorizonWeek)
	}
	if in.Replicates == 0 {
		in.Replicates = replicates
	}
	in.Episodes = slices.Clone(in.Episodes)
	slices.SortFunc(in.Episodes, func(a, b warehouse.DoseEpisode) int { return cmp.Compare(a.EpisodeKey, b.EpisodeKey) })
	m := &maker{in: in, period: newPeriod(in), covariates: map[int]warehouse.DoseCovariates{}}
	for _, c := range in.Covariates {
		m.covariates[c.EpisodeKey] = c
	}
	m.records = map[int]warehouse.DoseRecords{}
	for _, r := range in.Records {
		m.records[r.EpisodeKey] = r
	}
	m.responses = map[int][]warehouse.DoseResponse{}
	for _, r := range in.Responses {
		m.responses[r.EpisodeKey] = append(m.responses[r.EpisodeKey], r)
	}
	practice := m.group("", nil)
	if len(practice.rows) == 0 {
		return m.set, nil
	}
	m.flow(practice)
	m.reasons(practice)
	persons := rare.Persons(practice.rows, func(r row) (string, int, bool) { return r.InjuryType, r.PersonKey, true })
	own, few := rare.Split(in.InjuryTypes, persons, in.TypeFloor)
	if len(few) > 0 {
		g := m.group(result.OtherTypes, few)
		m.flow(g)
		m.sum(practice, g)
	}
	types := &pooled{}
	for _, injury := range own {
		g := m.group(injury, []string{injury})
		m.flow(g)
		m.sum(practice, g)
		if err := m.amounts(ctx, g); err != nil {
			return result.Set{}, fmt.Errorf("dose, %s: %w", g.picture, err)
		}
		if err := m.thirds(ctx, g); err != nil {
			return result.Set{}, fmt.Errorf("dose, %s: %w", g.picture, err)
		}
		if len(m.covariates) == 0 {
			continue
		}
		m.recorded(g)
		if err := m.any(ctx, g); err != nil {
			return result.Set{}, fmt.Errorf("dose, %s: %w", g.picture, err)
		}
		if err := m.quartiles(ctx, g, types); err != nil {
			return result.Set{}, fmt.Errorf("dose, %s: %w", g.picture, err)
		}
		if err := m.measures(ctx, g); err != nil {
			return result.Set{}, fmt.Errorf("dose, %s: %w", g.picture, err)
		}
	}
	if err := m.pool(practice, types); err != nil {
		return result.Set{}, fmt.Errorf("dose, all types: %w", err)
	}
	return m.set, nil
}

// period is the span of starts of care that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) period {
	return period{result.PeriodOf(in.Month, in.WindowMonths)}
}

// row is an episode with what had become of it by the cut.
type row struct {
	warehouse.DoseEpisode
	standing returning.Standing
}

// rowOf cuts an episode at the last day watched.
func rowOf(e warehouse.DoseEpisode, last time.Time) row {
	return row{e, returning.Stand(warehouse.ReturnEpisode{
		StartDate: e.StartDate, FollowDays: e.FollowDays, Unusable: e.Unusable, AtTarget: e.AtTarget,
		ReturnDay: e.ReturnDay, EndDay: e.EndDay, OutDay: e.OutDay, OutReason: e.OutReason,
	}, last)}
}

// Analysed says that an episode, watched up to the last day, could be followed
// from its landmark on and that the work before it is known.
func Analysed(e warehouse.DoseEpisode, last time.Time) bool { return rowOf(e, last).analysed() }

// AnalysedRows says in SQL which rows of EpisodesTable these are. It is never
// null.
func AnalysedRows(last time.Time) string { return landmarkRows(last) + " and sets is not null" }

// Unknown says that an episode could be followed from its landmark on while the
// work before it is not known.
func Unknown(e warehouse.DoseEpisode, last time.Time) bool {
	r := rowOf(e, last)
	return !r.gone() && r.Sets == nil
}

// UnknownRows says in SQL which rows of EpisodesTable these are. It is never null.
func UnknownRows(last time.Time) string { return landmarkRows(last) + " and sets is null" }

// gone says that the episode had ended, or its watching, before the landmark,
// or could not begin: what follows the landmark cannot be asked of it.
func (r row) gone() bool {
	return r.standing.State == "at_target" || r.standing.State == "no_usable" || r.standing.Day < r.LandmarkDay
}

func (r row) analysed() bool { return !r.gone() && r.Sets != nil }

// some says that some work was done with the cuff inflated.
func (r row) some() bool { return r.analysed() && *r.Sets > 0 }

// perWeek turns an amount of the window into one per week; nil stays nil.
func (r row) perWeek(amount *float64) *float64 {
	if amount == nil {
		return nil
	}
	return number(*amount * 7 / float64(r.LandmarkDay))
}

// group is the rows that one picture is about.
type group struct {
	injury  string   // as in the figures' ids; empty: all
	types   []string // the injury types in it; none: all
	picture string
	rows    []row
	hash    string
}

func (m *maker) group(injury string, types []string) group {
	g := group{injury: injury, types: types, picture: result.PictureID("dose", injury, "", "", "", "", m.period.Label)}
	for _, e := range m.in.Episodes {
		if (len(types) > 0 && !slices.Contains(types, e.InjuryType)) || e.StartDate.Before(m.period.From) || e.StartDate.After(m.period.To) {
			continue
		}
		g.rows = append(g.rows, rowOf(e, m.period.To))
	}
	g.hash = inputsHash(g.rows)
	return g
}

// pick returns the rows that keep holds for.
func (g group) pick(keep func(r row) bool) []row {
	var picked []row
	for _, r := range g.rows {
		if keep(r) {
			picked = append(picked, r)
		}
	}
	return picked
}

// persons counts the distinct persons of rows.
func persons(rows []row) int {
	seen := map[int]bool{}
	for _, r := range rows {
		seen[r.PersonKey] = true
	}
	return len(seen)
}

func count(n int) *int { return &n }

func number(x float64) *float64 { return &x }
