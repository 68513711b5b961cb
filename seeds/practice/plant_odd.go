package practice

import (
	"slices"
	"time"
)

// orphans adds a measurement of an episode that never arrives.
func (s *sower) orphans(k int) {
	for i, from := range s.m.desks {
		_, line, ok := s.some(k, i, measurementsTable, nil)
		if !ok {
			continue
		}
		id := key('x', s.m.p.Scenario.Seed, s.rng.Int())
		if from.sender != keylessMeasures {
			line = s.fresh(measurementsTable, line)
		}
		s.put(k, i, measurementsTable, with(measurementsTable, line, "episode_id", id), Planted{
			Item: "a measurement whose episode never arrives", Where: InFindings, By: "waiting_rows",
			Subject: "measurements of episode " + from.sender + "/" + id,
		})
		return
	}
}

// odd adds rows that can be read and cannot be right. None has a weight in a
// figure: they are copies beside real rows on days of contacts that there were,
// events that were ruled out, or ends of people who had returned.
func (s *sower) odd(k int) {
	i := s.m.plain()
	night := s.m.nights[k]
	date := func(days day) string { return (night + days).time().Format(time.DateOnly) }
	pain := has(measurementsTable, "measure", "pain_nrs")
	for _, o := range []struct {
		table          int
		fits           func([]byte) bool
		by, item, word string
		changes        func(line []byte) []string
	}{
		{eventsTable, nil, "event_order_impossible", "an event known before it began", "event", func([]byte) []string {
			return []string{
				"certainty", "ruled_out", "session_id", "", "onset_date", date(-9), "aware_date", date(-14), "reported_date", date(-8),
				"onset_precision", "day", "resolved_date", "",
			}
		}},
		{eventsTable, nil, "event_session_missing", "an event linked to a session that is not there", "event", func([]byte) []string {
			return []string{"certainty", "ruled_out", "session_id", "no-such-session"}
		}},
		{milestonesTable, nil, "milestone_order_impossible", "a stage reached before the day it was not yet", "milestone", func(line []byte) []string {
			after := parseDay(cell(milestonesTable, line, "reached_on")) + 3
			return []string{"stage", "off_work", "change", "reached", "not_yet_on", after.time().Format(time.DateOnly)}
		}},
		{measurementsTable, pain, "measure_implausible", "a body mass hardly possible", "measurement", func([]byte) []string {
			return []string{"measure", "body_mass", "value", "212", "unit", "kg"}
		}},
		{measurementsTable, pain, "unit_other", "a body mass in pounds", "measurement", func([]byte) []string {
			return []string{"measure", "body_mass", "value", "150", "unit", "[lb_av]"}
		}},
		{sessionsTable, has(sessionsTable, "attendance", "attended"), "session_before_start", "a session years before care began", "session", func([]byte) []string {
			return []string{"session_date", date(-1500)}
		}},
		{episodesTable, nil, "end_before_start", "an episode that ends before it begins", "episode", func([]byte) []string {
			return []string{"start_date", date(-50), "end_date", date(-60), "end_reason", "other", "recurrence_of", "", "target_set_on", ""}
		}},
		{episodesTable, has(episodesTable, "end_reason", goalMet), "end_incomplete", "an end without a date", "episode", nil},
	} {
		_, line, ok := s.some(k, i, o.table, o.fits)
		if !ok {
			continue
		}
		if o.changes == nil { // the row itself, once more: its person has returned
			line = with(o.table, line, "end_date", "")
		} else {
			line = with(o.table, s.fresh(o.table, line), o.changes(line)...)
		}
		subject := o.word + " " + s.m.desks[i].sender + "/" + cellsOf(line)[0]
		s.put(k+1, i, o.table, line, Planted{Item: o.item, Where: InFindings, By: o.by, Subject: subject})
	}
	s.ahead(k, i)
	s.afterEnd(k, i)
	s.toldOnly(k, i)
}

// ahead adds an appointment of the year after that was missed already.
func (s *sower) ahead(k, i int) {
	_, line, ok := s.some(k, i, sessionsTable, has(sessionsTable, "attendance", "missed"))
	if !ok {
		return
	}
	line = with(sessionsTable, s.fresh(sessionsTable, line), "session_date", (s.m.nights[k] + 365).time().Format(time.DateOnly))
	s.put(k, i, sessionsTable, line, Planted{
		Item: "a session missed in the year after", Where: InFindings, By: "date_after_batch",
		Subject: "session " + s.m.desks[i].sender + "/" + cellsOf(line)[0] + " session_date",
	})
}

