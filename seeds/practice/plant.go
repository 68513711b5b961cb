package practice

import "evenlimb/seeds/practice/dress"

// plant puts the mess into the deliveries. Nothing of it changes what is true:
// a wrong row is put right by a later one, a row that cannot be read is a copy
// beside the real one, and what stays odd has no weight in a figure.
func (m *mail) plant() {
	s := &sower{m: m, rng: stream(m.p.Scenario.Seed, 0, forMess)}
	last := len(m.nights) - 1
	for i := range m.desks {
		s.unreadable(0, i)
		s.unreadable(3, i)
	}
	s.notTrials(0)
	s.lineBreaks()
	s.twiceInAFile(0)
	for k := 1; k < last; k++ {
		s.putRight(k, k%len(m.desks))
	}
	s.takenBack(1, last-1)
	s.takenBackByMistake(2)
	s.late(2)
	s.orphans(4)
	s.odd(4)
	s.newTargets(last - 2)
	s.sentAgain(5)
	s.noTable(3)
	if m.p.Scenario.OwnFormats {
		s.plantOwn()
	}
	s.natural()
}

// unreadable adds copies of real rows with one cell spoilt each. The copies
// have keys of their own: the real rows are not touched.
func (s *sower) unreadable(k, desk int) {
	for _, spoilt := range []struct {
		table              int
		column, text, item string
		by                 string
	}{
		{sessionsTable, "session_date", "2024-02-30", "a date that does not exist", reasonDate},
		{sessionsTable, "minutes", "forty", "a number written as a word", reasonNumber},
		{sessionsTable, "attendance", "came", "a code that is not in the list", reasonCode},
		{sessionsTable, "supervised", "yes", "neither true nor false", reasonBoolean},
		{sessionsTable, "pain_before", "14", "a pain score above 10", reasonRange},
		{episodesTable, "start_date", "", "an episode without its first day", reasonRequired},
		{episodesTable, "injury_type", "sore_leg", "an injury type that no table has", reasonCode},
		{eventsTable, "kind", "", "an event without its kind", reasonRequired},
	} {
		_, line, ok := s.some(k, desk, spoilt.table, nil)
		if !ok || !s.m.desks[desk].dress.Holds(tableOf(spoilt.table), spoilt.column, spoilt.text) {
			continue
		}
		s.put(k, desk, spoilt.table, with(spoilt.table, s.fresh(spoilt.table, line), spoilt.column, spoilt.text),
			Planted{Item: spoilt.item, Where: InQuarantine, By: spoilt.column + ":" + spoilt.by})
	}
	_, line, ok := s.some(k, desk, sessionsTable, nil)
	if !ok {
		return
	}
	for _, whole := range []struct {
		harm dress.Harm
		item string
	}{{dress.MoreCells, "a row with more cells than headings"}, {dress.Unclosed, "a quote that is opened and not closed"}} {
		if by := s.m.desks[desk].dress.Breaks(whole.harm); by != "" {
			s.put(k, desk, sessionsTable, dress.Spoil(s.fresh(sessionsTable, line), whole.harm), Planted{Item: whole.item, Where: InQuarantine, By: by})
		}
	}
	s.put(k, desk, sessionsTable, with(sessionsTable, s.fresh(sessionsTable, line), "attendance", "missed", "minutes", "185"),
		Planted{Item: "a session of unusual length", Where: InFile, By: "minutes:" + findingUnusual})
	if s.m.p.Scenario.Sites > 1 {
		s.elsewhere(k, desk)
	}
}

// elsewhere adds an episode of a site that the settings do not know, and one of
// a site for which another sender sends.
func (s *sower) elsewhere(k, desk int) {
	_, line, ok := s.some(k, desk, episodesTable, nil)
	if !ok {
		return
	}
	s.put(k, desk, episodesTable, with(episodesTable, s.fresh(episodesTable, line), "site", "boathouse"),
		Planted{Item: "a site that the settings do not know", Where: InQuarantine, By: "site:" + reasonCode})
	for _, at := range s.m.p.Scenario.sites() {
		if at.sender != s.m.desks[desk].sender {
			s.put(k, desk, episodesTable, with(episodesTable, s.fresh(episodesTable, line), "site", at.code),
				Planted{Item: "a site for which another sender sends", Where: InQuarantine, By: "site:" + reasonSender})
			return
		}
	}
}

// notTrials adds two values of one measure, side and day without the number of
// the trial, from the sender that has no number for a measurement: nothing
// tells them apart.
func (s *sower) notTrials(k int) {
	for i, from := range s.m.desks {
		if from.sender != keylessMeasures {
			continue
		}
		_, line, ok := s.some(k, i, measurementsTable, filled(measurementsTable, "rater_id"))
		if !ok {
			continue
		}
		line = with(measurementsTable, line, "trial", "", "measure", "girth_thigh_5", "side", "left", "unit", "cm")
		for _, value := range []string{"40.1", "41.3"} {
			s.put(k, i, measurementsTable, with(measurementsTable, line, "value", value),
				Planted{Item: "two values that no trial number tells apart", Where: InQuarantine, By: reasonTwins})
		}
	}
}

