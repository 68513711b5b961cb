// Package scores answers one question: how do pain and patient-reported scores
// run over the weeks of care, each on its own scale.
//
// It works on the rows of published.scores and on nothing else, cuts them at the
// end of the month asked for, and returns figures, each with the rows it rests
// on. Versions of a score are measures of their own and are never mixed.
package scores

import (
	"context"
	"fmt"
	"slices"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// Table is what the predicates of the figures are about.
const Table = "published.scores"

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// level of the intervals.
const level = 0.95

// Input is what a month's figures are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Scores       []warehouse.Score // in order of episode, measure and day
	Month        time.Time         // any day of the month reported
	WindowMonths int               // months of starts of care, to the month's end
	Rules        settings.Scores
	InjuryTypes  []string // codes, in the order in which figures are wanted
	Batch        int
}

// Month reads the published table and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{Month: first, WindowMonths: practice.Return.WindowMonths, Rules: practice.Scores, Batch: batch}
	in.InjuryTypes = practice.TypeCodes()
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	if in.Scores, err = wh.Scores(ctx, p.answers()); err != nil {
		return result.Set{}, err
	}
	return Analyse(in)
}

// Analyse returns the figures of the month: a picture for every injury type and
// every measure of pain or score that enough persons answered at the baseline
// and near one week of the settings at least. In it stand, for the baseline
// (week 0) and each such week, the typical value by a mixed model and the share
// at the best end of the scale; for each such week the typical change since the
// baseline; and for the week at which change is judged the shares that improved
// and became worse by more than the error of measuring, and that improved by the
// important change, where these are known.
//
// The period is the month and the WindowMonths-1 before it; nobody is watched
// past its last day. Values are on the measure's own scale, shares between 0 and
// 1. An answer with more items missing than its score allows is left out. What
// rests on fewer than LeastPersons persons is left out; a figure whose method
// refuses is withheld with a sentence.
func Analyse(in Input) (result.Set, error) {
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	m := &maker{in: in, period: p}
	for _, injury := range in.InjuryTypes {
		for _, of := range measures() {
			g := m.group(injury, of)
			if len(g.stated) < 2 || g.stated[0] != baseline {
				continue
			}
			if err := m.typical(g); err != nil {
				return result.Set{}, fmt.Errorf("scores, %s of %s: %w", of.code, injury, err)
			}
			if err := m.shares(g); err != nil {
				return result.Set{}, fmt.Errorf("scores, %s of %s: %w", of.code, injury, err)
			}
		}
	}
	return m.set, nil
}

// baseline stands in place of a week.
const baseline = 0

// period is the span of starts of care that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) (period, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 || in.Rules.LeastPersons < 2 || len(in.Rules.HorizonWeeks) == 0 {
		return period{}, fmt.Errorf("scores: month %s, %d months of starts, the weeks %v and at least %d persons; the first three must be given, the last be 2 or more",
			in.Month.Format(time.DateOnly), in.WindowMonths, in.Rules.HorizonWeeks, in.Rules.LeastPersons)
	}
	return period{result.PeriodOf(in.Month, in.WindowMonths)}, nil
}

// holds says whether an answer lies in the period.
func (p period) holds(s warehouse.Score) bool {
	return !s.StartDate.Before(p.From) && !s.StartDate.After(p.To) && !s.StartDate.AddDate(0, 0, s.Day).After(p.To)
}

// group is the answers that one picture is about.
type group struct {
	injury  string
	measure measure
	answers []answer // one for each episode and week, in order of the episode, then the week
	stated  []int    // weeks at which enough persons answered, rising; the baseline is 0
	hash    string
}

// answer is the answer of an episode that stands for a week.
type answer struct {
	person, episode int
	week            int // 0: the baseline
	value           float64
	atBest          bool
}

// group picks the answer of each episode for the baseline and for each week: the
// one nearest to it within the days allowed, of two the earlier.
func (m *maker) group(injury string, of measure) group {
	g := group{injury: injury, measure: of}
	var rows []warehouse.Score
	for _, s := range m.in.Scores {
		if s.InjuryType == injury && s.Measure == of.code && m.period.holds(s) && of.complete(s) {
			rows = append(rows, s)
		}
	}
	for i := 0; i < len(rows); {
		next := i
		for next < len(rows) && rows[next].EpisodeKey == rows[i].EpisodeKey {
			next++
		}
		g.answers = append(g.answers, m.pick(rows[i:next])...)
		i = next
	}
	for _, week := range append([]int{baseline}, m.in.Rules.HorizonWeeks...) {
		persons := map[int]bool{}
		for _, a := range g.answers {
			if a.week == week {
				persons[a.person] = true
			}
		}
		if len(persons) >= m.in.Rules.LeastPersons {
			g.stated = append(g.stated, week)
		}
	}
	g.hash = inputsHash(g.answers)
	return g
}

// pick chooses among the answers of one episode, in order of the day.
func (m *maker) pick(rows []warehouse.Score) []answer {
	var picked []answer
	keep := func(week int, s warehouse.Score) {
		picked = append(picked, answer{s.PersonKey, s.EpisodeKey, week, s.Value, s.AtBest})
	}
	for _, s := range rows {
		if s.BaselineDay != nil && s.Day == *s.BaselineDay {
			keep(baseline, s)
		}
	}
	for _, week := range m.in.Rules.HorizonWeeks {
		best := -1
		for i, s := range rows {
			if off := distance(s.Day, week); off <= 7*m.in.Rules.AroundWeeks && (best < 0 || off < distance(rows[best].Day, week)) {
				best = i
			}
		}
		if best >= 0 {
			keep(week, rows[best])
		}
	}
	return picked
}

// distance is how many days a day lies from the end of a week.
func distance(day, week int) int { return max(day-7*week, 7*week-day) }

// at are the answers that stand for a week.
func (g group) at(week int) []answer {
	return slices.DeleteFunc(slices.Clone(g.answers), func(a answer) bool { return a.week != week })
}
