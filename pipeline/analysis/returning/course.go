package returning

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"
)

// lastWeek is the last week end of the plain curve, lateWeek the one shown
// beyond it where enough people are still watched.
const (
	lastWeek = 26
	lateWeek = 52
)

// fewEvents is the number of returns below which a figure carries a footnote.
const fewEvents = 10

// course adds what stands on the curve of a group.
func (m *maker) course(g group) error {
	c, err := m.curves(g, asRecorded)
	if err != nil {
		return err
	}
	for week := range lastWeek + 1 {
		m.point(c, week)
	}
	if c.watched(lateWeek) >= float64(m.in.Rules.AtRiskFloor) {
		m.point(c, lateWeek)
	}
	for _, week := range m.in.Rules.HorizonWeeks {
		m.share(c, "share", week)
	}
	if err := m.quantiles(c); err != nil {
		return err
	}
	if err := m.mean(c); err != nil {
		return err
	}
	for _, s := range m.sensitivities() {
		alt, err := m.curves(g, s.variant)
		if err != nil {
			return err
		}
		for _, week := range m.in.Rules.HorizonWeeks {
			m.share(alt, s.statistic, week)
		}
	}
	m.spacing(g)
	return nil
}

type sensitivity struct {
	statistic string
	variant   variant
}

func (m *maker) sensitivities() []sensitivity {
	return []sensitivity{
		{"share_if_lost_never", lostNever},
		{"share_if_lost_return", lostReturn},
		{fmt.Sprintf("share_hold_%d", m.in.Rules.HoldDaysShort), shortHold},
		{fmt.Sprintf("share_hold_%d", m.in.Rules.HoldDaysLong), longHold},
		{"share_goal_met_returned", goalMetBack},
	}
}

// curves are the share returned and the share ended otherwise, by day, of the
// episodes of a group that were at risk. All are nil when there were none;
// other is nil when nothing competed.
type curves struct {
	group     group
	outcomes  []outcome
	episodes  int
	persons   int
	returned  *survival.Curve
	other     *survival.Curve
	free      *survival.Curve // the share neither returned nor ended
	withholds string          // why nothing can be estimated
}

// curves estimates by Aalen-Johansen, and by Kaplan-Meier where nothing
// competes, which is the same with one cause; intervals are log-log at 95 %,
// the variance is by person where any person has two episodes.
func (m *maker) curves(g group, v variant) (curves, error) {
	c := curves{group: g, outcomes: g.outcomes}
	if v != asRecorded {
		c.outcomes = m.judge(g.rows, v)
	}
	var data survival.Data
	competing := 1
	for i, o := range c.outcomes {
		if !o.atRisk() {
			continue
		}
		event := 0
		if o.state == returned {
			event = 1
		}
		if o.state == ended {
			event, competing = 2, 2
		}
		data.Time = append(data.Time, float64(o.day))
		data.Event = append(data.Event, event)
		data.Person = append(data.Person, g.rows[i].PersonKey)
	}
	c.episodes = len(data.Time)
	c.persons, _ = g.persons(func(i int) bool { return c.outcomes[i].atRisk() })
	if c.episodes == 0 {
		c.withholds = "Nobody was at risk: all who began were at their target or could not be used."
		return c, nil
	}
	all, err := survival.AalenJohansen(data, competing, survival.Options{})
	if err != nil {
		return c, err
	}
	c.free, c.returned = all[0], all[1]
	if competing == 2 {
		c.other = all[2]
	}
	return c, nil
}

func weekEnd(week int) float64 { return float64(7 * week) }

// watched is the number at risk at a week's end.
func (c curves) watched(week int) float64 {
	if c.returned == nil {
		return 0
	}
	return c.returned.AtRisk(weekEnd(week))
}

// point adds a week end of the two curves and the number at risk there.
func (m *maker) point(c curves, week int) {
	m.curvePoint(c, "cumulative", c.returned, week)
	m.curvePoint(c, "competing", c.other, week)
	f := m.weekFigure(c, "at_risk", week)
	f.Unit, f.Method = "episodes", "count"
	f.Value = number(c.watched(week))
	m.addWeek(c, f)
}

// curvePoint adds a point of a curve; a nil curve is one on which nothing
// happened. Its band is as wide as its value where no limits can be computed.
func (m *maker) curvePoint(c curves, statistic string, curve *survival.Curve, week int) {
	f := m.weekFigure(c, statistic, week)
	switch {
	case c.withholds != "":
		withhold(&f, c.withholds)
	case c.beyond(week):
		withhold(&f, beyondReason(week))
	case curve == nil:
		f.Value, f.Events, f.Method = number(0), count(0), c.returned.Method
	default:
		e := curve.At(weekEnd(week))
		estimate(&f, e)
		f.Warnings = nil // the page says once what holds for the whole curve
	}
	if statistic == "cumulative" {
		m.provisionalBy(&f, c, week)
	}
	m.addWeek(c, f)
}

// share adds the share returned by the end of a week (decision: return figures
// withheld).
func (m *maker) share(c curves, statistic string, week int) {
	f := m.weekFigure(c, statistic, week)
	switch {
	case c.withholds != "":
		withhold(&f, c.withholds)
	case c.beyond(week):
		withhold(&f, beyondReason(week))
	default:
		e := c.returned.At(weekEnd(week))
		estimate(&f, e)
		if e.Low == e.High {
			f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
		}
		if e.Events < fewEvents {
			f.Warnings = append(f.Warnings, fmt.Sprintf("Rests on fewer than %d returns.", fewEvents))
		}
		if c.watched(week) < float64(m.in.Rules.AtRiskFloor) {
			f.Warnings = append(f.Warnings, fmt.Sprintf("Fewer than %d people were still at risk at week %d.", m.in.Rules.AtRiskFloor, week))
		}
	}
	m.provisionalBy(&f, c, week)
	m.addWeek(c, f)
}