// afterEnd adds a session after the end of care of somebody who had returned.
func (s *sower) afterEnd(k, i int) {
	ended := map[string]string{}
	for _, line := range s.m.posts[0][i].sheets[episodesTable].lines {
		if texts := cellsOf(line); texts[len(texts)-1] == goalMet {
			ended[texts[0]] = cell(episodesTable, line, "end_date")
		}
	}
	_, line, ok := s.some(0, i, sessionsTable, func(line []byte) bool {
		return ended[cell(sessionsTable, line, "episode_id")] != "" && cell(sessionsTable, line, "attendance") == "attended"
	})
	if !ok {
		return
	}
	on := parseDay(ended[cell(sessionsTable, line, "episode_id")]) + 3
	line = with(sessionsTable, s.fresh(sessionsTable, line), "session_date", on.time().Format(time.DateOnly))
	s.put(k, i, sessionsTable, line, Planted{
		Item: "a session after the end of care", Where: InFindings, By: "session_after_end",
		Subject: "session " + s.m.desks[i].sender + "/" + cellsOf(line)[0],
	})
}

// toldOnly adds a follow-up that names a high stage for somebody of whom no
// stage is on record, on a day on which there was a session anyway.
func (s *sower) toldOnly(k, i int) {
	marked := map[string]bool{}
	for _, r := range s.m.p.rows[milestonesTable] {
		marked[cell(milestonesTable, r.line, "episode_id")] = true
	}
	lower := map[string]bool{}
	for _, line := range s.m.posts[0][i].sheets[episodesTable].lines {
		lower[cell(episodesTable, line, "episode_id")] = cell(episodesTable, line, "target_stage") == "full_participation"
	}
	_, line, ok := s.some(0, i, sessionsTable, func(line []byte) bool {
		id := cell(sessionsTable, line, "episode_id")
		return !marked[id] && lower[id] && cell(sessionsTable, line, "attendance") == "attended"
	})
	if !ok {
		return
	}
	id, on := cell(sessionsTable, line, "episode_id"), cell(sessionsTable, line, "session_date")
	s.put(k, i, followupsTable, joined([]string{id, on, "form", "true", "full_performance", ""}), Planted{
		Item: "a return that was told and never recorded", Where: InFindings, By: "followup_without_milestone",
		Subject: "follow-up " + s.m.desks[i].sender + "/" + id + " " + on,
	})
}

// newTargets lets a target be agreed anew long after day 28. The one in force
// on day 28 stays the one that counts.
func (s *sower) newTargets(k int) {
	lower := map[string]string{"full_participation": "jogging", "arm_forceful_use": "arm_daily_use", "arm_overhead_use": "arm_daily_use"}
	for i := range s.m.desks {
		if s.m.silent(k, i) {
			continue
		}
		sent := map[string]bool{}
		for later := 1; later < len(s.m.nights); later++ {
			for _, line := range s.m.posts[later][i].sheets[episodesTable].lines {
				sent[cell(episodesTable, line, "episode_id")] = true
			}
		}
		history := s.m.nights[0]
		fits := func(line []byte) bool {
			start, set := parseDay(cell(episodesTable, line, "start_date")), cell(episodesTable, line, "target_set_on")
			return set != "" && !late(line) && cell(episodesTable, line, "end_date") == "" &&
				start > history-80 && start < history-40 && !sent[cell(episodesTable, line, "episode_id")] &&
				lower[cell(episodesTable, line, "target_stage")] != ""
		}
		_, line, ok := s.some(0, i, episodesTable, fits)
		if !ok {
			continue
		}
		s.put(k, i, episodesTable, with(episodesTable, line,
			"target_stage", lower[cell(episodesTable, line, "target_stage")],
			"target_set_on", s.m.nights[k-1].time().Format(time.DateOnly)),
			Planted{Item: "a target agreed anew after day 28", Where: InCounts, By: countCorrections})
	}
}

