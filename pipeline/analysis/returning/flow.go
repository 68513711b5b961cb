package returning

import (
	"slices"

	"evenlimb/pipeline/result"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set
}

// parts of the flow. Those who began are at their target, at risk or of no
// use; those at risk are in one of the others. Why somebody is no longer
// followed, which cause ended an episode and how many returns are still
// provisional is told of the whole practice alone: of a type or a site these are
// counts of a few.
var (
	beganParts = []string{"at_target", "at_risk", "no_usable"}
	riskParts  = []string{"returned", "ended_otherwise", "in_care", "not_followed"}
	stateOf    = map[string]state{
		"at_target": atTarget, "no_usable": unusable,
		"returned": returned, "ended_otherwise": ended, "in_care": inCare, "lost": lost, "left_otherwise": left,
	}
)

// causes are the competing ends, each counted on its own.
var causes = []string{"surgery", "new_injury", "not_returning", "may_not_continue", "died"}

// flow counts what became of a group.
func (m *maker) flow(g group) {
	m.count(g, "began", "", func(int) bool { return true })
	m.count(g, "at_risk", atRiskRows, func(i int) bool { return g.outcomes[i].atRisk() })
	m.count(g, "not_followed", "("+stateRows(lost, m.period)+" or "+stateRows(left, m.period)+")", func(i int) bool {
		return g.outcomes[i].state == lost || g.outcomes[i].state == left
	})
	for _, statistic := range slices.Concat(beganParts, riskParts) {
		if s, ok := stateOf[statistic]; ok {
			m.inState(g, statistic, s)
		}
	}
	for _, part := range beganParts {
		m.total(g, "began", g, part)
	}
	for _, part := range riskParts {
		m.total(g, "at_risk", g, part)
	}
}

// inState counts the episodes in a state.
func (m *maker) inState(g group, statistic string, s state) {
	m.count(g, statistic, stateRows(s, m.period), func(i int) bool { return g.outcomes[i].state == s })
}

// reasons counts, of the whole practice, why episodes ended otherwise or are no
// longer followed, and which returns are provisional.
func (m *maker) reasons(practice group) {
	for _, part := range []string{"lost", "left_otherwise"} {
		m.inState(practice, part, stateOf[part])
		m.total(practice, "not_followed", practice, part)
	}
	for _, cause := range causes {
		m.count(practice, "ended."+cause, stateRows(ended, m.period)+" and end_cause = "+literal(cause), func(i int) bool {
			return practice.outcomes[i].state == ended && practice.rows[i].EndCause == cause
		})
		m.total(practice, "ended_otherwise", practice, "ended."+cause)
	}
	m.count(practice, "returned_provisional", stateRows(returned, m.period)+" and provisional", func(i int) bool {
		return practice.outcomes[i].state == returned && practice.rows[i].Provisional
	})
}

// sum says that the counts of the part add to those of the practice.
func (m *maker) sum(practice, part group) {
	for _, statistic := range slices.Concat([]string{"began"}, beganParts, riskParts) {
		m.total(practice, statistic, part, statistic)
	}
}

func (m *maker) total(whole group, statistic string, part group, partStatistic string) {
	m.set.Totals = append(m.set.Totals, result.Total{
		Whole: result.ID(whole.picture, statistic, ""),
		Part:  result.ID(part.picture, partStatistic, ""),
	})
}

// count adds a count of episodes: those that keep holds for, which the
// condition picks out of the group.
func (m *maker) count(g group, statistic, condition string, keep func(i int) bool) {
	persons, episodes := g.persons(keep)
	f := m.figure(g, statistic)
	f.Unit, f.Method = "episodes", "count"
	f.Value, f.Persons, f.Episodes = number(float64(episodes)), &persons, &episodes
	if statistic == "returned" || statistic == "returned_provisional" {
		m.markProvisional(&f, g, keep)
	}
	m.add(f, "", EpisodesTable, and(g.where, condition))
}

func and(a, b string) string {
	if b == "" {
		return a
	}
	return a + " and " + b
}

// markProvisional marks a figure in which a return counts that is too young
// for its hold to have been watched in full.
func (m *maker) markProvisional(f *result.Figure, g group, counts func(i int) bool) {
	for i, e := range g.rows {
		if g.outcomes[i].state == returned && e.Provisional && counts(i) {
			f.Status = result.Provisional
			f.Warnings = append(f.Warnings, "Some returns are too recent to know whether they hold; they count, and may still drop out.")
			return
		}
	}
}

// figure begins a figure of a group.
func (m *maker) figure(g group, statistic string) result.Figure {
	return result.Figure{
		Question: "return", Measure: "recorded return", InjuryType: g.injury, Site: g.site,
		PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// add gives a figure its id and keeps it with its source. X stands behind the
// @ of the id; it is empty for a figure that is no point of a curve.
func (m *maker) add(f result.Figure, x, table, predicate string) {
	f.ID = result.ID(result.PictureID(f.Question, f.InjuryType, f.Site, f.Cohort, f.Stratum, "", m.period.Label), f.Statistic, x)
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: table, Predicate: predicate})
}

// alsoFrom names a further source of the figure added last.
func (m *maker) alsoFrom(table, predicate string) {
	last := m.set.Figures[len(m.set.Figures)-1]
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: last.ID, Table: table, Predicate: predicate})
}

func number(x float64) *float64 { return &x }
