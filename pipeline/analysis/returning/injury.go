package returning

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival"
)

// injuryWeeks are the weeks after the injury at which the share back is told;
// between them it is told every second week, to the last of them.
var injuryWeeks = []int{6, 12, 26, 52}

// injury adds the share back on the injury clock: zero at the operation before
// care, else at the onset. People come under watch when care begins, which is
// late on that clock; those who were back before then are not among them. It is
// told from the first week at whose end enough are at risk.
func (m *maker) injury(c curves) error {
	if m.in.Details == nil || c.withholds != "" {
		return nil
	}
	f, data := m.injuryData(c)
	if *f.Persons < max(m.in.StageFloor, 1) {
		return nil
	}
	causes := max(slices.Max(data.Event), 1)
	all, err := survival.AalenJohansen(data, causes, survival.Options{})
	if err != nil {
		return err
	}
	back := all[1]
	emptied := slices.ContainsFunc(back.Warnings, emptiedRiskSet)
	first := slices.IndexFunc(weeksTo(injuryWeeks[len(injuryWeeks)-1]), func(week int) bool {
		return back.AtRisk(weekEnd(week)) >= float64(m.in.Rules.AtRiskFloor)
	})
	for week := max(first, 0); first >= 0 && week <= injuryWeeks[len(injuryWeeks)-1]; week++ {
		if week%everyWeeks > 0 {
			continue
		}
		e := back.At(weekEnd(week))
		if slices.ContainsFunc(e.Warnings, beyondFollowUp) {
			break
		}
		f := f
		f.Statistic, f.X, f.XUnit, f.Unit = "since_injury", number(float64(week)), "weeks", "share"
		estimate(&f, e)
		f.Warnings = nil
		if e.Low == e.High {
			f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
		}
		if emptied {
			f.Value, f.Low, f.High, f.StdError, f.Level = nil, nil, nil, nil, 0
			withhold(&f, "Early on everybody under watch was back while others had yet to come: the share cannot be told on this clock.")
		}
		m.addInjury(c, f, fmt.Sprintf("w%d", week))
		if slices.Contains(injuryWeeks, week) {
			f := f
			f.Statistic, f.Unit, f.Method, f.Status, f.Reason = "since_injury_at_risk", "episodes", "count", result.Final, ""
			f.Value, f.Low, f.High, f.StdError, f.Level, f.Events = number(back.AtRisk(weekEnd(week))), nil, nil, nil, 0, nil
			m.addInjury(c, f, fmt.Sprintf("w%d", week))
		}
	}
	f.Statistic, f.Unit = "since_injury_median_weeks", "weeks"
	at, err := back.Quantile(0.5)
	if err != nil {
		return err
	}
	if emptied {
		withhold(&f, "Early on everybody under watch was back while others had yet to come: the week cannot be told on this clock.")
	} else {
		setQuantile(&f, at, "back")
	}
	m.addInjury(c, f, "")
	return nil
}

// injuryData are the episodes at risk whose injury or operation has a date, and
// the figure that all of theirs begin with.
func (m *maker) injuryData(c curves) (result.Figure, survival.Data) {
	details := m.detailsOf(c.group)
	clock := map[int]int{}
	for _, d := range details {
		if d.ClockDay != nil {
			clock[d.EpisodeKey] = *d.ClockDay
		}
	}
	var data survival.Data
	var persons []int
	unknown, episodes := 0, 0
	for i, o := range c.outcomes {
		if !o.atRisk() {
			continue
		}
		e := c.group.rows[i]
		since, known := clock[e.EpisodeKey]
		if !known {
			unknown++
			continue
		}
		event := 0
		if o.state == returned {
			event = 1
		}
		if o.state == ended {
			event = 2
		}
		persons, episodes = append(persons, e.PersonKey), episodes+1
		data.Time, data.Entry = append(data.Time, float64(since+o.day)), append(data.Entry, float64(since)-0.5) // the first day of care is watched too
		data.Event, data.Person = append(data.Event, event), append(data.Person, e.PersonKey)
	}
	f := m.figure(c.group, "since_injury")
	f.Measure, f.InputsHash = "recorded return since the injury", joined(c.group.hash, detailsHash(details))
	f.Persons, f.Episodes, f.Missing = count(distinct(persons)), count(episodes), count(unknown)
	return f, data
}

func (m *maker) addInjury(c curves, f result.Figure, x string) {
	m.add(f, x, EpisodesTable, and(c.group.where, atRiskRows))
	m.alsoFrom(DetailsTable, and(c.group.where, "clock_day is not null"))
}

func weeksTo(last int) []int {
	weeks := make([]int, last+1)
	for i := range weeks {
		weeks[i] = i
	}
	return weeks
}
