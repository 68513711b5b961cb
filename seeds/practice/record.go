package practice

import (
	"math"
	"math/rand/v2"
)

// tableNames in the order of export.Tables.
var tableNames = [...]string{"episodes", "plans", "sessions", "bouts", "measurements", "milestones", "followups", "adverse_events"}

const (
	episodesTable = iota
	plansTable
	sessionsTable
	boutsTable
	measurementsTable
	milestonesTable
	followupsTable
	eventsTable
	tableCount
)

// row is one version of one record, as its site would send it.
type row struct {
	known day    // first day on which it is on record
	site  int    // index of the site
	key   string // of the record, where there may be several versions; else empty
	line  []byte // CSV, without the line break
}

// records are the rows of all tables, in order of episode and then of day.
type records [tableCount][]row

// recorder writes the records of one episode after the other.
type recorder struct {
	w    *world
	rows records

	st       *story
	out      cells
	rng      *rand.Rand // what a recorder may miss or write
	measured int        // measurements of the episode so far
	harmed   float64    // factor on the event rates of the person
	exposed  exposures  // of all episodes recorded; nil where nobody asks

	exposedFrom, exposedTo day // whose sessions count there

	dry   bool // no rows are kept
	brief bool // no bouts are kept after the window before the landmark

	events        []event  // of the episode
	eventSessions []string // the session of each
}

// spare is more than the rows of almost any episode take. Rows of many episodes
// lie in one buffer, so that few buffers are ever grown and copied.
const spare = 64 << 10

// record writes everything on record of one episode.
func (r *recorder) record(st *story) {
	s := &r.w.scenario
	r.st = st
	number := st.episode.number
	r.rng = stream(s.Seed, number, forRecord)
	r.out.rng, r.out.clean = r.rng, s.Clean
	if cap(r.out.buf)-len(r.out.buf) < spare {
		r.out.buf = make([]byte, 0, 16*spare)
	}
	bodies := stream(s.Seed, number, forBody)
	tests := r.w.planTests(bodies, &st.episode, &st.course)

	r.plans()
	r.sessions()
	r.measurements(bodies, tests)
	r.milestones()
	r.followups()
	r.adverseEvents()
	r.episodes() // last: a test may have moved the end of care
}

// put keeps the row just written, if it was on record by the site's last day.
func (r *recorder) put(table int, from int, key string, known int) {
	e := &r.st.episode
	at := e.start + day(known)
	if at > r.w.siteEnds[e.person.site] || r.dry || r.out.mute {
		r.out.buf = r.out.buf[:from]
		return
	}
	r.rows[table] = append(r.rows[table], row{known: at, site: e.person.site, key: key, line: r.out.buf[from:len(r.out.buf):len(r.out.buf)]})
}

func (r *recorder) begin() int {
	r.out.row()
	return len(r.out.buf)
}

// episodes writes the versions of the episode's own row: as begun, with its
// target, and with its end.
func (r *recorder) episodes() {
	e, c := &r.st.episode, &r.st.course
	versions := []int{0}
	if e.targetFrom != targetNever && e.targetDay > 0 {
		versions = append(versions, e.targetDay)
	}
	if c.finish != inCare && c.told > versions[len(versions)-1] {
		versions = append(versions, c.told)
	}
	for _, known := range versions {
		r.out.rng = stream(r.w.scenario.Seed, e.number, forEpisodeRow)
		from := r.begin()
		r.episodeCells(known)
		r.put(episodesTable, from, e.key, known)
	}
	r.out.rng = r.rng
}

// withoutPersons is the sender whose system has no number for a person.
const withoutPersons = "quarry"

func (r *recorder) episodeCells(known int) {
	e, c, out := &r.st.episode, &r.st.course, &r.out
	p, s := &e.person, &r.w.scenario
	out.text(e.key)
	if e.site.sender == withoutPersons {
		out.empty()
	} else {
		out.text(key('p', r.w.scenario.Seed, p.number))
	}
	out.text(e.site.code)
	out.text(e.injury.code)
	out.text(sides[e.side])
	if e.side == bilateral {
		out.textOr(0.1, sides[e.worse])
	} else {
		out.empty()
	}
	if e.again != nil && e.site.sender != withoutPersons {
		out.textOr(0.1, e.again.key)
	} else {
		out.empty()
	}
	out.dateOr(0.1, e.start-day(min(e.onset, 2+out.rng.IntN(12))))
	if e.injury.kind == "post_operative" { // the injury came weeks before the operation
		out.dateOr(0.04, e.start-day(e.onset)-day(10+out.rng.IntN(60)))
	} else {
		out.dateOr(0.04, e.start-day(e.onset))
	}
	out.textOr(0.05, [...]string{"day", "week", "month"}[min(2, e.onset/30)])
	if e.injury.kind == "post_operative" {
		out.date(e.start - day(e.onset))
	} else {
		out.empty()
	}
	out.date(e.start)
	out.textOr(s.covariate(0.01), ageBands[p.age])
	out.textOr(s.covariate(0.01), sexes[p.sex])
	out.textOr(s.covariate(0.06), sides[p.dominant])
	out.textOr(s.covariate(0.03), activities[p.activity])
	out.yesOr(s.covariate(0.06), p.manual)
	if e.atTarget() {
		out.text(e.ladder[e.atStart].code)
	} else {
		out.textOr(0.01, e.ladder[e.atStart].code)
	}
	r.targetCells(known)
	out.textOr(s.covariate(0.02), severities[e.shown])
	r.screeningCells()
	if c.finish != inCare && known >= c.told {
		out.date(e.start + day(c.finishOn))
		out.text(c.finish)
	} else {
		out.empties(2)
	}
}

