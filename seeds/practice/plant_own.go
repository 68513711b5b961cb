package practice

import (
	"bytes"
	"fmt"
	"slices"
	"time"

	"evenlimb/seeds/practice/dress"
)

// plantOwn puts in what happens where every site sends what its system writes.
func (s *sower) plantOwn() {
	s.named(6)
	s.misspelt(5)
	s.slips(5)
	s.renamed()
	s.lessFilled(5, 7)
}

// named drops a file with the names and telephone numbers of people. Nobody of
// them exists.
func (s *sower) named(k int) {
	i := s.m.plain()
	name := s.m.nights[k].time().Format(time.DateOnly) + "_calls.csv"
	var b bytes.Buffer
	b.WriteString("episode_id,contact_on,way,first_name,surname,phone\n")
	people := [][2]string{
		{"Wenna", "Oakhollow"}, {"Tobiah", "Saltgrove"}, {"Merrin", "Thornwick"}, {"Isolde", "Fenmarsh"}, {"Corwin", "Ashbeck"}, {"Elowen", "Hartmoor"},
	}
	for n, line := range s.m.posts[0][i].sheets[episodesTable].lines {
		if n == len(people) {
			break
		}
		fmt.Fprintf(&b, "%s,%s,phone,%s,%s,+353 20 910 02%02d\n", cell(episodesTable, line, "episode_id"), (s.m.nights[k] - 1).time().Format(time.DateOnly), people[n][0], people[n][1], 10+7*n)
	}
	s.m.posts[k][i].extra = append(s.m.posts[k][i].extra, File{Sender: s.m.desks[i].sender, Name: name, Data: b.Bytes()})
	s.list(Planted{Item: "a file with people's names and telephone numbers", Where: InFile, By: problemIdentity, Sender: s.m.desks[i].sender, File: name})
}

// misspelt adds milestones whose stage is written wrongly.
func (s *sower) misspelt(k int) {
	i := s.m.plain()
	for range 3 {
		_, line, ok := s.some(0, i, milestonesTable, nil)
		if !ok {
			return
		}
		s.put(k, i, milestonesTable, with(milestonesTable, s.fresh(milestonesTable, line), "stage", "joging"),
			Planted{Item: "a stage that is misspelt", Where: InQuarantine, By: "stage:" + reasonCode})
	}
}

// slips adds a girth in inches and a body mass in pounds under units that they
// are not in. The one cannot be; the other could.
func (s *sower) slips(k int) {
	i := s.m.plain()
	for _, slip := range []struct {
		measure, value, unit, side string
		item                       Planted
	}{
		{"girth_calf", "14.4", "cm", "left", Planted{Item: "a girth in inches", Where: InQuarantine, By: "value:" + reasonRange}},
		{"body_mass", "176", "kg", "none", Planted{Item: "a body mass in pounds, called kilograms", Where: InFile, By: "value:" + findingPounds}},
	} {
		_, line, ok := s.some(0, i, measurementsTable, has(measurementsTable, "measure", "pain_nrs"))
		if !ok {
			return
		}
		s.put(k, i, measurementsTable, with(measurementsTable, s.fresh(measurementsTable, line),
			"measure", slip.measure, "side", slip.side, "value", slip.value, "unit", slip.unit), slip.item)
	}
}

// renamed lists the files whose headings have changed and that are read by the
// later version of their layout.
func (s *sower) renamed() {
	for i, d := range s.m.desks {
		r, ok := d.dress.(dress.Renamed)
		if !ok {
			continue
		}
		name, night, layout := r.Renames()
		table := slices.Index(tableNames[:], name)
		if table >= 0 && len(s.m.posts[night][i].sheets[table].lines) > 0 {
			s.note(night, i, table, 0, Planted{Item: "a heading that has changed", Where: InLayout, By: layout})
		}
	}
}

// lessFilled lets a desk leave a column empty for the nights from k on. The
// night "again" sends the same rows once more with what was missing.
func (s *sower) lessFilled(k, again int) {
	for i, d := range s.m.desks {
		if d.sender != lessFilledBy || len(d.sites) != 1 {
			continue
		}
		var emptied [][]byte
		for night := k; night < again; night++ {
			sh := &s.m.posts[night][i].sheets[sessionsTable]
			for at, line := range sh.lines {
				if _, busy := sh.planted[at]; busy || hasState(line, sessionsTable) || cell(sessionsTable, line, "effort") == "" {
					continue
				}
				s.replace(night, i, sessionsTable, at, with(sessionsTable, line, "effort", ""))
				emptied = append(emptied, line)
			}
		}
		for n, line := range emptied {
			var items []Planted
			if n == 0 {
				items = []Planted{{Item: "cells that were missing for two nights", Where: InCounts, By: countCorrections}}
			}
			s.put(again, i, sessionsTable, line, items...)
		}
		if len(emptied) >= enoughToTell {
			s.list(Planted{Item: "a column that is left empty", Where: InDrift, By: driftFill, Subject: d.sender + " sessions effort"})
		}
	}
}

// lessFilledBy is the sender that leaves the effort of sessions empty for two
// nights. Of fewer rows than enoughToTell nobody can tell that something moved.
const (
	lessFilledBy = "millrace"
	enoughToTell = 100
)
