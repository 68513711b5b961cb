package returning

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/reference"
)

// everyWeeks is how far apart the weeks are at which people are counted by stage.
const everyWeeks = 2

// unplaced stands for the stage of those who are judged by another ladder than
// most of the group, or of whom no stage is on record yet.
const unplaced = "unplaced"

// stages adds how those not yet back, and not ended otherwise, are spread over
// the stages of the ladder that most are judged by, week by week; then the steps
// from stage to stage.
func (m *maker) stages(g group) error {
	stays := m.staysOf(g)
	c, err := m.curves(g, asRecorded)
	if err != nil || c.withholds != "" || len(stays) == 0 {
		return err
	}
	hash := staysHash(stays)
	m.spread(c, newLadder(g, stays), joined(g.hash, hash))
	return m.steps(g, stays, hash)
}

// ladder is the stays of a group on the ladder that most of its episodes at risk
// are judged by.
type ladder struct {
	name  string
	stays map[int][]warehouse.StageStay // on the ladder, by episode
}

func newLadder(g group, stays []warehouse.StageStay) ladder {
	atRisk := map[int]bool{}
	for i, e := range g.rows {
		if g.outcomes[i].atRisk() {
			atRisk[e.EpisodeKey] = true
		}
	}
	by, judged := map[int][]warehouse.StageStay{}, map[string]int{}
	for _, s := range stays {
		if !atRisk[s.EpisodeKey] {
			continue
		}
		if by[s.EpisodeKey] == nil {
			judged[s.Ladder]++
		}
		by[s.EpisodeKey] = append(by[s.EpisodeKey], s)
	}
	l := ladder{stays: map[int][]warehouse.StageStay{}}
	for _, name := range reference.Codes("stages") { // the first ladder of the code table leads where two are equal
		if name, _ = reference.Cell("stages", name, "ladder"); judged[name] > judged[l.name] {
			l.name = name
		}
	}
	for key, own := range by {
		if own[0].Ladder == l.name {
			l.stays[key] = own
		}
	}
	return l
}

// codes are the stages of the ladder, from the lowest up.
func (l ladder) codes() []string {
	return slices.DeleteFunc(reference.Codes("stages"), func(code string) bool {
		name, _ := reference.Cell("stages", code, "ladder")
		return name != l.name
	})
}

// stage is where an episode stands at the end of a day.
func (l ladder) stage(episode, day int) string {
	at := unplaced
	for _, s := range l.stays[episode] {
		if s.FromDay <= day && (s.ToDay == nil || *s.ToDay > day) {
			at = s.Stage
		}
	}
	return at
}

// spread adds, at week ends, the share of people on each stage: the share that is
// neither back nor ended, dealt to the stages as those are who are still watched
// then. With the two shares of the curve they sum to 1. A stage on which nobody
// at risk ever stood has no figure.
func (m *maker) spread(c curves, l ladder, hash string) {
	stood := map[string]bool{}
	var at []standing
	for week := 0; week <= lastWeek; week += everyWeeks {
		s := l.standing(c, week)
		at = append(at, s)
		for stage := range s.on {
			stood[stage] = true
		}
	}
	for _, stage := range append(l.codes(), unplaced) {
		if !stood[stage] {
			continue
		}
		for _, s := range at {
			f := m.weekFigure(c, "stage."+stage, s.week)
			f.Measure, f.InputsHash, f.Method = "recorded stage", hash, c.free.Method
			switch free := c.free.At(weekEnd(s.week)); {
			case free.Value == 0:
				f.Value = number(0)
			case s.watched < m.in.Rules.AtRiskFloor:
				withhold(&f, "Too few people were still watched to say on which stages they stood.")
			default:
				estimate(&f, dealt(free, s.on[stage], s.watched))
			}
			m.addWeek(c, f)
			m.alsoFrom(StaysTable, and(c.group.where, stayedRows(m.period)))
		}
	}
}

// standing counts those on each stage at a week's end, and all who were still
// watched then, neither back nor ended.
type standing struct {
	week    int
	on      map[string]int
	watched int
}

func (l ladder) standing(c curves, week int) standing {
	s := standing{week: week, on: map[string]int{}}
	for i, o := range c.outcomes {
		if day := 7 * week; o.atRisk() && (o.day > day || o.day == day && o.state != returned && o.state != ended) {
			s.watched++
			s.on[l.stage(c.group.rows[i].EpisodeKey, day)]++
		}
	}
	return s
}

// dealt is the part of a share that falls to on of n. The number on a stage among
// those still watched says nothing more about how many they are, so that the two
// variances add on the log scale, without a covariance; limits log-log as the
// curve's.
func dealt(free stats.Estimate, on, n int) stats.Estimate {
	q := float64(on) / float64(n)
	e := stats.Estimate{
		Value: free.Value * q, SE: math.Sqrt(q*q*free.SE*free.SE + free.Value*free.Value*q*(1-q)/float64(n)),
		Level: free.Level, N: free.N, Events: on, Method: "Aalen-Johansen dealt to the stages of those watched, log-log interval",
	}
	e.Low, e.High = e.Value, e.Value
	if e.Value > 0 && e.Value < 1 {
		wide := distuv.UnitNormal.Quantile(0.5+free.Level/2) * e.SE / (e.Value * math.Log(e.Value))
		e.Low, e.High = math.Pow(e.Value, math.Exp(-wide)), math.Pow(e.Value, math.Exp(wide))
	}
	return e
}
