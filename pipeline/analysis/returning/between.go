package returning

import (
	"math"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival/interval"
	"evenlimb/pipeline/warehouse"
)

// DetailsTable is the table of what stands beside the returns.
const DetailsTable = "published.return_details"

// between adds, beside the curve of recorded returns, the share back when all
// that counts is between which days a return came: after the last day known
// without it and by the day of its record. Turnbull's estimate assumes nothing
// and has no band; Weibull's assumes a smooth course.
//
// Whoever is still in care is known not to be back up to the last contact; whoever
// had a competing end does not return, and stands as not back up to the last day
// that could have been watched.
func (m *maker) between(c curves) {
	if m.in.Details == nil || c.withholds != "" {
		return
	}
	data, details := m.betweenData(c)
	hash := joined(c.group.hash, detailsHash(details))
	free, err := interval.Turnbull(data)
	if err != nil {
		free = nil
	}
	smooth, err := interval.Weibull(data, nil, interval.Options{})
	if err != nil {
		smooth = nil
	}
	for _, week := range m.in.Rules.HorizonWeeks {
		f := m.betweenFigure(c, "share_between_contacts", week, hash)
		switch {
		case c.beyond(week):
			withhold(&f, beyondReason(week))
		case free == nil:
			withhold(&f, "No return on record.")
		default:
			f.Value, f.Method, f.Events = number(free.Even(weekEnd(week))), free.Method+", mass between two days spread evenly", count(free.Events)
			f.Warnings = texts(free.Warnings)
		}
		m.addBetween(c, f)

		f = m.betweenFigure(c, "share_weibull", week, hash)
		switch {
		case c.beyond(week):
			withhold(&f, beyondReason(week))
		case smooth == nil:
			withhold(&f, "A smooth course cannot be fitted to these returns.")
		default:
			if e, err := smooth.Share(nil, weekEnd(week)); err == nil {
				estimate(&f, e)
			} else {
				withhold(&f, "A smooth course cannot be fitted to these returns.")
			}
		}
		m.addBetween(c, f)
	}
}

func (m *maker) betweenFigure(c curves, statistic string, week int, hash string) result.Figure {
	f := m.weekFigure(c, statistic, week)
	f.InputsHash = hash
	return f
}

func (m *maker) addBetween(c curves, f result.Figure) {
	m.provisionalBy(&f, c, int(*f.X))
	m.addWeek(c, f)
	m.alsoFrom(DetailsTable, c.group.where)
}

// betweenData says of each episode at risk after which day and by which it came
// back.
func (m *maker) betweenData(c curves) (interval.Data, []warehouse.ReturnDetail) {
	var data interval.Data
	details := m.detailsOf(c.group)
	at := 0
	for i, o := range c.outcomes {
		e := c.group.rows[i]
		for at < len(details) && details[at].EpisodeKey < e.EpisodeKey {
			at++
		}
		if !o.atRisk() {
			continue
		}
		lower, upper := float64(o.day), math.Inf(1)
		cut := min(*e.FollowDays, days(e.StartDate, m.period.To))
		switch o.state {
		case returned:
			lower, upper = 0, max(float64(o.day), 0.5) // on the first day: by its middle
			if at < len(details) && details[at].EpisodeKey == e.EpisodeKey && details[at].NotYetDay != nil {
				lower = min(float64(*details[at].NotYetDay), upper)
			}
		case ended:
			lower = float64(cut)
		case inCare:
			lower = float64(min(e.LastContactDay, cut))
		case unusable, atTarget, lost, left: // known up to the day of the outcome
		}
		data.Lower, data.Upper = append(data.Lower, lower), append(data.Upper, upper)
		data.Person = append(data.Person, e.PersonKey)
	}
	return data, details
}

// detailsOf are the details of the group's episodes, in order.
func (m *maker) detailsOf(g group) []warehouse.ReturnDetail {
	var details []warehouse.ReturnDetail
	for _, d := range m.in.Details {
		if m.period.Holds(d.StartDate) && g.holds(d.InjuryType) && (g.site == "" || d.Site == g.site) {
			details = append(details, d)
		}
	}
	return details
}