// beyond says that nobody was watched to the end of the week while somebody
// could still have returned: the curve says nothing there.
func (c curves) beyond(week int) bool {
	return slices.ContainsFunc(c.returned.At(weekEnd(week)).Warnings, beyondFollowUp)
}

func beyondFollowUp(w stats.Warning) bool { return w.Code == "beyond-follow-up" }

func emptiedRiskSet(w stats.Warning) bool { return w.Code == "emptied-risk-set" }

func beyondReason(week int) string {
	return fmt.Sprintf("Nobody has been watched to week %d yet.", week)
}

// quantiles adds the weeks by which a quarter, half and three quarters of all
// at risk were back.
func (m *maker) quantiles(c curves) error {
	for _, q := range []struct {
		statistic string
		p         float64
	}{{"lower_quartile_weeks", 0.25}, {"median_weeks", 0.5}, {"upper_quartile_weeks", 0.75}} {
		f := m.courseFigure(c, q.statistic)
		f.Unit = "weeks"
		if c.withholds != "" {
			withhold(&f, c.withholds)
			m.add(f, "", EpisodesTable, and(c.group.where, atRiskRows))
			continue
		}
		at, err := c.returned.Quantile(q.p)
		if err != nil {
			return err
		}
		setQuantile(&f, at, "back")
		m.provisionalBy(&f, c, -1)
		m.add(f, "", EpisodesTable, and(c.group.where, atRiskRows))
	}
	return nil
}

// setQuantile fills in the weeks by which a share of people had the event of the
// curve; where the curve does not reach it, the reason says how many there were.
func setQuantile(f *result.Figure, at survival.Quantile, event string) {
	f.Method, f.Events, f.Level = at.Method, count(at.Events), at.Level
	f.Warnings = texts(at.Warnings)
	if at.LowReached {
		f.Low = number(at.Low / 7)
	}
	if at.HighReached {
		f.High = number(at.High / 7)
	}
	if at.Reached {
		f.Value = number(at.Value / 7)
	} else {
		withhold(f, fmt.Sprintf("Not reached: by the end of follow-up %.0f %% were %s.", 100*at.Share, event))
	}
}

// mean adds the mean weeks not yet back, up to the longest of the settings'
// horizons at which enough persons are at risk.
func (m *maker) mean(c curves) error {
	weeks := m.in.Rules.MeanWeeks
	at := slices.IndexFunc(weeks, func(week int) bool { return c.watched(week) >= float64(m.in.Rules.AtRiskFloor) })
	if at < 0 {
		at = len(weeks) - 1
		f := m.weekFigure(c, "mean_weeks", weeks[at])
		f.Unit = "weeks"
		withhold(&f, fmt.Sprintf("Fewer than %d people were at risk at week %d.", m.in.Rules.AtRiskFloor, weeks[at]))
		m.addWeek(c, f)
		return nil
	}
	e, err := c.returned.MeanWithout(weekEnd(weeks[at]))
	if err != nil {
		return err
	}
	f := m.weekFigure(c, "mean_weeks", weeks[at])
	for _, days := range []*float64{&e.Value, &e.Low, &e.High, &e.SE} {
		*days /= 7
	}
	estimate(&f, e)
	f.Unit = "weeks"
	m.provisionalBy(&f, c, weeks[at])
	m.addWeek(c, f)
	return nil
}

// provisionalBy marks a figure in which a provisional return by the end of the
// week counts; a week below 0 stands for the whole follow-up.
func (m *maker) provisionalBy(f *result.Figure, c curves, week int) {
	if f.Status == result.Withheld {
		return
	}
	m.markProvisional(f, c.group, func(i int) bool {
		return week < 0 || float64(c.group.outcomes[i].day) <= weekEnd(week)
	})
}

func (m *maker) courseFigure(c curves, statistic string) result.Figure {
	f := m.figure(c.group, statistic)
	_, left := c.group.persons(func(i int) bool { return c.group.outcomes[i].state == unusable })
	f.Persons, f.Episodes, f.Missing = count(c.persons), count(c.episodes), count(left)
	return f
}

func (m *maker) weekFigure(c curves, statistic string, week int) result.Figure {
	f := m.courseFigure(c, statistic)
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", "share"
	return f
}

func (m *maker) addWeek(c curves, f result.Figure) {
	m.add(f, fmt.Sprintf("w%g", *f.X), EpisodesTable, and(c.group.where, atRiskRows))
}

func estimate(f *result.Figure, e stats.Estimate) {
	f.Value, f.Low, f.High, f.StdError = number(e.Value), number(e.Low), number(e.High), number(e.SE)
	f.Level, f.Method = e.Level, e.Method
	f.Events = count(e.Events)
	f.Warnings = texts(e.Warnings)
}

func withhold(f *result.Figure, reason string) {
	f.Status, f.Reason = result.Withheld, reason
}

func texts(warnings []stats.Warning) []string {
	var out []string
	for _, w := range warnings {
		out = append(out, w.Text)
	}
	return out
}

func count(n int) *int { return &n }
