package practice

import (
	"math"
)

// exposure counts attended sessions and the events expected on record in them.
type exposure struct {
	sessions, asked       float64 // attended; of these, symptoms asked about
	expected, askedEvents float64 // all on record; linked to an asked session
	serious               float64
}

// Home sessions: some people log work at home between early visits.
const (
	logsHome    = 0.3
	homeADay    = 0.10
	homeForDays = 70
)

// sessions writes every appointment and home session with its bouts, and draws
// the adverse events.
func (r *recorder) sessions() {
	e, c := &r.st.episode, &r.st.course
	r.harmed = r.w.harmFactor(&e.person)
	harm := stream(r.w.scenario.Seed, e.number, forHarm)
	r.events = r.events[:0]
	r.eventSessions = r.eventSessions[:0]
	home := chance(r.rng, logsHome)
	n := 0
	for i, v := range c.visits {
		asked := v.attended && chance(r.rng, e.site.asked)
		inflated := v.work.n > 0
		id := numbered(e.key, 's', n)
		n++
		r.session(id, v.day, "clinic", v.attended, v.byWhom, asked)
		if !v.attended {
			continue
		}
		r.bouts(id, v)
		r.expose(v.day, inflated, asked)
		r.harm(harm, id, v.day, inflated, asked)
		if !home || i+1 == len(c.visits) || v.day > homeForDays {
			continue
		}
		for on := v.day + 1; on < c.visits[i+1].day; on++ {
			if !chance(r.rng, homeADay) || c.finish != inCare && on > c.finishOn {
				continue
			}
			id := numbered(e.key, 's', n)
			n++
			r.session(id, on, "home", true, "", false)
			r.homeBouts(id, on)
			r.expose(on, false, false)
			r.harm(harm, id, on, false, false)
		}
	}
}

// exposures by injury type and site.
type exposures [][]exposure

func newExposures(w *world) exposures {
	x := make(exposures, len(w.injuries))
	for i := range x {
		x[i] = make([]exposure, w.scenario.Sites)
	}
	return x
}

func (x *exposure) plus(y exposure) {
	x.sessions += y.sessions
	x.asked += y.asked
	x.expected += y.expected
	x.askedEvents += y.askedEvents
	x.serious += y.serious
}

// expose adds one attended session to what a truth counts.
func (r *recorder) expose(on int, inflated, asked bool) {
	if at := r.st.episode.start + day(on); r.exposed == nil || at < r.exposedFrom || at > r.exposedTo {
		return
	}
	e := &r.st.episode
	x := &r.exposed[r.w.kindOf(e.injury)][e.person.site]
	x.sessions++
	if asked {
		x.asked++
	}
	for _, k := range eventKinds {
		all, toSession := k.rate(&r.w.scenario, e.site, r.harmed, inflated, asked)
		x.expected += all
		if asked {
			x.askedEvents += toSession
		}
		if k.serious {
			x.serious += all
		}
	}
}

// pain now, 0 to 10, easing with progress.
func (r *recorder) painOn(on int) float64 {
	e := &r.st.episode
	left := math.Exp(-1.4 * float64(on) / e.need)
	return math.Max(0, math.Min(10, math.Round(e.pain*left+0.7*r.rng.NormFloat64())))
}

// session writes one row. Cells of an appointment that was not kept stay empty.
func (r *recorder) session(id string, on int, setting string, attended bool, byWhom string, asked bool) {
	e, out := &r.st.episode, &r.out
	clinic := setting == "clinic"
	from := r.begin()
	out.text(id)
	out.text(e.key)
	out.date(e.start + day(on))
	switch {
	case attended:
		out.text("attended")
		out.empty()
	case byWhom != "":
		out.text("cancelled")
		out.textOr(0.05, byWhom)
	default:
		out.text("missed")
		out.empty()
	}
	if !attended {
		out.text(setting)
		out.empties(13)
		r.put(sessionsTable, from, "", on)
		return
	}
	out.textOr(0.02, setting)
	out.yesOr(0.05, clinic)
	if clinic {
		out.textOr(0.02, r.clinician(on))
	} else {
		out.empty()
	}
	out.wholeOr(0.04, 5*int(6+6*out.rng.Float64()))
	high := 126 + 4*e.person.age + int(9*out.rng.NormFloat64())
	if clinic {
		out.wholeOr(0.12, max(92, min(178, high)))
		out.wholeOr(0.12, max(52, min(105, high*5/8+int(5*out.rng.NormFloat64()))))
	} else {
		out.empties(2)
	}
	before := r.painOn(on)
	out.wholeOr(0.05, int(before))
	out.wholeOr(0.08, int(math.Min(10, before+float64(out.rng.IntN(3)))))
	out.wholeOr(0.25, int(math.Max(0, before-float64(out.rng.IntN(2)))))
	out.wholeOr(0.10, 4+out.rng.IntN(5))
	switch {
	case asked:
		out.yes(true)
	case out.rng.Float64() < 0.5:
		out.yes(false)
	default:
		out.empty()
	}
	out.yesOr(0.10, clinic && on > 0 && out.rng.Float64() < 0.8)
	stopped := out.rng.Float64() < 0.02
	out.yesOr(0.03, stopped)
	if stopped {
		out.textOr(0.05, []string{"pain", "cuff_discomfort", "fatigue", "time", "dizziness"}[out.rng.IntN(5)])
	} else {
		out.empty()
	}
	r.put(sessionsTable, from, "", on)
}

// clinician sees most of a person's sessions; another one fills in.
func (r *recorder) clinician(on int) string {
	own := r.st.episode.person.ownClinician()
	if r.out.rng.Float64() < 0.15 {
		own = on % cliniciansASite
	}
	return "c-" + r.st.episode.site.code[:3] + string(rune('1'+own))
}
