package symmetry

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// maker collects the figures of one month.
type maker struct {
	in     Input
	period period
	rowsOf map[picture]places
	set    result.Set
}

// flow counts, of the whole practice and apart for each kind of measure, who began,
// and of whom the two sides can be compared. By injury type and measure these
// would be counts of a few.
func (m *maker) flow() {
	for _, kind := range kinds {
		g := group{kind: kind, picture: result.PictureID("symmetry", "", "", "", "", kind, m.period.Label)}
		paired, ofKind := map[int]bool{}, map[string]bool{}
		for _, code := range measuresOf(kind) {
			ofKind[code] = true
		}
		for _, p := range m.in.Pairs {
			if ofKind[p.Measure] && m.period.Holds(p.StartDate) && p.Day >= 0 && m.period.reaches(p.StartDate, max(p.Day, p.UninvolvedDay)) {
				g.pairs = append(g.pairs, p)
				paired[p.EpisodeKey] = true
			}
		}
		for _, e := range m.in.Episodes {
			if m.period.Holds(e.StartDate) {
				g.episodes = append(g.episodes, e)
			}
		}
		if len(g.episodes) == 0 || (canBeZero(kind) && len(g.pairs) == 0) {
			continue
		}
		g.hash = inputsHash(g)
		m.split(g, paired)
		m.bothSides(kind, g.picture)
	}
}

// split counts the parts of those who began.
func (m *maker) split(g group, paired map[int]bool) {
	inPairs := "episode_key in (select episode_key from " + PairsTable + " where " + m.pairsWhere(g) + ")"
	for _, part := range []struct {
		statistic, condition string
		keep                 func(e warehouse.SymmetryEpisode) bool
	}{
		{"began", "", func(warehouse.SymmetryEpisode) bool { return true }},
		{"bilateral", " and bilateral", func(e warehouse.SymmetryEpisode) bool { return e.Bilateral }},
		{"pairs", " and not bilateral and " + inPairs, func(e warehouse.SymmetryEpisode) bool { return !e.Bilateral && paired[e.EpisodeKey] }},
		{"no_pair", " and not bilateral and not " + inPairs, func(e warehouse.SymmetryEpisode) bool { return !e.Bilateral && !paired[e.EpisodeKey] }},
	} {
		var t tally
		for _, e := range g.episodes {
			if part.keep(e) {
				t.add(e.PersonKey, e.EpisodeKey)
			}
		}
		m.count(g, part.statistic, t, result.Source{Table: EpisodesTable, Predicate: m.episodesWhere(g) + part.condition})
		if part.statistic != "began" {
			m.total(g, "began", part.statistic)
		}
	}
}

// weeks are the settings' weeks that are stated of a group: up to the one at which
// change is judged all, later ones where enough persons were measured nearby.
func (m *maker) weeks(g group) []int {
	var weeks []int
	for _, week := range m.in.Rules.HorizonWeeks {
		if week <= m.in.Rules.ChangeWeek || m.measured(g, week) >= m.in.Rules.SupportPersons {
			weeks = append(weeks, week)
		}
	}
	return weeks
}

// measured counts the persons with a pair near a week.
func (m *maker) measured(g group, week int) int {
	var t tally
	for _, p := range g.pairs {
		if within(p.Day, week, m.in.Rules.SupportWeeks) {
			t.add(p.PersonKey, p.EpisodeKey)
		}
	}
	persons, _ := t.counts()
	return *persons
}

// count adds a count of episodes.
func (m *maker) count(g group, statistic string, t tally, source result.Source) {
	f := m.figure(g, statistic)
	f.Unit, f.Method = "episodes", "count"
	f.Persons, f.Episodes = t.counts()
	f.Value = number(float64(*f.Episodes))
	m.add(f, source)
}

func (m *maker) total(g group, whole, part string) {
	m.set.Totals = append(m.set.Totals, result.Total{Whole: result.ID(g.picture, whole, ""), Part: result.ID(g.picture, part, "")})
}

// beside adds what stands beside the model at a week: how many were measured
// nearby, and the plain mean of those.
func (m *maker) beside(g group) {
	for _, week := range m.weeks(g) {
		around := m.in.Rules.SupportWeeks
		var nearby []warehouse.SidePair
		var t tally
		for _, p := range g.pairs {
			if within(p.Day, week, around) {
				nearby = append(nearby, p)
				t.add(p.PersonKey, p.EpisodeKey)
			}
		}
		source := result.Source{Table: PairsTable, Predicate: m.pairsWhere(g) + fmt.Sprintf(" and day between %d and %d", 7*(week-around), 7*(week+around))}
		m.personsAt(g, "measured", week, t, source)
		m.plainMean(g, week, nearby, source)
	}
}

