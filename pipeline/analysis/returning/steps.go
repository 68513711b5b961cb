package returning

import (
	"fmt"
	"math"
	"slices"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// What became of a stay on a stage.
const (
	stayed  = iota // still on it when last watched
	movedOn        // a higher stage was reached
	fell           // it was lost
	stopped        // a competing end came first
)

// steps adds, stage by stage, how soon people move on to a higher stage and
// which share falls back: of those who reached the stage in care or on a known
// day before it, who then come under watch late, and of those who stood on it
// when care began, counted from then, for since when they did is not known.
// Stages that fewer than StageFloor persons stood on are not told.
func (m *maker) steps(g group, stays []warehouse.StageStay, hash string) error {
	for _, stage := range reference.Codes("stages") {
		for _, kind := range []struct {
			entered, moved, median, fell string
		}{
			{"reached", "moved_on." + stage, "next_weeks." + stage, "fell_back." + stage},
			{"start", "moved_on_from_start." + stage, "next_weeks_from_start." + stage, ""},
		} {
			below, err := m.stage(g, stays, stage, kind.entered, true)
			if err != nil {
				return err
			}
			below.hash = hash
			if below.persons >= m.in.StageFloor && below.persons > 0 {
				m.stageShare(below, kind.moved, movedOn)
				if err := m.nextWeeks(below, kind.median); err != nil {
					return err
				}
			}
			if kind.fell == "" {
				continue
			}
			all, err := m.stage(g, stays, stage, kind.entered, false)
			if err != nil {
				return err
			}
			all.hash = hash
			if all.persons >= m.in.StageFloor && all.persons > 0 {
				m.stageShare(all, kind.fell, fell)
			}
		}
	}
	return nil
}

// staysOf are the stays of the group's episodes up to the cut, in order.
func (m *maker) staysOf(g group) []warehouse.StageStay {
	var stays []warehouse.StageStay
	for _, s := range m.in.Stays {
		if m.period.Holds(s.StartDate) && g.holds(s.InjuryType) && (g.site == "" || s.Site == g.site) && s.FromDay <= cutOf(s, m.period.To) {
			stays = append(stays, s)
		}
	}
	return stays
}

func cutOf(s warehouse.StageStay, last time.Time) int {
	return min(s.FollowDays, days(s.StartDate, last))
}

// climb is the first stays of a group on one stage, with their curves: from
// the day on which it was reached, or from the start of care.
type climb struct {
	group     group
	predicate string
	persons   int
	episodes  int
	curves    []*survival.Curve // by what became of the stay
	hash      string
}

// stage estimates by Aalen-Johansen what becomes of stays on a stage that were
// entered in one way; with below only of those whose target lies higher.
func (m *maker) stage(g group, stays []warehouse.StageStay, stage, entered string, below bool) (climb, error) {
	c := climb{group: g, predicate: and(and(g.where, stageRows(stage, entered)), stayedRows(m.period))}
	if below {
		c.predicate = and(c.predicate, "below_target")
	}
	var data survival.Data
	late := false
	var persons, episodes []int
	for _, s := range stays {
		if s.Stage != stage || s.Entered != entered || s.Visit != 1 || (below && !s.BelowTarget) || (s.EndDay != nil && s.FromDay >= *s.EndDay) {
			continue
		}
		persons, episodes = append(persons, s.PersonKey), append(episodes, s.EpisodeKey)
		what, day := becameOf(s, m.period.To)
		entry := -1.0 // watched from the day on which it was reached, that day too
		if s.FromDay < 0 {
			entry, late = float64(-s.FromDay), true
		}
		if time := float64(day - s.FromDay); time > entry {
			data.Time, data.Entry = append(data.Time, time), append(data.Entry, entry)
			data.Event, data.Person = append(data.Event, what), append(data.Person, s.PersonKey)
		}
	}
	c.persons, c.episodes = distinct(persons), distinct(episodes)
	if len(data.Time) == 0 {
		c.persons = 0
		return c, nil
	}
	if !late {
		data.Entry = nil
	}
	var err error
	c.curves, err = survival.AalenJohansen(data, stopped, survival.Options{})
	return c, err
}

// becameOf is what ended a stay, by the last day watched, and when. Of a move
// and a competing end on one day the move counts, as a return would.
func becameOf(s warehouse.StageStay, last time.Time) (what, day int) {
	cut := cutOf(s, last)
	switch {
	case by(s.ToDay, cut) && (s.EndDay == nil || *s.ToDay <= *s.EndDay):
		if s.LeftBy == "reached" {
			return movedOn, *s.ToDay
		}
		return fell, *s.ToDay
	case by(s.EndDay, cut):
		return stopped, *s.EndDay
	case s.OutReason == "in_care" || s.OutDay > cut:
		return stayed, cut
	default:
		return stayed, s.OutDay
	}
}

// stageShare adds the share that had moved on, or fallen back, by the first of
// the settings' horizons after the stage was reached.
func (m *maker) stageShare(c climb, statistic string, cause int) {
	week := m.in.Rules.HorizonWeeks[0]
	f := m.stageFigure(c, statistic)
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", "share"
	e := c.curves[cause].At(weekEnd(week))
	estimate(&f, e)
	f.Warnings = nil
	if e.Low == e.High || math.Abs(e.Value-0.5) > 0.5-1e-12 { // all or nobody, but for the rounding of a sum
		f.Value = number(math.Round(e.Value*1e12) / 1e12)
		f.Low, f.High, f.StdError, f.Level = nil, nil, nil, 0
	}
	if slices.ContainsFunc(e.Warnings, beyondFollowUp) {
		f.Value, f.Low, f.High, f.StdError, f.Level = nil, nil, nil, nil, 0
		withhold(&f, fmt.Sprintf("Nobody has been watched on this stage to week %d yet.", week))
	}
	m.add(f, fmt.Sprintf("w%d", week), StaysTable, c.predicate)
}

// nextWeeks adds the weeks by which half of them were on a higher stage.
func (m *maker) nextWeeks(c climb, statistic string) error {
	f := m.stageFigure(c, statistic)
	f.Unit = "weeks"
	at, err := c.curves[movedOn].Quantile(0.5)
	if err != nil {
		return err
	}
	setQuantile(&f, at, "on a higher stage")
	m.add(f, "", StaysTable, c.predicate)
	return nil
}

func (m *maker) stageFigure(c climb, statistic string) result.Figure {
	f := m.figure(c.group, statistic)
	f.Measure, f.InputsHash = "recorded stage", c.hash
	f.Persons, f.Episodes = count(c.persons), count(c.episodes)
	return f
}
