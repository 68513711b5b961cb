package practice

import "math/rand/v2"

// harm draws the events of one session and remembers which session it was.
func (r *recorder) harm(rng *rand.Rand, session string, on int, inflated, asked bool) {
	before := len(r.events)
	r.events = eventsOf(rng, &r.w.scenario, r.st.episode.site, r.harmed, on, inflated, asked, r.events)
	for range len(r.events) - before {
		r.eventSessions = append(r.eventSessions, session)
	}
}

// adverseEvents writes the versions of every event: as first noted, as
// reported, and as over. Beside the events that count stand some that were
// ruled out later and some that could have happened and did not.
func (r *recorder) adverseEvents() {
	for i, ev := range r.events {
		id := numbered(r.st.episode.key, 'a', i)
		versions := []int{ev.aware}
		if ev.reported > ev.aware {
			versions = append(versions, ev.reported)
		}
		if ev.resolved > versions[len(versions)-1] {
			versions = append(versions, ev.resolved)
		}
		for _, known := range versions {
			r.event(id, r.eventSessions[i], ev, known, "actual")
		}
		switch u := ev.rng % 100; {
		case u < 4:
			r.event(id+"x", r.eventSessions[i], ev, ev.aware, "potential")
		case u < 6:
			r.event(id+"x", r.eventSessions[i], ev, ev.aware, "ruled_out")
		}
	}
}

// event writes one version. The dice of the version are those of the event, so
// that two versions differ only in what became known.
func (r *recorder) event(id, session string, ev event, known int, state string) {
	e, out := &r.st.episode, &r.out
	out.rng = rand.New(rand.NewPCG(ev.rng, uint64(len(id))))
	from := r.begin()
	out.text(id)
	out.text(e.key)
	if ev.linked {
		out.text(session)
	} else {
		out.empty()
	}
	if ev.kind.code == "dizziness" || ev.kind.code == "fainting" {
		out.text("none")
	} else {
		out.textOr(0.05, sides[e.side])
	}
	if state == "potential" {
		out.text("potential")
	} else {
		out.textOr(0.5, "actual")
	}
	certainty := "confirmed"
	if out.rng.Float64() < 0.25 {
		certainty = "suspected"
	}
	if state == "ruled_out" {
		certainty = state
	}
	out.text(certainty)
	out.date(e.start + day(ev.onset))
	out.textOr(0.05, "day")
	out.textOr(0.1, [...]string{"during", "to_24h", "to_72h", "later"}[ev.onset%2+int(out.rng.Uint64()%2)])
	out.date(e.start + day(ev.aware))
	if ev.reported >= 0 && known >= ev.reported {
		out.date(e.start + day(ev.reported))
	} else {
		out.empty()
	}
	out.textOr(0.05, [...]string{"person", "clinician", "follow_up"}[out.rng.IntN(3)])
	out.text(ev.kind.code)
	out.wholeOr(0.05, ev.kind.grade)
	if ev.kind.serious {
		out.yes(true)
		out.text("medically_important")
	} else {
		out.yesOr(0.04, false)
		out.empty()
	}
	out.yesOr(0.1, !ev.kind.serious)
	out.textOr(0.05, [...]string{"possible", "probable", "certain"}[out.rng.IntN(3)])
	out.yesOr(0.1, ev.kind.code == "device_fault")
	if ev.kind.serious {
		out.text("referred")
	} else {
		out.textOr(0.08, [...]string{"none", "watched", "pressure_lowered", "paused"}[out.rng.IntN(4)])
	}
	if ev.resolved >= 0 && known >= ev.resolved {
		out.text("recovered")
		out.date(e.start + day(ev.resolved))
	} else {
		out.text("recovering")
		out.empty()
	}
	r.put(eventsTable, from, id, known)
	out.rng = r.rng
}
