package practice

import (
	"math"
	"math/rand/v2"
)

// visit is one appointment at the clinic, in days from start.
type visit struct {
	day      int
	attended bool
	byWhom   string // who cancelled, where it was cancelled
	work     work   // what was done with the cuff inflated
}

// mark is one change of stage as it was recorded.
type mark struct {
	day    int // reached, or lost
	rank   int
	lost   bool
	notYet int // last contact on which it was not yet reached; -1 for none
	known  int // day of the contact that recorded it
}

// call is a contact, or an attempt, outside a visit.
type call struct {
	day     int
	reached bool
	rank    int // stage on that day
}

// Reasons for an end that does not compete with a return.
const (
	inCare   = "" // no end on record
	goalMet  = "goal_met"
	bySelf   = "self_discharged"
	contact  = "lost_contact"
	moved    = "transferred"
	referred = "referred_on"
	other    = "other"
)

// causes are the ends that compete with a return.
var causes = [5]string{"surgery", "new_injury", "not_returning", "may_not_continue", "died"}

const deaths = 0.00003 // per week

// Losses, whatever the state. A loss is decided at a visit by the time since
// the visit before.
const (
	lostAtFirst = 0.02
	lostPerWeek = 0.008
)

var lossReasons = []string{contact, bySelf, inCare, moved, referred, other, goalMet}

var lossShares = []float64{0.33, 0.27, 0.18, 0.08, 0.06, 0.04, 0.04}

const (
	longest    = 60 * 7 // days after which the practice closes an episode
	atTargetIn = 8 * 7  // days of care of those already at their target
)

// course is what happened in one episode and when it became known.
type course struct {
	visits []visit
	marks  []mark
	calls  []call

	dose     dose   // done within the window
	finish   string // end_reason, inCare for none
	finishOn int    // end_date
	told     int    // day on which the end became known
	last     int    // last contact
	left     bool   // lost while a return was followed up
}

// run draws the course of an episode up to a day from its start.
type run struct {
	w     *world
	e     *episode
	until int     // last day watched, from start
	kept  bool    // nobody is lost: the course at whose law the estimates aim
	force float64 // above 0: the sets per week of the window in a counterfactual
	ends  bool    // whether competing ends come

	visits, recovery, work *rand.Rand
	c                      course

	endDay int // day of the first competing end
	cause  string
	speed  float64 // of the recovery clock after the landmark; 0 until it is asked for
	need   float64 // progress needed from base
	base   float64 // progress already made when the climb began
	from   int     // rank from which the climb began
	shown  int     // rank on record
}

func (r *run) course() *course {
	seed := r.w.scenario.Seed
	r.visits, r.work = stream(seed, r.e.number, forVisits), stream(seed, r.e.number, forWork)
	r.recovery = stream(seed, r.e.number, forEnds)
	r.c = course{visits: r.c.visits[:0], marks: r.c.marks[:0], calls: r.c.calls[:0]}
	r.speed, r.need, r.base, r.from, r.shown = 0, r.e.need, 0, r.e.atStart, r.e.atStart
	r.drawEnd()

	day, attended, byWhom := 0, true, ""
	for {
		switch {
		case r.endDay <= day && day > 0:
			r.close(r.endDay)
			return &r.c
		case day > r.until:
			return &r.c
		case day > longest:
			r.end(other, r.c.last, day)
			return &r.c
		case r.e.atTarget() && day >= atTargetIn:
			r.end(goalMet, r.c.last, day)
			return &r.c
		}
		if attended && r.slipsAway(day) {
			r.leave()
			return &r.c
		}
		r.visit(day, attended, byWhom)
		if attended {
			returned := r.record(day)
			gone := r.lost(day)
			r.c.last = day
			over := false
			if returned {
				gone, over = r.followUp(day, gone)
				day = r.c.last
			}
			if over {
				return &r.c
			}
			if gone {
				r.leave()
				return &r.c
			}
		}
		day = r.nextAppointment(day, attended)
		attended, byWhom = r.comes()
	}
}

