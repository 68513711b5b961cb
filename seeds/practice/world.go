package practice

import (
	"math"

	"evenlimb/seeds/reference"
)

// world is what all episodes of a scenario share.
type world struct {
	scenario Scenario
	injuries []injury
	shares   []float64
	ladders  map[string][]stage
	steps    map[string]int    // of every exercise's ladder
	units    map[string]string // of every measure
	siteEnds []day             // last day recorded, by site
	lastDay  day               // the latest of them

	manyClinicians bool // everybody has a clinician of their own
}

func newWorld(s Scenario) (*world, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	w := &world{scenario: s, injuries: injuryTable(), ladders: stageTable()}
	w.steps, w.units = map[string]int{}, map[string]string{}
	for _, code := range reference.Codes("exercises") {
		levels, _ := reference.Cell("exercises", code, "levels")
		w.steps[code] = whole(levels)
	}
	for _, code := range reference.Codes("measures") {
		w.units[code], _ = reference.Cell("measures", code, "unit")
	}
	for _, in := range w.injuries {
		w.shares = append(w.shares, in.share)
	}
	for i := range s.Sites {
		w.siteEnds = append(w.siteEnds, s.siteEnd(i))
		w.lastDay = max(w.lastDay, s.siteEnd(i))
	}
	return w, nil
}

// Later episodes of one person. A recurrence begins after a quiet time and then
// at a constant rate. Another injury comes whatever became of the first, so
// that the people who have one are no selection.
const (
	quietDays    = 84
	otherPerYear = 0.06
	perPerson    = 8 // numbers reserved for the episodes of one person
)

// story is one episode with its course.
type story struct {
	episode episode
	course  course
}

// life draws all episodes of one person up to the last day.
func (w *world) life(number int) []*story {
	s := &w.scenario
	p := drawPerson(s, number)
	rng := stream(s.Seed, number*perPerson, forAgain)
	wait, shift := rng.ExpFloat64()*365/otherPerYear, rng.Float64()

	lives := []*story{w.watch(w.drawEpisode(number*perPerson, p, -1))}
	first := lives[0]
	if start := (first.episode.start + 30 + day(math.Min(wait, 1e6))).workday(); start <= w.lastDay && first.course.finish != "died" {
		e := w.drawEpisode(number*perPerson+1, p, w.otherKind(first.episode.injury, shift))
		e.start = start
		lives = append(lives, w.watch(e))
	}
	for i := 0; i < len(lives) && len(lives) < perPerson; i++ {
		if e, ok := w.recurrence(lives[i], number*perPerson+len(lives)); ok {
			lives = append(lives, w.watch(e))
		}
	}
	return lives
}

// watch runs the course of an episode to the last day of its site.
func (w *world) watch(e episode) *story {
	st := &story{episode: e}
	r := run{w: w, e: &st.episode, until: int(w.siteEnds[e.person.site] - e.start), ends: true}
	st.course = *r.course()
	return st
}

// recurrence draws the episode that repeats an earlier one, if it begins by
// the last day.
func (w *world) recurrence(earlier *story, number int) (episode, bool) {
	e, c := &earlier.episode, &earlier.course
	rng := stream(w.scenario.Seed, number, forAgain)
	returned, held := c.heldReturn(e.target, 14)
	if !held || !c.steady() || c.finish != goalMet || e.atTarget() {
		return episode{}, false
	}
	start := e.start + day(recurrenceDay(returned, rng.ExpFloat64(), e.injury.recurs))
	if start > w.lastDay {
		return episode{}, false
	}
	p := e.person
	p.pace = w.scenario.pace() * rng.NormFloat64() // those who return are a selection: draw anew
	later := w.drawEpisode(number, p, w.kindOf(e.injury))
	later.side, later.worse, later.again = e.side, e.worse, e
	later.start = start
	later.onset = 2 + int(6*rng.Float64())
	return later, true
}

// recurrenceDay is the day, from the start of the earlier episode, on which the
// later one begins.
func recurrenceDay(returned int, wait, perYear float64) int {
	return returned + quietDays + 1 + int(wait*365/perYear)
}

// steady says that nobody fell back: those who did are not hurt again here.
func (c *course) steady() bool {
	for _, m := range c.marks {
		if m.lost {
			return false
		}
	}
	return true
}

func (w *world) kindOf(in *injury) int {
	for i := range w.injuries {
		if w.injuries[i].code == in.code {
			return i
		}
	}
	return 0
}

// otherKind draws another type in proportion to the practice's mix.
func (w *world) otherKind(in *injury, u float64) int {
	u *= 1 - in.share
	for i := range w.injuries {
		if w.injuries[i].code == in.code {
			continue
		}
		if u < w.injuries[i].share {
			return i
		}
		u -= w.injuries[i].share
	}
	return 0
}
