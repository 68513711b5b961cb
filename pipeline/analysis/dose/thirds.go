package dose

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"
)

// caution stands beside every figure that sets a response against a dose.
const caution = "Counting from the landmark takes away that whoever returns early has less time to do work. It does not take away that whoever improves early is loaded more."

// severities in order of stratum.
var severities = []string{"mild", "moderate", "severe"}

// thirds adds the share returned by the horizon in each third of dose, and the
// contrast of the upper less the lower.
func (m *maker) thirds(ctx context.Context, g group) error {
	some := g.pick(row.some)
	c := m.comparison(some)
	once := slices.Repeat([]int{1}, len(some))
	curves := make([]*survival.Curve, thirdCount)
	if len(some) > 0 {
		var err error
		if curves, err = c.curves(some, once); err != nil {
			return err
		}
	}
	c.until(m.horizon(curves))
	refusal := m.refuse(g, some, c)
	if refusal == "" {
		if _, _, _, err := c.contrasts(once); err != nil {
			refusal = "In no severity are there people both in the lower and in the upper third of dose."
		}
	}
	if refusal == "" {
		for _, curve := range curves {
			switch {
			case curve == nil:
				refusal = "Too many did the same amount: a third of dose is empty."
			case beyond(curve, c.horizon):
				refusal = fmt.Sprintf("In a third of dose nobody has been watched to week %d yet.", c.week)
			}
		}
	}
	for third, statistic := range []string{low: "returned_low_third", middle: "returned_middle_third", high: "returned_high_third"} {
		f := m.response(g, statistic, some, c)
		if refusal != "" {
			withhold(&f, refusal)
		} else {
			m.share(&f, curves[third], c.horizon)
			f.Episodes = count(c.size(third, once))
			m.markProvisional(&f, some, c)
		}
		m.add(g, f, m.someRows()+c.thirdRows(third, once, refusal))
	}
	return m.contrasts(ctx, g, some, c, refusal)
}

// horizon is the longest week by which something is known of every third: that
// of the rules, else a shorter one of the settings; that of the rules where there
// is none (decision: horizon of dose).
func (m *maker) horizon(curves []*survival.Curve) int {
	weeks := []int{m.in.Rules.HorizonWeek}
	for _, week := range slices.Backward(m.in.HorizonWeeks) {
		if week < m.in.Rules.HorizonWeek {
			weeks = append(weeks, week)
		}
	}
	known := slices.IndexFunc(weeks, func(week int) bool {
		return !slices.ContainsFunc(curves, func(curve *survival.Curve) bool { return curve == nil || beyond(curve, 7*week) })
	})
	return weeks[max(known, 0)]
}

// until sets the week by whose end a return counts.
func (c *comparison) until(week int) { c.week, c.horizon = week, 7*week }

// response begins a figure of the response by the horizon.
func (m *maker) response(g group, statistic string, rows []row, c *comparison) result.Figure {
	f := m.figure(g, statistic)
	f.X, f.XUnit, f.Unit = number(float64(c.week)), "weeks", "share"
	f.Persons, f.Episodes, f.Missing = count(persons(rows)), count(len(rows)), count(len(g.pick(func(r row) bool { return !r.gone() && r.Sets == nil })))
	f.Warnings = []string{caution}
	return f
}

func (m *maker) comparison(rows []row) *comparison {
	c := &comparison{strata: len(severities)}
	c.until(m.in.Rules.HorizonWeek)
	for _, r := range rows {
		event := 0
		switch r.standing.State {
		case "returned":
			event = 1
		case "ended_otherwise":
			event = 2
		}
		c.dose = append(c.dose, *r.Sets) // one landmark for all: per week they stand in the same order
		c.day = append(c.day, r.standing.Day)
		c.event = append(c.event, event)
		c.stratum = append(c.stratum, slices.Index(severities, r.Severity))
	}
	c.sort()
	return c
}

// mostGone says that so many of an injury type return before the landmark that
// what comes after it is about the few who did not. Those whose watching had
// not reached the landmark yet are neither.
func (m *maker) mostGone(g group) string {
	var back, all int
	for _, r := range g.rows {
		switch state := r.standing.State; {
		case state == "at_target", state == "no_usable", r.gone() && state == "in_care":
			continue
		case r.gone() && state == "returned":
			back++
		}
		all++
	}
	if 100*back <= m.in.Rules.GonePercent*all {
		return ""
	}
	return fmt.Sprintf("More than %d %% returned before the landmark: what follows it is about the few who had not.", m.in.Rules.GonePercent)
}

// refuse returns why doses are not compared; empty when they are (decision:
// doses not compared).
func (m *maker) refuse(g group, some []row, c *comparison) string {
	if gone := m.mostGone(g); gone != "" {
		return gone
	}
	if persons(some) < m.in.Rules.LeastPersons {
		return fmt.Sprintf("Fewer than %d people with some work with the cuff could be followed from the landmark.", m.in.Rules.LeastPersons)
	}
	if c.returns() < m.in.Rules.LeastReturns {
		return fmt.Sprintf("Fewer than %d of those with some work with the cuff returned after the landmark by week %d.", m.in.Rules.LeastReturns, c.week)
	}
	once := slices.Repeat([]int{1}, len(some))
	if quantile(c.dose, c.byDose, once, 0.25) == quantile(c.dose, c.byDose, once, 0.75) {
		return "The dose hardly varies: its lower and its upper quartile are equal."
	}
	return ""
}

