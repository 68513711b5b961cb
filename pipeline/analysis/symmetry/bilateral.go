package symmetry

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// BothTable is what the predicates of figures on both limbs are about.
const BothTable = "published.bilateral_changes"

// limbs of an episode with both sides involved, the worse one first.
var limbs = []string{"worse", "other"}

// bothSides tells of the whole practice, apart for strength and girth, how each
// limb stood beside its own baseline where both sides are involved and there is no
// ratio: strength in percent of the limb's baseline (geometric mean), girth in
// centimetres more or less. An episode counts by its visit nearest to the week, of
// two the earlier; of several measures of a kind by their mean. Weeks at which
// fewer than the settings' number of persons were measured are left out: there
// would be such weeks in most practices, and the flow says of how many both sides
// are involved.
func (m *maker) bothSides(kind string, picture string) {
	for _, limb := range limbs {
		g := group{kind: kind, picture: picture}
		var rows []warehouse.BilateralChange
		for _, c := range m.in.Both {
			if c.Limb == limb && kindOf(c.Measure) == kind && m.period.Holds(c.StartDate) && m.period.reaches(c.StartDate, c.Day) {
				rows = append(rows, c)
				g.changes = append(g.changes, c.LimbChange)
			}
		}
		g.hash = inputsHash(g)
		for _, week := range m.in.Rules.HorizonWeeks {
			m.limbAt(g, limb, week, rows)
		}
	}
}

// limbAt adds the mean of one limb near one week.
func (m *maker) limbAt(g group, limb string, week int, rows []warehouse.BilateralChange) {
	around := m.in.Rules.SupportWeeks
	if canBeZero(g.kind) {
		return // hops in centimetres and seconds have no mean, and repetitions no percent
	}
	strength := g.kind == "strength"
	var t tally
	var order []int // episodes
	of := map[int][]float64{}
	for _, c := range nearestOfMeasures(rows, week, around) {
		y := c.Value - c.Baseline
		if strength {
			if c.Value <= 0 || c.Baseline <= 0 {
				continue
			}
			y = math.Log(c.Value / c.Baseline)
		}
		if of[c.EpisodeKey] == nil {
			order = append(order, c.EpisodeKey)
		}
		of[c.EpisodeKey] = append(of[c.EpisodeKey], y)
		t.add(c.PersonKey, c.EpisodeKey)
	}
	persons, episodes := t.counts()
	if *persons < m.in.Rules.SupportPersons {
		return
	}
	ys := make([]float64, len(order))
	for i, key := range order {
		for _, y := range of[key] {
			ys[i] += y / float64(len(of[key]))
		}
	}
	mean, se := meanAndError(ys)
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(ys) - 1)}.Quantile((1+level)/2) * se
	statistic := limb + "_side_change"
	if strength {
		statistic = limb + "_side_percent"
	}
	f := m.figure(g, statistic)
	f.X, f.XUnit, f.Unit, f.Method = number(float64(week)), "weeks", "cm", "mean of those measured, t interval"
	f.Persons, f.Episodes, f.Level = persons, episodes, level
	told := outcome{told: 100, log: strength}
	if strength {
		f.Unit, f.Method = "% of its baseline", "geometric mean of those measured, t interval of logarithms"
	}
	f.Value, f.Low, f.High = number(told.back(mean)), number(told.back(mean-half)), number(told.back(mean+half))
	if strength {
		se *= *f.Value
	}
	f.StdError = number(se)
	where := m.episodesWhere(g) + " and measure in " + literals(measuresOf(g.kind)) + " and limb = " + literal(limb) + " and day <= " + date(m.period.To) + " - start_date"
	if strength {
		where += " and value > 0 and baseline > 0"
	}
	m.add(f, result.Source{Table: BothTable, Predicate: where + fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))})
}

// nearestOfMeasures picks, of each episode and measure, the visit nearest to a
// week, of two the earlier. The changes come in order of episode, measure and day.
func nearestOfMeasures(rows []warehouse.BilateralChange, week, around int) []warehouse.BilateralChange {
	var list []warehouse.BilateralChange
	for _, c := range rows {
		if !within(c.Day, week, around) {
			continue
		}
		last := len(list) - 1
		switch {
		case last < 0 || list[last].EpisodeKey != c.EpisodeKey || list[last].Measure != c.Measure:
			list = append(list, c)
		case abs(c.Day-7*week) < abs(list[last].Day-7*week):
			list[last] = c
		}
	}
	return list
}
