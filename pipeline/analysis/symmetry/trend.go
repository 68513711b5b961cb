package symmetry

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/mixed"
	"evenlimb/pipeline/stats/spline"
)

// level of the intervals.
const level = 0.95

// step is the distance in weeks between the points of a curve.
const step = 2

// trend is the typical course of an outcome over the weeks of care.
type trend struct {
	group    group
	outcome  outcome
	rows     []row
	first    int // the weeks between which it is supported
	last     int
	persons  *int
	episodes *int
	missing  *int // episodes with pairs that a needed value kept out
	where    string
	mixWhere string

	model     *mixed.Model
	basis     *spline.Natural
	mix       mix
	warnings  []string
	withholds string // why there is no model
}

// row is a pair that enters a model.
type row struct {
	person, episode int
	site, severity  string
	week, y         float64
	day             int
}

// trends adds the figures that models give.
func (m *maker) trends(g group) error {
	compared, err := m.trend(g, g.measure.compared())
	if err != nil {
		return err
	}
	typical, curve := "girth_difference", "girth_curve"
	switch {
	case g.measure.ratio:
		typical, curve = "typical_index", "index_curve"
	case g.measure.zero:
		typical, curve = "baseline_difference", "difference_curve"
	}
	for _, week := range m.weeks(g) {
		m.at(compared, typical, week)
	}
	m.curve(compared, curve)
	m.spread(compared)
	for _, limb := range []struct {
		statistic string
		of        outcome
	}{{"involved_curve", g.measure.involved()}, {"uninvolved_curve", g.measure.uninvolved()}} {
		t, err := m.trend(g, limb.of)
		if err != nil {
			return err
		}
		m.curve(t, limb.statistic)
	}
	if g.measure.zero {
		return m.atZero(g)
	}
	beside, of := "baseline_index", g.measure.againstBaseline()
	if !g.measure.ratio {
		beside, of = "girth_percent", g.measure.inPercent()
	}
	t, err := m.trend(g, of)
	if err != nil {
		return err
	}
	for _, week := range m.weeks(g) {
		m.at(t, beside, week)
	}
	return nil
}

// trend fits the course of an outcome: a linear mixed model with a natural
// cubic spline of weeks, severity and site fixed, intercept and slope random by
// episode, and an intercept by person where a fifth of them have two episodes.
func (m *maker) trend(g group, of outcome) (*trend, error) {
	t := &trend{group: g, outcome: of}
	var all, used tally
	var rows []row
	for _, p := range g.pairs {
		all.add(p.PersonKey, p.EpisodeKey)
		y, ok := of.of(p)
		if !ok || p.Severity == "" {
			continue
		}
		rows = append(rows, row{p.PersonKey, p.EpisodeKey, p.Site, p.Severity, float64(p.Day) / 7, y, p.Day})
	}
	found := t.support(rows, m.in.Rules.LastWeek, m.in.Rules.SupportWeeks, m.in.Rules.SupportPersons)
	until := 7 * (t.last + m.in.Rules.SupportWeeks)
	for _, r := range rows {
		if !found || r.day <= until {
			t.rows = append(t.rows, r)
			used.add(r.person, r.episode)
		}
	}
	t.persons, t.episodes = used.counts()
	_, episodes := all.counts()
	t.missing = count(*episodes - *t.episodes)
	t.where = m.pairsWhere(g) + " and severity is not null"
	if of.rows != "" {
		t.where += " and " + of.rows
	}
	if !found {
		t.withholds = fmt.Sprintf("Too few for a course: %d persons must be measured within %d weeks of each week of it.", m.in.Rules.SupportPersons, m.in.Rules.SupportWeeks)
		return t, nil
	}
	t.where += fmt.Sprintf(" and day <= %d", until)
	return t, t.fit(m)
}

