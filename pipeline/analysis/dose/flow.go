package dose

import (
	"fmt"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set

	covariates map[int]warehouse.DoseCovariates // by episode
	records    map[int]warehouse.DoseRecords    // likewise
	responses  map[int][]warehouse.DoseResponse // likewise
}

// leftOutStates are why somebody who began could not be followed from the
// landmark on.
var leftOutStates = []string{"at_target", "no_usable", "returned", "ended_otherwise", "in_care", "lost", "left_otherwise"}

// step is one count of the flow: a part of whole, which is another step, unless
// that is empty.
type step struct {
	statistic, whole, condition string
	keep                        func(r row) bool
}

func (m *maker) steps() []step {
	reached, analysed := landmarkRows(m.period.To), AnalysedRows(m.period.To)
	return []step{
		{"began", "", "", func(row) bool { return true }},
		{"left_out", "began", "not (" + analysed + ")", func(r row) bool { return !r.analysed() }},
		{"analysed", "began", analysed, row.analysed},
		{"no_cuff_work", "analysed", reached + " and sets = 0", func(r row) bool { return r.analysed() && *r.Sets == 0 }},
		{"some_cuff_work", "analysed", m.someRows(), row.some},
	}
}

// flow counts who began, who could be followed from the landmark on with the
// work before it known, and who did some.
func (m *maker) flow(g group) {
	for _, s := range m.steps() {
		m.count(g, s.statistic, s.whole, s.condition, g.pick(s.keep))
	}
}

// sum says that the flow of the part adds to that of the practice.
func (m *maker) sum(practice, part group) {
	for _, s := range m.steps() {
		m.set.Totals = append(m.set.Totals, result.Total{Whole: result.ID(practice.picture, s.statistic, ""), Part: result.ID(part.picture, s.statistic, "")})
	}
}

// reasons counts why those left out are, of the whole practice: of one injury
// type these are counts of a few.
func (m *maker) reasons(g group) {
	for _, state := range leftOutStates {
		m.count(g, "left_out."+state, "left_out", m.goneRows(state), g.pick(func(r row) bool { return r.gone() && r.standing.State == state }))
	}
	m.count(g, "left_out.dose_unknown", "left_out", landmarkRows(m.period.To)+" and sets is null", g.pick(func(r row) bool { return !r.gone() && r.Sets == nil }))
}

// someRows picks out those analysed who did some work with the cuff inflated.
func (m *maker) someRows() string { return landmarkRows(m.period.To) + " and sets > 0" }

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
		PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// add gives a figure its id and keeps it with its source.
func (m *maker) add(g group, f result.Figure, condition string) (id string) {
	x := ""
	if f.X != nil {
		x = fmt.Sprintf("%s%g", f.XUnit[:1], *f.X) // w12 for a week, s12 for sets
	}
	f.ID = result.ID(g.picture, f.Statistic, x)
	predicate := and(m.where(g), condition)
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: EpisodesTable, Predicate: predicate})
	return f.ID
}

func withhold(f *result.Figure, reason string) {
	f.Status, f.Reason = result.Withheld, reason
}
