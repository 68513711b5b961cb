package scores

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"evenlimb/pipeline/stats/rates"
)

// shares adds the shares at the best end of the scale, and of those who changed.
func (m *maker) shares(g group) error {
	for _, week := range g.stated {
		answers := g.at(week)
		if err := m.share(g, "at_best", week, answers, func(a answer) bool { return a.atBest }, m.near(week)); err != nil {
			return err
		}
	}
	return m.changed(g)
}

// changed adds who changed since the baseline by the week of the settings: real
// is more than the error of measuring, important is the smallest change that
// counts or more.
func (m *maker) changed(g group) error {
	week := m.in.Rules.ChangeWeek
	if !slices.Contains(g.stated, week) {
		return nil
	}
	from := map[int]float64{}
	for _, a := range g.at(baseline) {
		from[a.episode] = a.value
	}
	both := slices.DeleteFunc(g.at(week), func(a answer) bool { _, ok := from[a.episode]; return !ok })
	gain := func(a answer) float64 {
		// Values have four decimals at most: what lies further down is rounding.
		return math.Round(1e6*g.measure.gain(from[a.episode], a.value)) / 1e6
	}
	for _, k := range []struct {
		statistic string
		limit     *float64
		holds     func(gain, limit float64) bool
	}{
		{"improved", g.measure.mdc, func(gain, limit float64) bool { return gain > limit }},
		{"worse", g.measure.mdc, func(gain, limit float64) bool { return gain < -limit }},
		{"important", g.measure.mic, func(gain, limit float64) bool { return gain >= limit }},
	} {
		if k.limit == nil {
			continue
		}
		if err := m.share(g, k.statistic, week, both, func(a answer) bool { return k.holds(gain(a), *k.limit) }, m.both(g, week)); err != nil {
			return err
		}
	}
	return nil
}

// share adds the share of answers that have something, clustered on persons;
// nothing where they are of fewer persons than the rules ask for.
func (m *maker) share(g group, statistic string, week int, answers []answer, has func(a answer) bool, condition string) error {
	with, of := map[int]int{}, map[int]int{}
	for _, a := range answers {
		of[a.person]++
		if has(a) {
			with[a.person]++
		}
	}
	if len(of) < m.in.Rules.LeastPersons {
		return nil
	}
	var above, below []int
	for _, person := range slices.Sorted(maps.Keys(of)) {
		above, below = append(above, with[person]), append(below, of[person])
	}
	e, err := rates.ShareByPerson(above, below, level)
	if err != nil {
		return fmt.Errorf("%s at week %d: %w", statistic, week, err)
	}
	f := m.figure(g, statistic)
	f.X, f.XUnit, f.Unit, f.Method = number(float64(week)), "weeks", "share", e.Method
	f.Value, f.Low, f.High, f.StdError, f.Level = number(e.Value), number(e.Low), number(e.High), number(e.SE), e.Level
	m.rests(&f, answers)
	m.add(g, f, condition)
	return nil
}
