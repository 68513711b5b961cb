package scores

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"evenlimb/pipeline/result"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set
}

// figure begins a figure of a group.
func (m *maker) figure(g group, statistic string) result.Figure {
	return result.Figure{
		Question: "scores", Measure: g.measure.code, InjuryType: g.injury, PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// rests says on whom a figure rests.
func (m *maker) rests(f *result.Figure, answers []answer) {
	persons, episodes := map[int]bool{}, map[int]bool{}
	for _, a := range answers {
		persons[a.person], episodes[a.episode] = true, true
	}
	p, e := len(persons), len(episodes)
	f.Persons, f.Episodes = &p, &e
}

// add gives a figure its id and keeps it with its source.
func (m *maker) add(g group, f result.Figure, condition string) {
	picture := result.PictureID("scores", g.injury, "", "", "", g.measure.code, m.period.Label)
	f.ID = result.ID(picture, f.Statistic, fmt.Sprintf("w%g", *f.X))
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: Table, Predicate: m.where(g) + condition})
}

// The conditions below say in SQL what the analysis says in Go, so that whoever
// follows a figure finds its rows. They are made of codes that the code tables
// hold, of whole numbers and of dates. Of two answers near a week only the
// nearer counts; both are found.

// answers picks out the answers of the period.
func (p period) answers() string {
	return "start_date between " + date(p.From) + " and " + date(p.To) + " and day <= " + date(p.To) + " - start_date"
}

func (m *maker) where(g group) string {
	return fmt.Sprintf("injury_type = %s and measure = %s and %s and coalesce(items_missing, 0) <= %d",
		literal(g.injury), literal(g.measure.code), m.period.answers(), g.measure.most())
}

// near picks out the answers near a week, or the baselines.
func (m *maker) near(week int) string { return " and " + m.window(week) }

func (m *maker) window(week int) string {
	if week == baseline {
		return "day = baseline_day"
	}
	around := m.in.Rules.AroundWeeks
	return fmt.Sprintf("day between %d and %d", 7*(week-around), 7*(week+around))
}

// inModel picks out the answers of all weeks stated.
func (m *maker) inModel(g group) string {
	windows := make([]string, len(g.stated))
	for i, week := range g.stated {
		windows[i] = m.window(week)
	}
	return " and (" + strings.Join(windows, " or ") + ")"
}

// both picks out the answers near a week of those with a baseline that counts,
// and these baselines.
func (m *maker) both(g group, week int) string {
	having := func(week int) string {
		return "episode_key in (select episode_key from " + Table + " where " + m.where(g) + m.near(week) + ")"
	}
	return " and (" + m.window(baseline) + " or " + m.window(week) + ") and " + having(baseline) + " and " + having(week)
}

func date(day time.Time) string { return "date '" + day.Format(time.DateOnly) + "'" }

// literal writes a code as text of SQL. Codes hold letters, digits, _ and -
// alone; anything else would be a fault of the program, and matches nothing.
func literal(code string) string { return "'" + strings.ReplaceAll(code, "'", "''") + "'" }

func number(x float64) *float64 { return &x }

// inputsHash is the SHA-256 over the answers in their order.
func inputsHash(answers []answer) string {
	h := sha256.New()
	for _, a := range answers {
		fmt.Fprintln(h, a.person, a.episode, a.week, a.value, a.atBest)
	}
	return hex.EncodeToString(h.Sum(nil))
}