// returns counts the returns by the horizon.
func (c *comparison) returns() int {
	n := 0
	for i, event := range c.event {
		if event == 1 && c.day[i] <= c.horizon {
			n++
		}
	}
	return n
}

// curves are the shares returned in each third of dose; nil for an empty one.
func (c *comparison) curves(rows []row, weight []int) ([]*survival.Curve, error) {
	thirds := c.third(weight)
	curves := make([]*survival.Curve, thirdCount)
	for third := range curves {
		var data survival.Data
		causes := 1
		for i, r := range rows {
			if thirds[i] != third {
				continue
			}
			data.Time = append(data.Time, float64(c.day[i]))
			data.Event = append(data.Event, c.event[i])
			data.Person = append(data.Person, r.PersonKey)
			causes = max(causes, c.event[i])
		}
		if len(data.Time) == 0 {
			continue
		}
		all, err := survival.AalenJohansen(data, causes, survival.Options{Level: level})
		if err != nil {
			return nil, err
		}
		curves[third] = all[1]
	}
	return curves, nil
}

// size counts the rows of a third.
func (c *comparison) size(third int, weight []int) int {
	n := 0
	for i, t := range c.third(weight) {
		if t == third {
			n += weight[i]
		}
	}
	return n
}

// thirdRows picks out a third of dose; all rows where doses are not compared.
func (c *comparison) thirdRows(third int, weight []int, refusal string) string {
	if refusal != "" {
		return ""
	}
	bounds := [...]string{low: "sets <= %[1]v::double", middle: "sets > %[1]v::double and sets <= %[2]v::double", high: "sets > %[2]v::double"}
	from, to := c.bounds(weight)
	return fmt.Sprintf(" and "+bounds[third], from, to)
}

func beyond(curve *survival.Curve, day int) bool {
	return slices.ContainsFunc(curve.At(float64(day)).Warnings, func(w stats.Warning) bool { return w.Code == "beyond-follow-up" })
}

// share fills in the share returned in one third.
func (m *maker) share(f *result.Figure, curve *survival.Curve, day int) {
	e := curve.At(float64(day))
	f.Value, f.Events, f.Persons, f.Method = number(e.Value), count(e.Events), count(e.N), e.Method
	if e.Low < e.High {
		f.Low, f.High, f.StdError, f.Level = number(e.Low), number(e.High), number(e.SE), e.Level
	}
	for _, w := range e.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
}

// contrasts adds the upper third less the lower, raw and standardised.
func (m *maker) contrasts(ctx context.Context, g group, some []row, c *comparison, refusal string) error {
	figures := m.contrastFigures(g, some, c)
	if refusal == "" {
		err := m.drawContrasts(ctx, g, some, c, figures)
		switch {
		case errors.Is(err, stats.ErrNotConverged):
			figures = m.contrastFigures(g, some, c)
			refusal = "So few people in the lower and the upper third of dose are of one severity that most samples of these people would hold none."
		case err != nil:
			return err
		}
	}
	if refusal != "" {
		withholdAll(figures, refusal)
	}
	m.add(g, figures[0], m.someRows())
	m.add(g, figures[1], m.someRows()+" and severity in ('mild', 'moderate', 'severe')")
	return nil
}

// contrastFigures begins the raw and the standardised contrast.
func (m *maker) contrastFigures(g group, some []row, c *comparison) []result.Figure {
	figures := []result.Figure{m.response(g, "thirds_contrast_raw", some, c), m.response(g, "thirds_contrast_standardised", some, c)}
	known := g.pick(func(r row) bool { return r.some() && slices.Contains(severities, r.Severity) })
	figures[1].Persons, figures[1].Episodes = count(persons(known)), count(len(known))
	*figures[1].Missing += len(some) - len(known)
	return figures
}

func (m *maker) drawContrasts(ctx context.Context, g group, some []row, c *comparison, figures []result.Figure) error {
	err := m.bootstrap(ctx, g.picture+"/thirds_contrast", some, figures, func(weight []int) ([]float64, error) {
		raw, standardised, _, err := c.contrasts(weight)
		return []float64{raw, standardised}, err
	})
	if err != nil {
		return err
	}
	_, _, leftOut, err := c.contrasts(slices.Repeat([]int{1}, len(some)))
	if err != nil {
		return err
	}
	if leftOut > 0 {
		figures[1].Warnings = append(figures[1].Warnings, "A severity that stands in one of the two thirds alone is left out.")
	}
	for i, how := range []string{"upper less lower third of dose, ", "upper less lower third of dose, mean over severities, "} {
		figures[i].Events = count(c.returns())
		figures[i].Method = how + figures[i].Method
		m.markProvisional(&figures[i], some, c)
	}
	return nil
}

// markProvisional marks a figure in which a return by the horizon counts that
// is too young for its hold to have been watched in full.
func (m *maker) markProvisional(f *result.Figure, rows []row, c *comparison) {
	for _, r := range rows {
		if r.standing.State == "returned" && r.Provisional && r.standing.Day <= c.horizon {
			f.Status = result.Provisional
			f.Warnings = append(f.Warnings, "Some returns are too recent to know whether they hold; they count, and may still drop out.")
			return
		}
	}
}
