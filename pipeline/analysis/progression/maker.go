package progression

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/rates"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	set    result.Set
}

// subject is what one picture is about.
type subject struct {
	question string
	injury   string // empty: all
	stratum  string
	measure  string
	table    string
	where    string // picks the picture's rows out of the table
	hash     string
}

// figure begins a figure.
func (m *maker) figure(s subject, statistic string) result.Figure {
	return result.Figure{
		Question: s.question, Measure: s.measure, InjuryType: s.injury, Stratum: s.stratum,
		PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: s.hash,
	}
}

// add gives a figure its id and keeps it with its source.
func (m *maker) add(s subject, f result.Figure, condition string) {
	x := ""
	if f.X != nil {
		x = fmt.Sprintf("w%g", *f.X)
	}
	f.ID = result.ID(result.PictureID(s.question, s.injury, "", "", s.stratum, s.measure, m.period.Label), f.Statistic, x)
	m.set.Figures = append(m.set.Figures, f)
	m.set.Sources = append(m.set.Sources, result.Source{FigureID: f.ID, Table: s.table, Predicate: and(s.where, condition)})
}

// sums are two amounts by person; episodes is 0 where they are not counted.
type sums struct {
	above, below map[int]float64
	episodes     int
}

func newSums() *sums { return &sums{above: map[int]float64{}, below: map[int]float64{}} }

func (s *sums) add(person, episodes int, above, below float64) {
	s.above[person] += above
	s.below[person] += below
	s.episodes += episodes
}

// lists are the amounts in order of the person.
func (s *sums) lists() (above, below []float64, total float64) {
	for _, person := range slices.Sorted(maps.Keys(s.below)) {
		above, below = append(above, s.above[person]), append(below, s.below[person])
		total += s.below[person]
	}
	return above, below, total
}

// share adds the share of what is counted below that is counted above; nothing
// where it would rest on fewer than the floor of persons.
func (m *maker) share(s subject, statistic, counted, condition string, by *sums) error {
	if len(by.below) < m.in.Floor {
		return nil
	}
	e, total, err := by.share()
	if err != nil {
		return fmt.Errorf("%s: %w", statistic, err)
	}
	f := m.figure(s, statistic)
	f.Exposure, f.ExposureUnit = number(total), counted
	estimate(&f, e, by)
	if e.Low == e.Value || e.High == e.Value {
		f.Warnings = []string{fmt.Sprintf("It was so in none, or in all, of the %s: the other limit counts people.", counted)}
	}
	m.add(s, f, condition)
	return nil
}

// perThousand is in how many trials a rare outcome is told.
const perThousand = 1000

// rate adds the same share per 1,000. Where nothing was seen there is no value,
// and the upper limit is stated (decision: no event seen).
func (m *maker) rate(s subject, statistic, counted, condition string, by *sums) error {
	if len(by.below) < m.in.Floor {
		return nil
	}
	e, total, err := by.share()
	if err != nil {
		return fmt.Errorf("%s: %w", statistic, err)
	}
	for _, x := range []*float64{&e.Value, &e.Low, &e.High, &e.SE} {
		*x *= perThousand
	}
	f := m.figure(s, statistic)
	f.Exposure, f.ExposureUnit = number(total), counted
	estimate(&f, e, by)
	f.Unit = "per 1,000 " + counted
	if e.Value == 0 {
		f.Value, f.Low, f.StdError = nil, nil, nil
		f.Reason = fmt.Sprintf("None in %.0f %s: up to %.1f per 1,000, counting people.", total, counted, e.High)
	}
	m.add(s, f, condition)
	return nil
}

// share estimates the share that is above, with the number below.
func (s *sums) share() (e stats.Estimate, total float64, err error) {
	above, below, total := s.lists()
	e, err = rates.ShareByPerson(whole(above), whole(below), level)
	return e, total, err
}

// ratio adds one sum over another, likewise.
func (m *maker) ratio(s subject, statistic, condition string, by *sums) error {
	if len(by.below) < m.in.Floor {
		return nil
	}
	above, below, _ := by.lists()
	e, err := rates.RatioByPerson(above, below, level)
	if err != nil {
		return fmt.Errorf("%s: %w", statistic, err)
	}
	f := m.figure(s, statistic)
	estimate(&f, e, by)
	for _, w := range e.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
	if e.SE == 0 {
		f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
	}
	m.add(s, f, condition)
	return nil
}

func estimate(f *result.Figure, e stats.Estimate, by *sums) {
	f.Unit, f.Method = "share", e.Method
	f.Value, f.Low, f.High, f.StdError, f.Level = number(e.Value), number(e.Low), number(e.High), number(e.SE), e.Level
	f.Persons = count(len(by.below))
	if by.episodes > 0 {
		f.Episodes = count(by.episodes)
	}
}

func whole(xs []float64) []int {
	out := make([]int, len(xs))
	for i, x := range xs {
		out[i] = int(x)
	}
	return out
}

func count(n int) *int { return &n }

func number(x float64) *float64 { return &x }

// The conditions below say in SQL which rows a figure rests on. They are made of
// codes that the settings or the code tables hold, and of dates.

// began picks out the courses of care of the period.
func (p period) began() string {
	return "start_date between " + date(p.From) + " and " + date(p.To)
}

// months picks out their months up to the one reported.
func (p period) months() string { return p.began() + " and month <= " + date(p.To) }

func ofType(injury, where string) string {
	if injury == "" {
		return where
	}
	return "injury_type = " + literal(injury) + " and " + where
}

func and(a, b string) string {
	if b == "" {
		return a
	}
	return a + " and " + b
}

func date(day time.Time) string { return "date '" + day.Format(time.DateOnly) + "'" }

// literal writes a code as text of SQL. Codes hold letters, digits, _ and -
// alone; anything else would be a fault of the program, and matches nothing.
func literal(code string) string { return "'" + strings.ReplaceAll(code, "'", "''") + "'" }

// inputsHash is the SHA-256 over rows in their order.
func inputsHash[R any](rows []R, line func(r R) string) string {
	h := sha256.New()
	for _, r := range rows {
		_, _ = h.Write([]byte(line(r) + "\n")) // a hash takes every write
	}
	return hex.EncodeToString(h.Sum(nil))
}

func text[T any](x *T) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprint(*x)
}