// sentAgain drops one sender's sessions of the night before once more: the
// same bytes under another name, and the same rows in another order.
func (s *sower) sentAgain(k int) {
	i := len(s.m.desks) - 1
	for s.m.silent(k-1, i) && i > 0 {
		i--
	}
	before := &s.m.posts[k-1][i].sheets[sessionsTable]
	if len(before.lines) < 2 { // turned round, one line is the same bytes again
		return
	}
	turned := slices.Clone(before.lines)
	slices.Reverse(turned)
	s.list(Planted{Item: "sessions sent again", Where: InCounts, By: countDuplicates, Sender: s.m.desks[i].sender, Table: "sessions"})
	date := s.m.nights[k-1].time().Format(time.DateOnly)
	s.m.posts[k][i].again = append(s.m.posts[k][i].again,
		again{sessionsTable, date + "_sessions_copy", before.lines, nil},
		again{sessionsTable, date + "_sessions_again", turned, []int{len(s.m.p.planted) - 1}})
}

// noTable drops a file that no table fits.
func (s *sower) noTable(k int) {
	i := s.m.plain()
	sender := s.m.desks[i].sender
	name := s.m.nights[k].time().Format(time.DateOnly) + "_cupboard.csv"
	s.m.posts[k][i].extra = append(s.m.posts[k][i].extra,
		File{Sender: sender, Name: name, Data: []byte("shelf,thing,pieces\n1,band,12\n2,mat,4\n")})
	s.list(Planted{Item: "a file that no table fits", Where: InFile, By: problemNoTable, Sender: sender, File: name})
}

// natural lists what is odd in the records themselves: one of each kind.
func (s *sower) natural() {
	p := s.m.p
	seen := map[string]bool{}
	list := func(by, subject, item string) {
		if !seen[by] {
			seen[by] = true
			s.list(Planted{Item: item, Where: InFindings, By: by, Subject: subject})
		}
	}
	for _, r := range latest(p.rows[episodesTable]) {
		at := siteTable[r.site]
		id := cell(episodesTable, r.line, "episode_id")
		subject := "episode " + at.sender + "/" + id
		age := p.w.siteEnds[r.site] - parseDay(cell(episodesTable, r.line, "start_date"))
		switch {
		case at.sender == withoutPersons:
			list("person_missing", "site "+at.sender+"/"+at.code, "a sender without numbers for persons")
		case cell(episodesTable, r.line, "target_stage") == "" && age > 70:
			list("target_missing", subject, "an episode whose target is never recorded")
		case late(r.line):
			list("target_set_late", subject, "an episode whose target is agreed late")
		}
	}
	s.goalWithoutStage(list)
	if silent := p.Scenario.silentSite(); silent >= 0 {
		list("silent_site", "site "+siteTable[silent].code, "a site that stops sending")
	}
	for _, r := range p.rows[measurementsTable] {
		if cell(measurementsTable, r.line, "unit") == "" && s.m.of(r.site).keeps(measurementsTable, "unit") {
			at := siteTable[r.site]
			list("unit_missing", "measure "+at.sender+"/"+at.code+" "+cell(measurementsTable, r.line, "measure"), "a measurement without a unit")
			break
		}
	}
}

// goalWithoutStage finds an end by which the goal was met though no record of
// the target stage says so.
func (s *sower) goalWithoutStage(list func(by, subject, item string)) {
	p := s.m.p
	highest := map[string]int{}
	rank := map[string]int{}
	for _, ladder := range p.w.ladders {
		for _, st := range ladder {
			rank[st.code] = st.rank
		}
	}
	for _, r := range p.rows[milestonesTable] {
		if cell(milestonesTable, r.line, "change") != "lost" {
			id := cell(milestonesTable, r.line, "episode_id")
			highest[id] = max(highest[id], rank[cell(milestonesTable, r.line, "stage")])
		}
	}
	for _, r := range latest(p.rows[episodesTable]) {
		id, target, at := cell(episodesTable, r.line, "episode_id"), cell(episodesTable, r.line, "target_stage"), cell(episodesTable, r.line, "stage_at_start")
		if cell(episodesTable, r.line, "end_reason") == goalMet && target != "" && at != "" && max(highest[id], rank[at]) < rank[target] {
			list("goal_met_without_stage", "episode "+siteTable[r.site].sender+"/"+id, "a goal met without its stage on record")
		}
	}
}

// late says whether the target on an episode's row was agreed after day 28.
func late(line []byte) bool {
	set := cell(episodesTable, line, "target_set_on")
	return set != "" && parseDay(set)-parseDay(cell(episodesTable, line, "start_date")) > 28
}

func parseDay(text string) day {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic("a made-up date cannot be read: " + text) // written by this package and tested
	}
	return dayOf(t)
}