// support finds the weeks from the first to the last at which enough persons
// were measured nearby, with no week between that lacks them.
func (t *trend) support(rows []row, lastWeek, around, floor int) bool {
	t.first = -1
	for week := 0; week <= lastWeek; week += step {
		enough := near(rows, week, around) >= floor
		switch {
		case enough && t.first < 0:
			t.first, t.last = week, week
		case enough:
			t.last = week
		case t.first >= 0:
			return t.last > t.first
		}
	}
	return t.first >= 0 && t.last > t.first
}

// near counts the persons measured within some weeks of a week.
func near(rows []row, week, around int) int {
	var persons []int
	for _, r := range rows {
		if within(r.day, week, around) {
			persons = append(persons, r.person)
		}
	}
	return distinct(persons)
}

func within(day, week, around int) bool { return day >= 7*(week-around) && day <= 7*(week+around) }

// fit estimates the model; what the data cannot give becomes a reason.
func (t *trend) fit(m *maker) error {
	var knots []float64
	for _, k := range m.in.Rules.KnotWeeks {
		if k > t.first && k < t.last {
			knots = append(knots, float64(k))
		}
	}
	var err error
	if t.basis, err = spline.NewNatural(knots, float64(t.first), float64(t.last), false); err != nil {
		return err
	}
	sites, severities := levels(t.rows, func(r row) string { return r.site }), levels(t.rows, func(r row) string { return r.severity })
	t.mixWhere = m.episodesWhere(t.group) + " and not bilateral and site in " + literals(sites) + " and severity in " + literals(severities)
	data, err := t.data(sites, severities)
	if err != nil {
		return err
	}
	t.mix = newMix(t.group.episodes, sites, severities)
	t.model, err = mixed.Fit(data, mixed.Options{})
	if errors.Is(err, stats.ErrTooFew) {
		data.Group.Slope = nil
		t.model, err = mixed.Fit(data, mixed.Options{})
		t.warnings = append(t.warnings, "Too few repeated visits to let persons differ in slope; they differ in level alone.")
	}
	switch {
	case err == nil:
		for _, w := range t.model.Warnings {
			t.warnings = append(t.warnings, w.Text)
		}
		return nil
	case errors.Is(err, stats.ErrTooFew), errors.Is(err, stats.ErrNoVariation), errors.Is(err, stats.ErrOneGroup):
		t.withholds = "Too few persons were measured more than once to tell a course."
		return nil
	case errors.Is(err, stats.ErrCollinear):
		t.withholds = "Sites and severity cannot be told apart among those measured."
		return nil
	case errors.Is(err, stats.ErrNotConverged):
		t.withholds = "The model of the course did not converge."
		return nil
	default:
		return err
	}
}

// data lays out the rows: constant, a column for each site and severity but the
// first, the spline.
func (t *trend) data(sites, severities []string) (mixed.Data, error) {
	n := len(t.rows)
	data := mixed.Data{Y: make([]float64, n), Group: mixed.Random{Group: make([]int, n), Slope: make([]float64, n)}}
	data.Columns = make([][]float64, len(sites)+len(severities)-1)
	for j := range data.Columns {
		data.Columns[j] = make([]float64, n)
	}
	persons := make([]int, n)
	for i, r := range t.rows {
		data.Y[i], data.Group.Group[i], data.Group.Slope[i], persons[i] = r.y, r.episode, r.week, r.person
		for j, x := range covariates(sites, severities, r.site, r.severity) {
			data.Columns[j][i] = x
		}
	}
	data.Names = append(append([]string{"constant"}, sites[1:]...), severities[1:]...)
	curve, err := t.basis.Design(data.Group.Slope)
	if err != nil {
		return data, err
	}
	for j := range curve {
		data.Names = append(data.Names, fmt.Sprintf("curve %d", j+1))
	}
	data.Columns = append(data.Columns, curve...)
	if 5*(*t.episodes-*t.persons) >= *t.persons {
		data.Above = &mixed.Random{Group: persons}
	}
	return data, nil
}

