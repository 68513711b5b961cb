package truthcheck

import (
	"math"
	"testing"
	"time"

	"evenlimb/pipeline/analysis/safety"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
	"evenlimb/seeds/reference"
)

// safetyRates are the figures whose truth is known, by its name there.
var safetyRates = map[string]string{"per_1000_attended": "rate_all", "per_1000_asked": "rate_asked"}

// TestSafetyHoldsTheTruth holds events per 1,000 attended sessions, and per
// 1,000 sessions in which symptoms were asked about, of the practice, its sites
// and its injury types, against their truth.
func TestSafetyHoldsTheTruth(t *testing.T) {
	truth := committedTruth(t)
	for seed := uint64(1); seed <= 5; seed++ {
		s := practice.Default()
		s.Seed, s.Episodes = seed, 700
		points := safetyPoints(t, truth, s)
		if len(points) < 20 {
			t.Errorf("seed %d: only %d rates were compared", seed, len(points))
		}
		for _, p := range points {
			if !p.Agrees() {
				t.Errorf("seed %d: %v", seed, p)
			}
		}
	}
}

// TestSafetyMissesAnotherTruth draws twice the events with the truth as it was:
// the rates of the practice must not agree with it.
func TestSafetyMissesAnotherTruth(t *testing.T) {
	truth := committedTruth(t)
	for seed := uint64(1); seed <= 5; seed++ {
		s := practice.Default()
		s.Seed, s.Episodes, s.EventFactor = seed, 250, 2
		missed := 0
		for _, p := range safetyPoints(t, truth, s)[:2] {
			if !p.Agrees() {
				missed++
			}
		}
		if missed < 2 {
			t.Errorf("seed %d: with twice the events %d of the practice's 2 rates are off", seed, missed)
		}
	}
}

// safetyPoints sets every rate of a drawn practice beside its truth, in the
// truth's order: the practice first. The standard error is that of independent
// events at the true rate, so that a wrong rate cannot widen its own margin.
func safetyPoints(t *testing.T, truth *practice.Truth, s practice.Scenario) []Point {
	t.Helper()
	set, err := safety.Analyse(safetyOf(t, s))
	if err != nil {
		t.Fatal(err)
	}
	byID := map[string]result.Figure{}
	for _, f := range set.Figures {
		byID[f.ID] = f
	}
	var points []Point
	for _, v := range truth.Values {
		statistic := safetyRates[v.Statistic]
		if v.Question != "safety" || statistic == "" {
			continue
		}
		f, ok := byID[result.ID(result.PictureID("safety", v.InjuryType, v.Site, "", "", "", "24m"), statistic, "")]
		if v.InjuryType != "" && (!ok || f.Value == nil) {
			continue // a rare type may have had no session or no event
		}
		if !ok || f.Value == nil {
			t.Fatalf("%s has no figure", v.Name())
		}
		points = append(points, Point{Figure: f.ID, Value: *f.Value, Truth: v.Value, StdError: math.Hypot(math.Sqrt(1000*v.Value / *f.Exposure), v.SE)})
	}
	return points
}

// safetyOf draws a practice and sets its events beside its attended sessions in
// the plain way, without files and without the warehouse.
func safetyOf(t *testing.T, s practice.Scenario) safety.Input {
	t.Helper()
	drawn, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	tables, err := practice.Tables(drawn)
	if err != nil {
		t.Fatal(err)
	}
	set, err := settings.Parse(drawn.Settings(), settings.PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	in := safety.Input{
		Month: s.Start.AddDate(0, s.Months-1, 0), WindowMonths: set.Return.WindowMonths, Rules: set.Safety,
		KindFloor: set.SmallCounts.Circulating, InjuryTypes: reference.Codes("injury_types"), Batch: 1,
	}
	in.Sites = set.SiteCodes()
	r := safetyReader{t: t, episodes: map[string]warehouse.SafetySession{}, sessions: map[string]warehouse.SafetySession{}, persons: map[string]int{}}
	r.readEpisodes(tables["episodes"])
	in.Sessions = r.readSessions(tables["sessions"])
	in.Events = r.readEvents(tables["adverse_events"])
	return in
}

type safetyReader struct {
	t        *testing.T
	episodes map[string]warehouse.SafetySession // of no session yet
	sessions map[string]warehouse.SafetySession // attended
	persons  map[string]int
}

func (r *safetyReader) day(text string) time.Time {
	r.t.Helper()
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		r.t.Fatal(err)
	}
	return d
}

func (r *safetyReader) readEpisodes(rows []practice.Row) {
	cell := cellsOf(r.t, "episodes")
	for _, row := range rows {
		person := cell(row, "person_id")
		if person == "" {
			person = "alone/" + cell(row, "episode_id")
		}
		if r.persons[person] == 0 {
			r.persons[person] = len(r.persons) + 1
		}
		r.episodes[cell(row, "episode_id")] = warehouse.SafetySession{
			EpisodeKey: len(r.episodes) + 1, PersonKey: r.persons[person], Site: cell(row, "site"), InjuryType: cell(row, "injury_type"), StartDate: r.day(cell(row, "start_date")),
		}
	}
}

func (r *safetyReader) readSessions(rows []practice.Row) []warehouse.SafetySession {
	cell := cellsOf(r.t, "sessions")
	var sessions []warehouse.SafetySession
	for _, row := range rows {
		s, known := r.episodes[cell(row, "episode_id")]
		if !known || cell(row, "attendance") != "attended" {
			continue
		}
		s.SessionKey, s.SessionDate, s.SymptomsAsked = len(sessions)+1, r.day(cell(row, "session_date")), cell(row, "symptoms_asked") == "true"
		r.sessions[cell(row, "session_id")] = s
		sessions = append(sessions, s)
	}
	return sessions
}

func (r *safetyReader) readEvents(rows []practice.Row) []warehouse.SafetyEvent {
	cell := cellsOf(r.t, "adverse_events")
	var events []warehouse.SafetyEvent
	for _, row := range rows {
		episode, known := r.episodes[cell(row, "episode_id")]
		if !known {
			continue
		}
		e := warehouse.SafetyEvent{
			EventKey: len(events) + 1, EpisodeKey: episode.EpisodeKey, PersonKey: episode.PersonKey, Site: episode.Site, InjuryType: episode.InjuryType, StartDate: episode.StartDate,
			OnsetDate: r.day(cell(row, "onset_date")), Watched: true, Kind: cell(row, "kind"), Certainty: cell(row, "certainty"),
			Counts: cell(row, "actuality") != "potential" && cell(row, "certainty") != "ruled_out",
		}
		if s, linked := r.sessions[cell(row, "session_id")]; linked {
			e.SessionKey, e.SessionDate, e.SessionAsked = &s.SessionKey, &s.SessionDate, &s.SymptomsAsked
		}
		events = append(events, e)
	}
	return events
}