// targetCells writes target_stage and target_set_on as far as they are known.
func (r *recorder) targetCells(known int) {
	e, out := &r.st.episode, &r.out
	if e.targetFrom == targetNever || known < e.targetDay {
		out.empties(2)
		return
	}
	out.text(e.ladder[e.target].code)
	if e.targetFrom == targetUndated {
		out.empty()
		return
	}
	out.date(e.start + day(e.targetDay))
}

func (r *recorder) screeningCells() {
	e, out := &r.st.episode, &r.out
	u, v := out.rng.Float64(), out.rng.Float64()
	found := []string{"varicose_veins", "hypertension", "diabetes", "oestrogen", "anticoagulants", "high_body_mass"}
	switch {
	case !ways[e.way].cuff && u < 0.15:
		out.text("may_not_start")
		out.date(e.start)
		out.text([]string{"earlier_thrombosis", "severe_hypertension", "pregnancy"}[int(3*v)])
	case u < 0.86:
		out.text("may_start")
		out.dateOr(0.03, e.start)
		out.empty()
	case u < 0.97:
		out.text("may_start_with_precautions")
		out.date(e.start)
		first := int(v * float64(len(found)))
		if v < 0.2 {
			out.text(found[first] + ";" + found[first+2])
		} else {
			out.text(found[first])
		}
	default:
		out.text("not_recorded")
		out.empties(2)
	}
}

func (r *recorder) plans() {
	e, out := &r.st.episode, &r.out
	way := ways[e.way]
	from := r.begin()
	out.text(e.key)
	out.date(e.start)
	out.text(way.code)
	out.empty()
	out.yes(way.cuff)
	out.text("clinic")
	out.whole(2)
	out.empties(6)
	r.put(plansTable, from, "", 0)

	const withCuff = 2 // of the exercises planned
	perExercise := min(5, max(1, int(math.Round(setsASession*math.Exp(e.intensity)/withCuff))))
	for i, exercise := range e.injury.exercises[:3] {
		from := r.begin()
		out.text(e.key)
		out.date(e.start)
		out.text(way.code)
		out.text(exercise)
		out.yes(way.cuff && i < withCuff)
		out.text("clinic")
		out.whole(2)
		out.whole(perExercise)
		out.whole(repsInSets(perExercise))
		out.empties(2)
		out.whole(30)
		if way.cuff && i < withCuff {
			out.whole(e.percent())
		} else {
			out.empty()
		}
		r.put(plansTable, from, "", 0)
	}
}

func (r *recorder) milestones() {
	e, out := &r.st.episode, &r.out
	for i, m := range r.st.course.marks {
		from := r.begin()
		out.text(numbered(e.key, 'm', i))
		out.text(e.key)
		out.date(e.start + day(m.day))
		out.text(e.ladder[m.rank].code)
		if m.lost {
			out.text("lost")
			out.empty()
			out.text("told")
		} else {
			out.textOr(0.5, "reached")
			if m.notYet >= 0 {
				out.dateOr(0.15, e.start+day(m.notYet))
			} else {
				out.empty()
			}
			out.textOr(0.1, "observed")
		}
		r.put(milestonesTable, from, "", m.known)
	}
}

func (r *recorder) followups() {
	e, out := &r.st.episode, &r.out
	for _, c := range r.st.course.calls {
		from := r.begin()
		out.text(e.key)
		out.date(e.start + day(c.day))
		out.text("phone")
		out.yes(c.reached)
		if c.reached {
			out.textOr(0.1, e.ladder[c.rank].code)
			out.yesOr(0.1, out.rng.Float64() < 0.1)
		} else {
			out.empties(2)
		}
		r.put(followupsTable, from, "", c.day)
	}
}

// numbered makes the key of the nth record of an episode.
func numbered(episode string, kind byte, n int) string {
	text := make([]byte, 0, 20)
	text = append(text, episode...)
	text = append(text, '-', kind)
	if n < 9 {
		text = append(text, '0')
	}
	return string(appendDecimal(text, float64(n+1), 0))
}