func levels(rows []row, of func(r row) string) []string {
	var list []string
	for _, r := range rows {
		if at, found := slices.BinarySearch(list, of(r)); !found {
			list = slices.Insert(list, at, of(r))
		}
	}
	return list
}

// covariates is one row of the design without the spline.
func covariates(sites, severities []string, site, severity string) []float64 {
	x := make([]float64, len(sites)+len(severities)-1)
	x[0] = 1
	if i := slices.Index(sites, site); i > 0 {
		x[i] = 1
	}
	if i := slices.Index(severities, severity); i > 0 {
		x[len(sites)-1+i] = 1
	}
	return x
}

// at adds the typical value at a week; a late one only where there is a value.
func (m *maker) at(t *trend, statistic string, week int) {
	f := m.trendFigure(t, statistic, week)
	rules := m.in.Rules
	withheld := t.withholds
	if withheld == "" && (week < t.first || week > t.last || near(t.rows, week, rules.SupportWeeks) < rules.SupportPersons) {
		withheld = fewNear(week, rules.SupportPersons, rules.SupportWeeks)
	}
	switch {
	case withheld == "":
		m.estimate(t, &f, week)
		f.Warnings = t.warnings
	case week > rules.ChangeWeek:
		return
	default:
		withhold(&f, withheld)
	}
	m.addTrend(t, f)
}

func fewNear(week, persons, around int) string {
	return fmt.Sprintf("Fewer than %d persons were measured within %d weeks of week %d.", persons, around, week)
}

// curve adds the typical values of the supported weeks; without any, its start.
func (m *maker) curve(t *trend, statistic string) {
	if t.withholds != "" {
		f := m.trendFigure(t, statistic, 0)
		withhold(&f, t.withholds)
		m.addTrend(t, f)
		return
	}
	for week := t.first; week <= t.last; week += step {
		f := m.trendFigure(t, statistic, week)
		m.estimate(t, &f, week)
		m.addTrend(t, f)
	}
}

// estimate fills in the typical value at a week with its interval: for persons
// such as those who began, so that their mix is a sample too (decision: the mix
// of those who began).
func (m *maker) estimate(t *trend, f *result.Figure, week int) {
	curve, err := t.basis.Row(float64(week))
	if err != nil {
		withhold(f, "The model of the course has no value here.")
		return
	}
	e, err := t.model.Combine(append(slices.Clone(t.mix.mean), curve...), level)
	if err != nil {
		withhold(f, "The model of the course has no value here.")
		return
	}
	variance, df := t.mix.variance(t.model.Coef)
	e = widen(e, variance, df)
	value, low, high, se := t.outcome.back(e.Value), t.outcome.back(e.Low), t.outcome.back(e.High), e.SE
	if t.outcome.log {
		se *= value
	}
	for _, x := range []float64{value, low, high, se} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			withhold(f, "Too uncertain to be stated.")
			return
		}
	}
	f.Value, f.Low, f.High, f.StdError, f.Level = number(value), number(low), number(high), number(se), level
	f.Method = e.Method + ", mix by persons"
	if t.model.AboveN > 0 {
		f.Method += ", persons and episodes"
	}
	if t.outcome.log {
		f.Method += ", of logarithms"
	}
}

func (m *maker) trendFigure(t *trend, statistic string, week int) result.Figure {
	f := m.figure(t.group, statistic)
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", t.outcome.unit
	f.Persons, f.Episodes, f.Missing = t.persons, t.episodes, t.missing
	return f
}

// addTrend keeps a figure with the pairs of its model and the episodes whose
// mix it is averaged over.
func (m *maker) addTrend(t *trend, f result.Figure) {
	sources := []result.Source{{Table: PairsTable, Predicate: t.where}}
	if t.mixWhere != "" {
		sources = append(sources, result.Source{Table: EpisodesTable, Predicate: t.mixWhere})
	}
	m.add(f, sources...)
}
