package truthcheck

import (
	"strings"
	"testing"

	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// found is a practice whose planted items were all reported.
func found() ([]practice.Planted, Seen) {
	planted := []practice.Planted{
		{Item: "a bad date", Where: practice.InQuarantine, By: "session_date:not_a_date", Sender: "north", File: "a.csv", Line: 7},
		{Item: "an odd episode", Where: practice.InFindings, By: "end_before_start", Subject: "episode north/e1"},
		{Item: "a key twice", Where: practice.InFile, By: "key_twice_in_file", Sender: "north", File: "a.csv", Line: 9},
		{Item: "a strange file", Where: practice.InFile, By: "no_table_fits", Sender: "north", File: "b.csv"},
		{Item: "one put right", Where: practice.InCounts, By: "corrections", Sender: "north", File: "a.csv", Line: 3},
		{Item: "another put right", Where: practice.InCounts, By: "corrections", Sender: "north", File: "a.csv", Line: 4},
		{Item: "one no longer there", Where: practice.InCounts, By: "gone", Sender: "north", File: "a.csv"},
		{Item: "a new heading", Where: practice.InLayout, By: "later.toml", Sender: "north", File: "a.csv", Line: 2},
		{Item: "a column left empty", Where: practice.InDrift, By: "fill_falls", Subject: "north sessions effort"},
	}
	seen := Seen{
		Findings: []warehouse.Finding{{Check: "end_before_start", Subject: "episode north/e1"}},
		Files: []warehouse.FileRecord{
			{File: 1, Planned: warehouse.Planned{Sender: "north", Path: "north/a.csv"}, Layout: "layouts/later.toml 2", Counts: warehouse.Counts{Corrections: 2, Quarantined: 1, Gone: 1}},
			{File: 2, Planned: warehouse.Planned{Sender: "north", Path: "north/b.csv"}, Problem: warehouse.Problem{Code: "no_table_fits"}},
		},
		Moved:        []warehouse.Drift{{Sender: "north", Table: "sessions", Column: "effort", Code: "fill_falls"}},
		FileFindings: map[int][]warehouse.FileFinding{1: {{Code: "key_twice_in_file"}}},
		Quarantine:   map[int][]warehouse.Rejected{1: {{Line: 7, Reasons: []string{"minutes:not_a_number", "session_date:not_a_date"}}}},
	}
	return planted, seen
}

func TestAllThatWasPlantedIsFound(t *testing.T) {
	planted, seen := found()
	if missing := Missing(planted, seen); len(missing) > 0 {
		t.Errorf("missing: %v", missing)
	}
	if unplanned := Unplanned(planted, seen); len(unplanned) > 0 {
		t.Errorf("unplanned: %v", unplanned)
	}
}

// Each report that is taken away is missed by name.
func TestWhatIsNotReportedIsNamed(t *testing.T) {
	for item, spoil := range map[string]func(*Seen){
		"a bad date":        func(s *Seen) { s.Quarantine[1][0].Reasons = []string{"minutes:not_a_number"} },
		"an odd episode":    func(s *Seen) { s.Findings[0].Subject = "episode north/e2" },
		"a key twice":       func(s *Seen) { s.FileFindings = nil },
		"a strange file":    func(s *Seen) { s.Files[1].Problem.Code = "" },
		"another put right": func(s *Seen) { s.Files[0].Counts.Corrections = 1 },

		"one no longer there": func(s *Seen) { s.Files[0].Counts.Gone = 0 },
		"a new heading":       func(s *Seen) { s.Files[0].Layout = "layouts/first.toml 1" },
		"a column left empty": func(s *Seen) { s.Moved[0].Column = "minutes" },
	} {
		planted, seen := found()
		spoil(&seen)
		missing := Missing(planted, seen)
		if len(missing) != 1 || !strings.HasPrefix(missing[0], item+": ") {
			t.Errorf("missing %q, wanted %q alone", missing, item)
		}
	}
}

func TestARowInQuarantineThatNobodyPlantedIsNamed(t *testing.T) {
	planted, seen := found()
	seen.Quarantine[1] = append(seen.Quarantine[1], warehouse.Rejected{Line: 12, Words: []string{"no good"}})
	if unplanned := Unplanned(planted, seen); len(unplanned) != 1 || !strings.HasPrefix(unplanned[0], "north/a.csv, line 12") {
		t.Errorf("unplanned %q, wanted line 12", unplanned)
	}
}