// lineBreaks spoils nothing: a method may be written over two lines.
func (s *sower) lineBreaks() {
	for i := range s.m.desks {
		for range 5 {
			at, line, ok := s.some(0, i, measurementsTable, filled(measurementsTable, "method"))
			if ok {
				s.replace(0, i, measurementsTable, at, with(measurementsTable, line, "method", "tape,\nresting first"))
			}
		}
	}
}

// twiceInAFile gives a session twice in one file; the later line is right.
func (s *sower) twiceInAFile(k int) {
	for i := range s.m.desks {
		at, line, ok := s.some(k, i, sessionsTable, filled(sessionsTable, "minutes"))
		if !ok {
			continue
		}
		s.replace(k, i, sessionsTable, at, with(sessionsTable, line, "minutes", "95"))
		s.put(k, i, sessionsTable, line, Planted{Item: "a session twice in one file", Where: InFile, By: findingTwice})
	}
}

// putRight lets a wrong value go out and the right one a night later.
func (s *sower) putRight(k, desk int) {
	for _, wrong := range []struct {
		table        int
		column, text string
	}{
		{sessionsTable, "effort", "2"},
		{boutsTable, "reps", "11"},
		{measurementsTable, "method", "by hand"},
	} {
		at, line, ok := s.some(k, desk, wrong.table, filled(wrong.table, wrong.column))
		if !ok || cell(wrong.table, line, wrong.column) == wrong.text || s.m.silent(k+1, desk) {
			continue
		}
		s.replace(k, desk, wrong.table, at, with(wrong.table, line, wrong.column, wrong.text))
		s.put(k+1, desk, wrong.table, line, Planted{Item: "a value put right", Where: InCounts, By: countCorrections})
	}
}

// silent says whether a desk has nothing to send in a delivery.
func (m *mail) silent(k, desk int) bool {
	return len(m.posts[k][desk].sheets[sessionsTable].lines) == 0
}

// takenBack adds sessions that were entered for the wrong person and takes
// them back in a later delivery.
func (s *sower) takenBack(k, later int) {
	for i := range s.m.desks {
		_, line, ok := s.some(k, i, sessionsTable, has(sessionsTable, "attendance", "attended"))
		if !ok || s.m.silent(later, i) {
			continue
		}
		entered := s.fresh(sessionsTable, line)
		s.put(k, i, sessionsTable, entered)
		s.put(later, i, sessionsTable, withdrawn(sessionsTable, entered),
			Planted{Item: "a session taken back", Where: InCounts, By: countWithdrawals})
	}
}

// takenBackByMistake takes a real measurement back and sends it again.
func (s *sower) takenBackByMistake(k int) {
	for i, from := range s.m.desks {
		_, line, ok := s.some(k-1, i, measurementsTable, filled(measurementsTable, "measurement_id"))
		if !ok || from.sender == keylessMeasures || s.m.silent(k, i) || s.m.silent(k+1, i) {
			continue
		}
		s.put(k, i, measurementsTable, withdrawn(measurementsTable, line),
			Planted{Item: "a measurement taken back by mistake", Where: InCounts, By: countWithdrawals})
		s.put(k+1, i, measurementsTable, line,
			Planted{Item: "the measurement sent again", Where: InCounts, By: countCorrections})
	}
}

// late holds a session back for a night while its bouts go out: they wait.
func (s *sower) late(k int) {
	for i := range s.m.desks {
		if s.m.silent(k+1, i) {
			continue
		}
		at, line, ok := s.some(k, i, sessionsTable, has(sessionsTable, "attendance", "attended"))
		if !ok {
			continue
		}
		sh := &s.m.posts[k][i].sheets[sessionsTable]
		sh.lines[at] = nil
		s.m.posts[k+1][i].sheets[sessionsTable].lines = append(s.m.posts[k+1][i].sheets[sessionsTable].lines, line)
	}
	s.closeGaps(k)
}

// closeGaps removes the lines that were taken out.
func (s *sower) closeGaps(k int) {
	for i := range s.m.desks {
		sh := &s.m.posts[k][i].sheets[sessionsTable]
		moved := map[int][]int{}
		var lines [][]byte
		for at, line := range sh.lines {
			if line == nil {
				continue
			}
			if items, ok := sh.planted[at]; ok {
				moved[len(lines)] = items
			}
			lines = append(lines, line)
		}
		sh.lines, sh.planted = lines, moved
	}
}
