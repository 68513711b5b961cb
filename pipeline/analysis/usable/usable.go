// Package usable answers one question: of the episodes of care that began, site
// by site, how many could be used for each of the questions that the report
// asks. Who could be followed for a return stands in the flow of the return
// itself and is not counted again here.
//
// It works on the rows of published.symmetry_episodes, side_pairs and
// dose_episodes and on nothing else, cuts them at the end of the month asked
// for, and returns counts, each with the rows it rests on.
package usable

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/analysis/dose"
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
	Sides        []warehouse.SymmetryEpisode // each list in order of the key
	Pairs        []warehouse.SidePair
	Doses        []warehouse.DoseEpisode
	Month        time.Time // any day of the month reported
	WindowMonths int       // months of starts of care, to the month's end
	Sites        []string  // codes, in the order in which figures are wanted
	Batch        int
}

// Month reads the published tables and returns the counts of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{Month: first, WindowMonths: practice.Return.WindowMonths, Batch: batch}
	for _, s := range practice.Sites {
		in.Sites = append(in.Sites, s.Code)
	}
	var err error
	if in.Sides, err = wh.SymmetryEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Pairs, err = wh.SidePairs(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Doses, err = wh.DoseEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(in)
}

// Analyse returns the counts of the month, of the practice and of every site:
// who began, and of whom a course of the two sides (both measured on two days or
// more, in one measure) or a dose (followed from the landmark, the work before it
// known) could be used.
//
// The period is the month and the WindowMonths-1 before it; nobody is watched
// past its last day.
func Analyse(in Input) (result.Set, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 {
		return result.Set{}, fmt.Errorf("what could be used: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), in.WindowMonths)
	}
	next := time.Date(in.Month.Year(), in.Month.Month()+1, 1, 0, 0, 0, 0, time.UTC)
	m := &maker{in: in, from: next.AddDate(0, -in.WindowMonths, 0), to: next.AddDate(0, 0, -1)}
	for _, q := range []question{m.sides(), m.doses()} {
		if len(q.rows) > 0 {
			m.count(q)
		}
	}
	return m.set, nil
}

// row is an episode that began in the period.
type row struct {
	episode, person int
	site            string
	used            bool
}

// question is what the episodes could be used for.
type question struct {
	name  string
	table string
	used  string // the condition that picks out those used, never null
	rows  []row
}

type maker struct {
	in       Input
	from, to time.Time
	set      result.Set
}

func (m *maker) holds(start time.Time) bool { return !start.Before(m.from) && !start.After(m.to) }

// sides are the episodes with one side involved and a pair of some measure on two
// days or more.
func (m *maker) sides() question {
	type seen struct {
		episode int
		measure string
	}
	pairs := map[seen]int{}
	repeated := map[int]bool{}
	for _, p := range m.in.Pairs {
		if m.holds(p.StartDate) && p.Day >= 0 && !p.StartDate.AddDate(0, 0, max(p.Day, p.UninvolvedDay)).After(m.to) {
			key := seen{p.EpisodeKey, p.Measure}
			pairs[key]++
			repeated[p.EpisodeKey] = repeated[p.EpisodeKey] || pairs[key] > 1
		}
	}
	q := question{name: "symmetry", table: symmetry.EpisodesTable, used: "not bilateral and episode_key in (select episode_key from " + symmetry.PairsTable +
		" where " + m.began() + " and day >= 0 and greatest(day, uninvolved_day) <= " + date(m.to) + " - start_date group by episode_key, measure having count(*) > 1)"}
	for _, e := range m.in.Sides {
		if m.holds(e.StartDate) {
			q.rows = append(q.rows, row{e.EpisodeKey, e.PersonKey, e.Site, !e.Bilateral && repeated[e.EpisodeKey]})
		}
	}
	return q
}

// doses are the episodes followed from the landmark on whose work before it is
// known.
func (m *maker) doses() question {
	q := question{name: "dose", table: dose.EpisodesTable, used: dose.AnalysedRows(m.to)}
	for _, e := range m.in.Doses {
		if m.holds(e.StartDate) {
			q.rows = append(q.rows, row{e.EpisodeKey, e.PersonKey, e.Site, dose.Analysed(e, m.to)})
		}
	}
	return q
}

// count adds the counts of a question for the practice and for every site. Where
// an episode is of a site that the settings do not name, no site sums to the
// practice.
func (m *maker) count(q question) {
	covered := 0
	for _, site := range m.in.Sites {
		for _, r := range q.rows {
			if r.site == site {
				covered++
			}
		}
	}
	m.group(q, "")
	for _, site := range m.in.Sites {
		m.group(q, site)
		if covered < len(q.rows) {
			continue
		}
		for _, statistic := range []string{"began", "used", "not_used"} {
			m.total(q.id("", statistic, m.in.WindowMonths), q.id(site, statistic, m.in.WindowMonths))
		}
	}
}

func (q question) id(site, statistic string, months int) string {
	return result.ID(result.PictureID("data", "", site, "", "", q.name, strconv.Itoa(months)+"m"), statistic, "")
}

func (m *maker) total(whole, part string) {
	m.set.Totals = append(m.set.Totals, result.Total{Whole: whole, Part: part})
}

func (m *maker) group(q question, site string) {
	where := m.began()
	if site != "" {
		where += " and site = " + literal(site)
	}
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
			if (site == "" || r.site == site) && c.keep(r) {
				persons[r.person] = true
				episodes++
			}
		}
		value, people := float64(episodes), len(persons)
		f := result.Figure{
			ID: q.id(site, c.statistic, m.in.WindowMonths), Question: "data", Measure: q.name, Site: site, PeriodFrom: m.from, PeriodTo: m.to,
			Statistic: c.statistic, Value: &value, Persons: &people, Episodes: &episodes, Unit: "episodes", Method: "count", MethodVersion: methodVersion,
			Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: inputsHash(q.rows),
		}
		m.set.Figures = append(m.set.Figures, f)
		m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: q.table, Predicate: where + c.condition})
		if c.statistic != "began" {
			m.total(q.id(site, "began", m.in.WindowMonths), f.ID)
		}
	}
}

func (m *maker) began() string { return "start_date between " + date(m.from) + " and " + date(m.to) }

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