// drawEnd draws the latent day of every competing end and keeps the first.
func (r *run) drawEnd() {
	in, factor := r.e.injury, severityEnds[r.e.severity]
	first := math.Inf(1)
	for i, rate := range [5]float64{in.surgery, in.again, in.giveUp, in.mayNot, deaths} {
		if at := r.recovery.ExpFloat64() * 7 / (rate * factor); at < first {
			first, r.cause = at, causes[i]
		}
	}
	r.endDay = 1 + int(math.Min(first, forever))
	if !r.ends {
		r.endDay = forever
	}
}

func (r *run) comes() (attended bool, cancelledBy string) {
	switch u := r.visits.Float64(); {
	case u < 0.05:
		return false, ""
	case u < 0.08:
		return false, "person"
	case u < 0.09:
		return false, "practice"
	}
	return true, ""
}

// nextAppointment follows one timetable for everybody: twice a week, then
// weekly, fortnightly and every three to four weeks. A missed appointment late
// in care is made up for within about a week, so that nobody in care is silent
// for as long as the contact gap.
func (r *run) nextAppointment(from int, attended bool) int {
	u := r.visits.Float64()
	var gap float64
	switch {
	case from < 6*7:
		gap = 3 + 1.2*u
	case from < 12*7:
		gap = 6 + 2*u
	case from < 26*7:
		gap = 12 + 4*u
	default:
		gap = 20 + 6*u
	}
	if !attended {
		gap = math.Min(gap, 5+3*u)
	}
	return r.workday(from + int(gap))
}

// workday moves a day of care to a weekday.
func (r *run) workday(from int) int {
	return int((r.e.start + day(from)).workday() - r.e.start)
}

func (r *run) visit(on int, attended bool, byWhom string) {
	v := visit{day: on, attended: attended, byWhom: byWhom}
	within := on < r.e.injury.landmark
	if attended && (within || !r.kept) { // a truth asks for no work after the window
		v.work = r.e.session(r.work, on == 0, r.painFedBack(on))
		if within {
			r.c.dose.add(v.work)
		}
	}
	r.c.visits = append(r.c.visits, v)
}

// painFedBack is the log factor by which pain lowers the work of a session,
// where it does: pain stays up in those who will take long.
func (r *run) painFedBack(on int) float64 {
	if !r.w.scenario.PainFeedsDose {
		return 0
	}
	return -0.9 * math.Max(0, 1-float64(on)/r.e.need) * math.Log(1+r.e.need/60)
}

// speedAfter is the speed of the recovery clock from the landmark on, by the
// dose of the window.
func (r *run) speedAfter() float64 {
	sets := r.e.setsPerWeek(r.c.dose)
	if r.force > 0 && ways[r.e.way].cuff {
		sets = r.force
	}
	usual := doseEffect(usualSets)
	return math.Exp(usual + r.w.scenario.DoseEffect*(doseEffect(sets)-usual))
}

// progress is what the recovery clock shows on a day.
func (r *run) progress(on int) float64 {
	l := float64(r.e.injury.landmark)
	t := float64(on)
	if t <= l {
		return t
	}
	if r.speed == 0 { // the window is over: its dose is known
		r.speed = r.speedAfter()
	}
	return l + (t-l)*r.speed
}

// record writes down the highest stage newly reached and says whether it is
// the target.
func (r *run) record(on int) (returned bool) {
	target := r.e.target
	if r.shown >= target {
		return false
	}
	share := (r.progress(on) - r.base) / r.need
	rank := r.from
	if share > 0 {
		rank = min(target, r.from+int(math.Pow(math.Min(share, 1), 1.25)*float64(target-r.from)))
	}
	if rank <= r.shown {
		return false
	}
	if rank == target && target+1 < len(r.e.ladder) && chance(r.recovery, 0.08) {
		rank++ // some are found beyond their target
	}
	r.c.marks = append(r.c.marks, mark{day: on, rank: rank, notYet: r.c.last, known: on})
	r.shown = rank
	return rank >= target
}