// returned adds, once for all measures of an injury type, how many of those with
// one side involved had returned by each week stated.
func (m *maker) returned(injury string, stated map[int]bool) {
	g := group{injury: injury, picture: result.PictureID("symmetry", injury, "", "", "", "", m.period.Label), episodes: m.episodes(injury)}
	g.hash = inputsHash(g)
	for _, week := range slices.Sorted(maps.Keys(stated)) {
		var t tally
		for _, e := range g.episodes {
			if !e.Bilateral && e.ReturnDay != nil && *e.ReturnDay <= 7*week && m.period.reaches(e.StartDate, *e.ReturnDay) {
				t.add(e.PersonKey, e.EpisodeKey)
			}
		}
		m.personsAt(g, "returned_already", week, t, result.Source{
			Table:     EpisodesTable,
			Predicate: m.episodesWhere(g) + fmt.Sprintf(" and not bilateral and return_day <= %d and return_day <= %s - start_date", 7*week, date(m.period.To)),
		})
	}
}

func (m *maker) personsAt(g group, statistic string, week int, t tally, source result.Source) {
	f := m.figure(g, statistic)
	f.X, f.XUnit, f.Unit, f.Method = number(float64(week)), "weeks", "persons", "count"
	f.Persons, f.Episodes = t.counts()
	f.Value = number(float64(*f.Persons))
	m.add(f, source)
}

// plainMean adds the mean over the episodes measured near a week, each by its
// visit nearest to it, of two the earlier; of an index the geometric mean.
func (m *maker) plainMean(g group, week int, nearby []warehouse.SidePair, source result.Source) {
	of := g.measure.compared()
	f := m.figure(g, "plain_mean")
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", of.unit
	var t tally
	var ys []float64
	missing := 0
	for i := 0; i < len(nearby); {
		best, next := i, i
		for ; next < len(nearby) && nearby[next].EpisodeKey == nearby[i].EpisodeKey; next++ {
			if abs(nearby[next].Day-7*week) < abs(nearby[best].Day-7*week) {
				best = next
			}
		}
		if y, ok := of.of(nearby[best]); ok {
			ys = append(ys, y)
			t.add(nearby[best].PersonKey, nearby[best].EpisodeKey)
		} else {
			missing++
		}
		i = next
	}
	f.Persons, f.Episodes = t.counts()
	f.Missing = count(missing)
	if *f.Persons < m.in.Rules.SupportPersons {
		withhold(&f, fewNear(week, m.in.Rules.SupportPersons, m.in.Rules.SupportWeeks))
	} else {
		f.Method = "mean of those measured, t interval"
		if of.log {
			f.Method = "geometric mean of those measured, t interval of logarithms"
		}
		mean, se := meanAndError(ys)
		half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(ys) - 1)}.Quantile((1+level)/2) * se
		f.Value, f.Low, f.High, f.Level = number(of.back(mean)), number(of.back(mean-half)), number(of.back(mean+half)), level
		if of.log {
			se *= *f.Value
		}
		f.StdError = number(se)
	}
	m.add(f, source)
}

// meanAndError returns the mean of two values or more and its standard error.
func meanAndError(ys []float64) (mean, se float64) {
	n := float64(len(ys))
	for _, y := range ys {
		mean += y / n
	}
	var squares float64
	for _, y := range ys {
		squares += (y - mean) * (y - mean)
	}
	return mean, math.Sqrt(squares / (n - 1) / n)
}

func abs(n int) int { return max(n, -n) }

// figure begins a figure of a group.
func (m *maker) figure(g group, statistic string) result.Figure {
	return result.Figure{
		Question: "symmetry", Measure: cmp.Or(g.kind, g.measure.code), InjuryType: g.injury,
		PeriodFrom: m.period.From, PeriodTo: m.period.To, Statistic: statistic,
		MethodVersion: methodVersion, Status: result.Final, AsOfBatch: m.in.Batch, InputsHash: g.hash,
	}
}

// add gives a figure its id and keeps it with its sources.
func (m *maker) add(f result.Figure, sources ...result.Source) {
	x := ""
	if f.X != nil {
		x = fmt.Sprintf("w%g", *f.X)
	}
	f.ID = result.ID(result.PictureID(f.Question, f.InjuryType, "", "", "", f.Measure, m.period.Label), f.Statistic, x)
	m.set.Figures = append(m.set.Figures, f)
	for _, s := range sources {
		s.FigureID = f.ID
		m.set.Sources = append(m.set.Sources, s)
	}
}

func withhold(f *result.Figure, reason string) {
	f.Status, f.Reason = result.Withheld, reason
}
