package dose

import (
	"fmt"

	"evenlimb/pipeline/result"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set
}

// goneStates are why somebody who began is not followed from the landmark on.
var goneStates = []string{"at_target", "no_usable", "returned", "ended_otherwise", "in_care", "lost", "left_otherwise"}

// flow counts who began, who was still at risk at the landmark, and whose work
// before it is known.
func (m *maker) flow(g group) {
	reached := m.landmarkRows()
	for _, c := range []struct {
		statistic, whole, condition string
		keep                        func(r row) bool
	}{
		{"began", "", "", func(row) bool { return true }},
		{"gone_before_landmark", "began", "not (" + reached + ")", row.gone},
		{"window_complete", "began", reached, func(r row) bool { return !r.gone() }},
		{"dose_missing", "window_complete", reached + " and sets is null", func(r row) bool { return !r.gone() && r.Sets == nil }},
		{"analysed", "window_complete", reached + " and sets is not null", row.analysed},
		{"no_cuff_work", "analysed", reached + " and sets = 0", func(r row) bool { return r.analysed() && *r.Sets == 0 }},
		{"some_cuff_work", "analysed", m.someRows(), row.some},
	} {
		m.count(g, c.statistic, c.whole, c.condition, g.pick(c.keep))
	}
	for _, state := range goneStates {
		m.count(g, "gone."+state, "gone_before_landmark", m.goneRows(state), g.pick(func(r row) bool { return r.gone() && r.standing.State == state }))
	}
}

// someRows picks out those analysed who did some work with the cuff inflated.
func (m *maker) someRows() string { return m.landmarkRows() + " and sets > 0" }

// count adds a count of episodes, which is a part of the whole unless that is
// empty.
func (m *maker) count(g group, statistic, whole, condition string, rows []row) {
	f := m.figure(g, statistic)
	f.Unit, f.Method = "episodes", "count"
	f.Value, f.Persons, f.Episodes = number(float64(len(rows))), count(persons(rows)), count(len(rows))
	id := m.add(g, f, condition)
	if whole != "" {
		m.set.Totals = append(m.set.Totals, result.Total{Whole: result.ID(g.picture, whole, ""), Part: id})
	}
}

// figure begins a figure of a group.
func (m *maker) figure(g group, statistic string) result.Figure {
	return result.Figure{
		Question: "dose", Measure: "work with the cuff inflated", InjuryType: g.injury,
		PeriodFrom: m.period.from, PeriodTo: m.period.to, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// add gives a figure its id and keeps it with its source.
func (m *maker) add(g group, f result.Figure, condition string) (id string) {
	x := ""
	if f.X != nil {
		x = fmt.Sprintf("w%g", *f.X)
	}
	f.ID = result.ID(g.picture, f.Statistic, x)
	predicate := m.where(g)
	if condition != "" {
		predicate += " and " + condition
	}
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: EpisodesTable, Predicate: predicate})
	return f.ID
}

func withhold(f *result.Figure, reason string) {
	f.Status, f.Reason = result.Withheld, reason
}
