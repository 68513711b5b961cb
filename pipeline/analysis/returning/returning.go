// Package returning answers one question: of those who begin care for an
// injury, how many are back at the activity agreed with them, and how soon.
//
// It works on the rows of published.return_episodes and on nothing else, cuts
// them at the end of the month asked for, and returns figures. Every figure
// names the rows it rests on; the same analysis of those rows gives it again.
package returning

import (
	"fmt"
	"slices"
	"time"

	"evenlimb/pipeline/analysis/rare"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// The tables that the predicates of the figures are about.
const (
	EpisodesTable    = "published.return_episodes"
	GapsTable        = "published.contact_gaps"
	StaysTable       = "published.stage_stays"
	RecurrencesTable = "published.recurrences"
)

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// Input is what a month's figures are made from. Rows of other periods may be
// among the episodes and gaps; they are left out. Nothing in it is changed.
type Input struct {
	Episodes    []warehouse.ReturnEpisode // in order of the key
	Gaps        []warehouse.ContactGap    // in order of the key
	Stays       []warehouse.StageStay     // in order of the key; none: nothing is told of them
	Recurrences []warehouse.Recurrence    // likewise
	Details     []warehouse.ReturnDetail  // likewise
	Month       time.Time                 // any day of the month reported
	Rules       settings.Return
	InjuryTypes []string // codes, in the order in which figures are wanted
	TypeFloor   int      // persons who must have begun with an injury type for it to be told on its own
	StageFloor  int      // persons who must have stood on a stage for it to be told
	Sites       []string // codes, in that order
	Batch       int
}

// Analyse returns the figures of the month: the flow, the curve, shares,
// quantiles, the mean and the sensitivities for every injury type that began in
// the period, and the flow for every site and for the practice. Types that fewer
// than TypeFloor persons began with are told together.
//
// The period is the month and the Rules.WindowMonths-1 before it. Nobody is
// watched past its last day. Shares are between 0 and 1, times in weeks.
func Analyse(in Input) (result.Set, error) {
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	m := &maker{in: in, period: p}
	practice := m.group("", nil, "")
	parts := m.types(practice)
	m.flow(practice)
	m.reasons(practice)
	if err := m.recurrence(practice); err != nil {
		return result.Set{}, fmt.Errorf("recurrence: %w", err)
	}
	for _, g := range parts {
		m.flow(g)
		m.sum(practice, g)
		if err := m.course(g); err != nil {
			return result.Set{}, fmt.Errorf("return to activity, %s: %w", g.picture, err)
		}
		if g.injury == result.OtherTypes {
			continue
		}
		if err := m.stages(g); err != nil {
			return result.Set{}, fmt.Errorf("stages, %s: %w", g.picture, err)
		}
		if err := m.recurrence(g); err != nil {
			return result.Set{}, fmt.Errorf("recurrence, %s: %w", g.picture, err)
		}
		if err := m.beside(g); err != nil {
			return result.Set{}, fmt.Errorf("beside the curve, %s: %w", g.picture, err)
		}
	}
	if n := practice.uncovered(parts); n > 0 {
		return result.Set{}, fmt.Errorf("return to activity: %d of the %d episodes that began are of an injury type that the code tables do not hold; `evenlimb tables` lists those known", n, len(practice.rows))
	}
	m.sites(practice)
	return m.set, nil
}

// beside adds what stands beside the curve of a type: the returns between
// contacts, and those on the injury clock.
func (m *maker) beside(g group) error {
	c, err := m.curves(g, asRecorded)
	if err != nil {
		return err
	}
	m.between(c)
	return m.injury(c)
}

// types are the groups by injury type, the rare ones together.
func (m *maker) types(practice group) []group {
	persons := rare.Persons(practice.rows, func(e warehouse.ReturnEpisode) (string, int, bool) { return e.InjuryType, e.PersonKey, true })
	own, few := rare.Split(m.in.InjuryTypes, persons, m.in.TypeFloor)
	var groups []group
	for _, injury := range own {
		groups = append(groups, m.group(injury, []string{injury}, ""))
	}
	if len(few) > 0 {
		groups = append(groups, m.group(result.OtherTypes, few, ""))
	}
	return groups
}

// sites adds the flow of every site. Episodes of a site that the settings do
// not name are counted for the practice alone, and then no site sums to it.
func (m *maker) sites(practice group) {
	var parts []group
	for _, site := range m.in.Sites {
		g := m.group("", nil, site)
		m.flow(g)
		parts = append(parts, g)
	}
	if practice.uncovered(parts) > 0 {
		return
	}
	for _, g := range parts {
		m.sum(practice, g)
	}
}

// period is the span of starts of care that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) (period, error) {
	months := in.Rules.WindowMonths
	if in.Month.IsZero() || months < 1 {
		return period{}, fmt.Errorf("return to activity: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), months)
	}
	return period{result.PeriodOf(in.Month, months)}, nil
}

// group is the episodes that one picture is about, and what became of each by
// the cut.
type group struct {
	injury   string   // as in the figures' ids; empty: all
	types    []string // the injury types in it; none: all
	site     string   // empty: all
	picture  string
	where    string // the condition that picks the rows out
	rows     []warehouse.ReturnEpisode
	outcomes []outcome
	hash     string
}

func (m *maker) group(injury string, types []string, site string) group {
	g := group{
		injury: injury, types: types, site: site,
		picture: result.PictureID("return", injury, site, "", "", "", m.period.Label),
		where:   where(types, site, m.period),
	}
	for _, e := range m.in.Episodes {
		if m.period.Holds(e.StartDate) && g.holds(e.InjuryType) && (site == "" || e.Site == site) {
			g.rows = append(g.rows, e)
		}
	}
	g.outcomes = m.judge(g.rows, asRecorded)
	g.hash = inputsHash(g.rows)
	return g
}

// holds says that an injury type is one of the group's.
func (g group) holds(injury string) bool {
	return len(g.types) == 0 || slices.Contains(g.types, injury)
}

// uncovered counts the rows of the group that are in none of the parts.
func (g group) uncovered(parts []group) int {
	n := len(g.rows)
	for _, part := range parts {
		n -= len(part.rows)
	}
	return n
}

// persons counts the persons among the rows that keep holds for.
func (g group) persons(keep func(i int) bool) (persons, episodes int) {
	var keys []int
	for i, e := range g.rows {
		if keep(i) {
			keys = append(keys, e.PersonKey)
		}
	}
	episodes = len(keys)
	slices.Sort(keys)
	return len(slices.Compact(keys)), episodes
}
