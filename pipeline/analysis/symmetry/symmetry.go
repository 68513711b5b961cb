// Package symmetry answers one question: how alike are the involved and the
// uninvolved side of those in care for an injury, in strength and girth, and
// how does that run over the weeks.
//
// It works on the rows of published.symmetry_episodes, side_pairs, limb_changes
// and bilateral_changes and on nothing else, cuts them at the end of the month
// asked for, and returns figures, each with the rows it rests on.
package symmetry

import (
	"context"
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
	EpisodesTable = "published.symmetry_episodes"
	PairsTable    = "published.side_pairs"
	ChangesTable  = "published.limb_changes"
)

// methodVersion changes when a figure of the same rows would change.
const methodVersion = "2"

// Input is what a month's figures are made from. Rows of other periods may be
// among them; they are left out. Nothing in it is changed.
type Input struct {
	Episodes     []warehouse.SymmetryEpisode // each list in any order
	Pairs        []warehouse.SidePair
	Changes      []warehouse.LimbChange
	Both         []warehouse.BilateralChange
	Month        time.Time // any day of the month reported
	WindowMonths int       // months of starts of care, to the month's end
	Rules        settings.Symmetry
	InjuryTypes  []string // codes, in the order in which figures are wanted
	TypeFloor    int      // persons who must have begun with an injury type for it to be told
	Batch        int
}

// Month reads the published tables and returns the figures of the month that
// first lies in.
func Month(ctx context.Context, wh *warehouse.Warehouse, practice *settings.Practice, first time.Time, batch int) (result.Set, error) {
	in := Input{
		Month: first, WindowMonths: practice.Return.WindowMonths, Rules: practice.Symmetry,
		TypeFloor: practice.SmallCounts.Circulating, Batch: batch,
	}
	in.InjuryTypes = practice.TypeCodes()
	var err error
	if in.Episodes, err = wh.SymmetryEpisodes(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Pairs, err = wh.SidePairs(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Changes, err = wh.LimbChanges(ctx, ""); err != nil {
		return result.Set{}, err
	}
	if in.Both, err = wh.BilateralChanges(ctx, ""); err != nil {
		return result.Set{}, err
	}
	return Analyse(ctx, in)
}

// Analyse returns the figures of the month: a picture for every injury type that
// at least TypeFloor persons began with and every measure of girth, of strength or
// of what can be zero that stands in a pair of both sides; for each such type how many had returned;
// and for the whole practice of how many the two sides can be compared at all.
// The weeks of the settings up to the one at which change is judged are always
// stated, later ones where enough were measured.
//
// The period is the month and the WindowMonths-1 before it; nobody is watched
// past its last day. Indices are in percent, girth in centimetres, shares
// between 0 and 1. A figure whose method refuses is withheld with a sentence.
// The numbers do not depend on the number of cores.
func Analyse(ctx context.Context, in Input) (result.Set, error) {
	p, err := newPeriod(in)
	if err != nil {
		return result.Set{}, err
	}
	m := &maker{in: inOrder(in), period: p}
	m.index()
	m.flow()
	began := rare.Persons(m.in.Episodes, func(e warehouse.SymmetryEpisode) (string, int, bool) {
		return e.InjuryType, e.PersonKey, m.period.Holds(e.StartDate)
	})
	_, few := rare.Split(in.InjuryTypes, began, in.TypeFloor)
	for _, injury := range in.InjuryTypes {
		if slices.Contains(few, injury) {
			continue
		}
		stated := map[int]bool{}
		for _, measure := range measures() {
			g := m.group(injury, measure)
			if len(g.pairs) == 0 {
				continue
			}
			for _, week := range m.weeks(g) {
				stated[week] = true
			}
			m.beside(g)
			if err := m.trends(g); err != nil {
				return result.Set{}, fmt.Errorf("symmetry, %s: %w", g.picture, err)
			}
			if err := m.reached(ctx, g); err != nil {
				return result.Set{}, fmt.Errorf("symmetry, %s: %w", g.picture, err)
			}
			m.threshold(g)
			m.changes(g)
			m.lastChanges(g)
			m.important(g)
		}
		m.returned(injury, stated)
	}
	return m.set, nil
}

// period is the span of starts of care that a month's figures look at.
type period struct{ result.Period }

func newPeriod(in Input) (period, error) {
	if in.Month.IsZero() || in.WindowMonths < 1 {
		return period{}, fmt.Errorf("symmetry: month %s and %d months of starts, both must be given", in.Month.Format(time.DateOnly), in.WindowMonths)
	}
	return period{result.PeriodOf(in.Month, in.WindowMonths)}, nil
}

// reaches says whether a day of an episode lies in care and within the period.
func (p period) reaches(start time.Time, day int) bool { return day <= days(start, p.To) }

// days counts whole days between two dates at midnight UTC.
func days(from, to time.Time) int { return int(to.Sub(from).Hours() / 24) }

// group is the rows that one picture is about.
type group struct {
	injury   string // empty: all
	measure  measure
	kind     string // in place of a measure: all measures of a kind
	picture  string
	episodes []warehouse.SymmetryEpisode // all that began
	pairs    []warehouse.SidePair        // in care, up to the cut
	changes  []warehouse.LimbChange      // up to the cut
	hash     string
}

func (m *maker) group(injury string, of measure) group {
	g := group{injury: injury, measure: of, picture: result.PictureID("symmetry", injury, "", "", "", of.code, m.period.Label)}
	at := m.rowsOf[picture{injury, of.code}]
	for _, i := range at.pairs {
		if p := &m.in.Pairs[i]; m.period.Holds(p.StartDate) && p.Day >= 0 && m.period.reaches(p.StartDate, max(p.Day, p.UninvolvedDay)) {
			g.pairs = append(g.pairs, *p)
		}
	}
	if len(g.pairs) == 0 {
		return g
	}
	g.episodes = m.episodes(injury)
	for _, i := range at.changes {
		if c := &m.in.Changes[i]; m.period.Holds(c.StartDate) && m.period.reaches(c.StartDate, c.Day) {
			g.changes = append(g.changes, *c)
		}
	}
	g.hash = inputsHash(g)
	return g
}

// episodes are those of an injury type that began in the period.
func (m *maker) episodes(injury string) []warehouse.SymmetryEpisode {
	var list []warehouse.SymmetryEpisode
	for _, e := range m.in.Episodes {
		if e.InjuryType == injury && m.period.Holds(e.StartDate) {
			list = append(list, e)
		}
	}
	return list
}

// tally counts distinct persons and episodes.
type tally struct{ persons, episodes []int }

func (t *tally) add(person, episode int) {
	t.persons, t.episodes = append(t.persons, person), append(t.episodes, episode)
}

func (t *tally) counts() (persons, episodes *int) {
	return count(distinct(t.persons)), count(distinct(t.episodes))
}

func distinct(keys []int) int {
	return len(slices.Compact(slices.Sorted(slices.Values(keys))))
}

func count(n int) *int { return &n }

func number(x float64) *float64 { return &x }
