// Package usable answers one question: of the episodes of care that began, by
// site and by injury type, how many could be used for each of the questions that
// the report asks, and of how many people one episode more had one more item been
// recorded. Who could be followed for a return stands in the flow of the return
// itself and is not counted again here, nor are doses by injury type.
//
// It works on the rows of published.return_episodes, symmetry_episodes,
// side_pairs, limb_changes and dose_episodes and on nothing else, cuts them at the
// end of the month asked for, and returns counts, each with the rows it rests on.
package usable

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/analysis/dose"
	"evenlimb/pipeline/analysis/rare"
	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "1"

// Input is what a month's counts are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Returns      []warehouse.ReturnEpisode // each list in order of the key
	Sides        []warehouse.SymmetryEpisode
	Pairs        []warehouse.SidePair
	Changes      []warehouse.LimbChange
	Doses        []warehouse.DoseEpisode
	Month        time.Time // any day of the month reported
	WindowMonths int       // months of starts of care, to the month's end
	Sites        []string  // codes, in the order in which figures are wanted
	InjuryTypes  []string  // likewise
	TypeFloor    int       // persons who must have begun with an injury type for it to be told on its own
	Batch        int
}

// Month reads the published tables and returns the counts of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{Month: first, WindowMonths: practice.Return.WindowMonths, TypeFloor: practice.SmallCounts.Circulating, Batch: batch}
	in.Sites = practice.SiteCodes()
	in.InjuryTypes = practice.TypeCodes()
	var err error
	if in.Returns, err = wh.ReturnEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Sides, err = wh.SymmetryEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Pairs, err = wh.SidePairs(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Changes, err = wh.LimbChanges(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Doses, err = wh.DoseEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(in)
}

// Analyse returns the counts of the month, of the practice, of every site and, for
// the two sides, of every injury type: who began, and of whom a course of the two
// sides (both measured on two days or more, in one measure) or a dose (followed
// from the landmark, the work before it known) could be used; and of how many
// people one more item on record would have let an episode more be used. Types
// that fewer than TypeFloor persons began with are told together.
//
// The period is the month and the WindowMonths-1 before it; nobody is watched
// past its last day.
func Analyse(in Input) (result.Set, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 {
		return result.Set{}, fmt.Errorf("what could be used: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), in.WindowMonths)
	}
	m := &maker{in: in, period: result.PeriodOf(in.Month, in.WindowMonths)}
	m.days = m.pairedDays()
	sides, doses := m.sides(), m.doses()
	types := m.types(sides.rows)
	m.count(sides, types)
	m.count(doses, nil) // the dose's own flow counts them by type
	m.gains(sides.rows, types)
	return m.set, nil
}

// row is an episode that began in the period.
type row struct {
	episode, person int
	site, injury    string
	used            bool
}

// group is the episodes of a site, of injury types, or of the practice.
type group struct {
	site   string   // empty: all
	injury string   // as in the figures' ids; empty: all
	types  []string // the injury types in it; none: all
}

func (g group) holds(r row) bool {
	return (g.site == "" || r.site == g.site) && (len(g.types) == 0 || slices.Contains(g.types, r.injury))
}

// question is what the episodes could be used for.
type question struct {
	name  string
	table string
	used  string // the condition that picks out those used, never null
	rows  []row
}

type maker struct {
	in     Input
	period result.Period
	days   map[int]int // most days on which both sides stand in one measure, by episode
	set    result.Set
}

func (m *maker) holds(start time.Time) bool {
	return !start.Before(m.period.From) && !start.After(m.period.To)
}

// types are the groups by injury type, the rare ones together.
func (m *maker) types(rows []row) []group {
	own, few := rare.Split(m.in.InjuryTypes, rare.Persons(rows, func(r row) (string, int, bool) { return r.injury, r.person, true }), m.in.TypeFloor)
	var groups []group
	for _, injury := range own {
		groups = append(groups, group{injury: injury, types: []string{injury}})
	}
	if len(few) > 0 {
		groups = append(groups, group{injury: result.OtherTypes, types: few})
	}
	return groups
}

// sites are the groups by site.
func (m *maker) sites() []group {
	var groups []group
	for _, site := range m.in.Sites {
		groups = append(groups, group{site: site})
	}
	return groups
}

// pairedDays counts, by episode, the days of care on which both sides stand in
// one measure: of several measures the one with most days.
func (m *maker) pairedDays() map[int]int {
	type seen struct {
		episode int
		measure string
	}
	pairs, most := map[seen]int{}, map[int]int{}
	for _, p := range m.in.Pairs {
		if m.holds(p.StartDate) && p.Day >= 0 && !p.StartDate.AddDate(0, 0, max(p.Day, p.UninvolvedDay)).After(m.period.To) {
			key := seen{p.EpisodeKey, p.Measure}
			pairs[key]++
			most[p.EpisodeKey] = max(most[p.EpisodeKey], pairs[key])
		}
	}
	return most
}

// pairRows says in SQL which pairs pairedDays counts.
func (m *maker) pairRows() string {
	return m.began() + " and day >= 0 and greatest(day, uninvolved_day) <= " + date(m.period.To) + " - start_date"
}

// sides are the episodes with one side involved and a pair of some measure on two
// days or more.
func (m *maker) sides() question {
	q := question{name: "symmetry", table: symmetry.EpisodesTable, used: "not bilateral and episode_key in (select episode_key from " + symmetry.PairsTable +
		" where " + m.pairRows() + " group by episode_key, measure having count(*) > 1)"}
	for _, e := range m.in.Sides {
		if m.holds(e.StartDate) {
			q.rows = append(q.rows, row{e.EpisodeKey, e.PersonKey, e.Site, e.InjuryType, !e.Bilateral && m.days[e.EpisodeKey] > 1})
		}
	}
	return q
}

// doses are the episodes followed from the landmark on whose work before it is
// known.
func (m *maker) doses() question {
	q := question{name: "dose", table: dose.EpisodesTable, used: dose.AnalysedRows(m.period.To)}
	for _, e := range m.in.Doses {
		if m.holds(e.StartDate) {
			q.rows = append(q.rows, row{e.EpisodeKey, e.PersonKey, e.Site, e.InjuryType, dose.Analysed(e, m.period.To)})
		}
	}
	return q
}

// count adds the counts of a question for the practice, for every site and for
// the groups of types. Where an episode is of a site, or a type, that is in none
// of them, they do not sum to the practice.
func (m *maker) count(q question, types []group) {
	if len(q.rows) == 0 {
		return
	}
	practice := group{}
	m.used(q, practice)
	for _, parts := range [][]group{m.sites(), types} {
		covered := 0
		for _, g := range parts {
			covered += m.used(q, g)
		}
		if covered < len(q.rows) {
			continue
		}
		for _, g := range parts {
			for _, statistic := range []string{"began", "used", "not_used"} {
				m.total(m.id(q.name, practice, statistic), m.id(q.name, g, statistic))
			}
		}
	}
}

func (m *maker) id(measure string, g group, statistic string) string {
	return result.ID(result.PictureID("data", g.injury, g.site, "", "", measure, strconv.Itoa(m.in.WindowMonths)+"m"), statistic, "")
}

func (m *maker) total(whole, part string) {
	m.set.Totals = append(m.set.Totals, result.Total{Whole: whole, Part: part})
}

// used adds the counts of a question for one group, and returns how many episodes
// began in it.
func (m *maker) used(q question, g group) (began int) {
	for _, c := range []struct {
		statistic, condition string
		keep                 func(r row) bool
	}{
		{"began", "", func(row) bool { return true }},
		{"used", " and " + q.used, func(r row) bool { return r.used }},
		{"not_used", " and not (" + q.used + ")", func(r row) bool { return !r.used }},
	} {
		persons, episodes := map[int]bool{}, 0
		for _, r := range q.rows {
			if g.holds(r) && c.keep(r) {
				persons[r.person] = true
				episodes++
			}
		}
		f := m.figure(g, q.name, c.statistic, episodes, len(persons), episodes)
		f.Unit, f.Method, f.InputsHash = "episodes", "count", inputsHash(q.rows)
		m.add(f, q.table, m.where(g)+c.condition)
		if c.statistic == "began" {
			began = episodes
		} else {
			m.total(m.id(q.name, g, "began"), f.ID)
		}
	}
	return began
}

// figure begins the figure of a count.
func (m *maker) figure(g group, measure, statistic string, n, persons, episodes int) result.Figure {
	value := float64(n)
	return result.Figure{
		ID: m.id(measure, g, statistic), Question: "data", Measure: measure, InjuryType: g.injury, Site: g.site, PeriodFrom: m.period.From, PeriodTo: m.period.To,
		Statistic: statistic, Value: &value, Persons: &persons, Episodes: &episodes, MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch,
	}
}

func (m *maker) add(f result.Figure, table, predicate string) {
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: table, Predicate: predicate})
}

func (m *maker) began() string {
	return "start_date between " + date(m.period.From) + " and " + date(m.period.To)
}

// where picks out the episodes of a group that began in the period.
func (m *maker) where(g group) string {
	where := m.began()
	if g.site != "" {
		where += " and site = " + literal(g.site)
	}
	if len(g.types) > 0 {
		var codes []string
		for _, injury := range g.types {
			codes = append(codes, literal(injury))
		}
		where += " and injury_type in (" + strings.Join(codes, ", ") + ")"
	}
	return where
}

func date(day time.Time) string { return "date '" + day.Format(time.DateOnly) + "'" }

// literal writes a code as text of SQL. Codes hold letters, digits, _ and -
// alone; anything else would be a fault of the program, and matches nothing.
func literal(code string) string { return "'" + strings.ReplaceAll(code, "'", "''") + "'" }

// inputsHash is the SHA-256 over the rows in their order.
func inputsHash(rows []row) string {
	h := sha256.New()
	for _, r := range rows {
		fmt.Fprintf(h, "%d %d %q %t\n", r.episode, r.person, r.site, r.used)
	}
	return hex.EncodeToString(h.Sum(nil))
}