// lost decides at a visit whether it was the last.
func (r *run) lost(on int) bool {
	u := r.visits.Float64()
	if r.kept {
		return false
	}
	rate := lostPerWeek * float64(on-r.c.last) / 7
	if on == 0 {
		rate = lostAtFirst
	}
	rate *= r.w.scenario.LossFactor
	if r.w.scenario.LossByState {
		rate *= math.Min(6, math.Pow(r.e.need/usualNeed(r.e.injury), 2))
	}
	return u < 1-math.Exp(-rate)
}

// slipsAway is the loss between visits of the variant: somebody who has
// returned sees no reason to come and have it recorded.
func (r *run) slipsAway(on int) bool {
	if !r.w.scenario.LossBetweenVisits || r.kept || r.shown >= r.e.target {
		return false
	}
	return r.progress(on)-r.base >= r.need && chance(r.recovery, 0.25)
}

// followUp watches a recorded return: a contact just past 14 days, a call just
// past 28. It says whether the person is lost meanwhile and whether the course
// is over; where it is not, the person fell back and climbs again.
func (r *run) followUp(returned int, gone bool) (lost, over bool) {
	check := r.workday(returned + 15 + int(4*r.recovery.Float64()))
	final := r.workday(returned + 29 + int(5*r.recovery.Float64()))
	fall := 0
	u, v := r.recovery.Float64(), r.recovery.Float64()
	switch in := r.e.injury; {
	case u < in.falls14:
		fall = returned + 2 + int(12*v)
	case u < in.falls14+in.falls28:
		fall = returned + 16 + int(12*v)
	}
	for _, on := range [2]int{check, final} {
		if r.endDay <= on {
			if fall > 0 && fall < r.endDay {
				r.fallBack(fall, r.endDay)
			}
			r.close(r.endDay)
			return gone, true
		}
		if on > r.until {
			return gone, true
		}
		fell := fall > 0 && fall <= on
		if fell {
			r.fallBack(fall, on)
		}
		if on == check && !gone {
			r.visit(on, true, "")
		} else {
			r.c.calls = append(r.c.calls, call{day: on, reached: true, rank: r.shown})
		}
		gone = r.lost(on) || gone
		r.c.last = on
		if fell {
			return gone, false
		}
	}
	r.end(goalMet, final, final)
	r.c.left = gone
	return gone, true
}

// fallBack records that the target was lost again. The climb back takes less
// than the first.
func (r *run) fallBack(on, known int) {
	target := r.e.target
	r.c.marks = append(r.c.marks, mark{day: on, rank: target, lost: true, notYet: -1, known: known})
	r.shown = max(0, target-1)
	r.from = r.shown
	r.base = r.progress(on)
	r.need = (0.2 + 0.3*r.recovery.Float64()) * r.e.need
}

func (r *run) end(reason string, on, known int) {
	r.c.finish, r.c.finishOn, r.c.told = reason, on, known
}

func (r *run) close(on int) {
	if on <= r.until {
		r.end(r.cause, on, on)
	}
}

// leave closes the course of a person who was lost at the last contact.
func (r *run) leave() {
	reason := lossReasons[pick(r.recovery, lossShares)]
	r.end(reason, r.c.last, r.c.last)
	if reason != contact {
		return
	}
	r.c.told += 28
	for _, wait := range [2]int{11, 22} {
		r.c.calls = append(r.c.calls, call{day: r.workday(r.c.last + wait), rank: -1})
	}
}

// heldReturn is the first recorded return that was not lost again within hold
// days; ok is false where there is none.
func (c *course) heldReturn(target, hold int) (on int, ok bool) {
	for i, m := range c.marks {
		if m.lost || m.rank < target {
			continue
		}
		held := true
		for _, n := range c.marks[i+1:] {
			if n.lost && n.day-m.day <= hold {
				held = false
			}
		}
		if held {
			return m.day, true
		}
	}
	return 0, false
}
