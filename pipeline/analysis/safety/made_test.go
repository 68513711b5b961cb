package safety

import (
	"math"
	"testing"
	"time"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// The period of all tests is July 2024 to June 2026.
var (
	firstDay = time.Date(2024, 7, 1, 0, 0, 0, 0, time.UTC)
	lastDay  = time.Date(2026, 6, 30, 0, 0, 0, 0, time.UTC)
	midDay   = time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)
)

func input(floor int) Input {
	return Input{
		Month: lastDay, WindowMonths: 24, Rules: settings.Safety{WidenAbovePercent: 20}, KindFloor: floor, Batch: 4,
		InjuryTypes: []string{"calf_strain", "hamstring_strain"}, Sites: []string{"north", "south"},
	}
}

// attend gives a person sessions on midDay, the first of them with symptoms
// asked about. Odd persons are at north with a calf strain, even ones at south
// with a hamstring strain.
func (in *Input) attend(person, sessions, asked int) {
	for i := range sessions {
		s := warehouse.SafetySession{
			SessionKey: len(in.Sessions) + 1, EpisodeKey: 10 * person, PersonKey: person, Site: "north", InjuryType: "calf_strain",
			StartDate: firstDay, SessionDate: midDay, SymptomsAsked: i < asked,
		}
		if person%2 == 0 {
			s.Site, s.InjuryType = "south", "hamstring_strain"
		}
		in.Sessions = append(in.Sessions, s)
	}
}

// happen gives a person an event on midDay that counts, confirmed, not serious,
// without dates of knowing, changed as the test wants.
func (in *Input) happen(person int, change func(e *warehouse.SafetyEvent)) {
	e := warehouse.SafetyEvent{
		EventKey: len(in.Events) + 1, EpisodeKey: 10 * person, PersonKey: person, Site: "north", InjuryType: "calf_strain", StartDate: firstDay,
		OnsetDate: midDay, Watched: true, Kind: "bruising", Counts: true, Certainty: "confirmed", Serious: yes(false),
	}
	if person%2 == 0 {
		e.Site, e.InjuryType = "south", "hamstring_strain"
	}
	change(&e)
	in.Events = append(in.Events, e)
}

func yes(b bool) *bool { return &b }

func on(day time.Time) *time.Time { return &day }

// linked links an event to a session on a day.
func linked(e *warehouse.SafetyEvent, day time.Time, asked bool) {
	e.SessionKey, e.SessionDate, e.SessionAsked = count(1), &day, &asked
}

// dated gives an event its two delays.
func dated(e *warehouse.SafetyEvent, toAware, toReported int) {
	aware := e.OnsetDate.AddDate(0, 0, toAware)
	e.AwareDate, e.OnsetToAwareDays = &aware, &toAware
	if toReported >= 0 {
		e.ReportedDate, e.AwareToReportedDays = on(aware.AddDate(0, 0, toReported)), &toReported
	}
}

func figures(t *testing.T, in Input) map[string]result.Figure {
	t.Helper()
	set, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		if _, twice := byID[f.ID]; twice {
			t.Errorf("%s stands twice", f.ID)
		}
		byID[f.ID] = f
	}
	return byID
}

func near(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s is not there, want %g", what, want)
	} else if math.Abs(*got-want) > 1e-5*math.Max(1, math.Abs(want)) {
		t.Errorf("%s: got %g, want %g", what, *got, want)
	}
}
