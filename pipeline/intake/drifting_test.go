package intake

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/intake/drift"
	"evenlimb/pipeline/warehouse"
)

// site writes what a site sends: so many sessions and masses of its episodes,
// under the keys and with the cells that the functions give.
type site struct {
	f       folder
	session int
	episode func(i int) string
	effort  func(i int) string
	mass    func(i int) string
}

func newSite(f folder) *site {
	return &site{
		f:       f,
		episode: func(i int) string { return fmt.Sprintf("e%04d", i) },
		effort:  func(i int) string { return fmt.Sprint(2 + i%6) },
		mass:    func(i int) string { return fmt.Sprintf("%d.%d", 60+i%20, i%10) },
	}
}

const siteEpisodes = 60

func (s *site) sends(name string, visits int) {
	var sessions, masses strings.Builder
	sessions.WriteString("session_id,episode_id,session_date,attendance,minutes,effort\n")
	masses.WriteString("measurement_id,episode_id,measured_on,measure,side,value,unit\n")
	for range visits {
		s.session++
		i := s.session
		episode, day := s.episode(1+i%siteEpisodes), fmt.Sprintf("2025-%02d-%02d", 1+i%12, 1+i%28)
		fmt.Fprintf(&sessions, "s%06d,%s,%s,attended,%d,%s\n", i, episode, day, 25+i%20, s.effort(i))
		fmt.Fprintf(&masses, "m%06d,%s,%s,body_mass,none,%s,kg\n", i, episode, day, s.mass(i))
	}
	s.f.write("inbox/north/"+name+"_sessions.csv", sessions.String())
	s.f.write("inbox/north/"+name+"_masses.csv", masses.String())
}

// history sends the episodes and what went before, and three ordinary nights.
func (s *site) history() {
	var episodes strings.Builder
	episodes.WriteString("episode_id,person_id,site,injury_type,side,start_date\n")
	for i := range siteEpisodes {
		fmt.Fprintf(&episodes, "%s,p%04d,north,calf_strain,left,2025-%02d-%02d\n", s.episode(1+i), i, 1+i%12, 1+i%28)
	}
	s.f.write("inbox/north/first_episodes.csv", episodes.String())
	s.sends("first", 400)
	s.f.quiet(1)
	for day := 2; day <= 4; day++ {
		s.sends(fmt.Sprint(day), 40)
		s.f.quiet(day)
	}
}

// run runs the intake and returns what moved in its batch.
func (f folder) moved(day int) ([]warehouse.Drift, error) {
	f.t.Helper()
	l := f.open()
	defer shut(f.t, l)
	report, runErr := Run(f.t.Context(), Input{Dir: f.dir, Landing: l, Now: january(day), Program: "test"})
	var stop *StopError
	if runErr != nil && !errors.As(runErr, &stop) {
		f.t.Fatal(runErr)
	}
	moved, err := l.Moved(f.t.Context(), report.Batch.Number, 0, "")
	if err != nil {
		f.t.Fatal(err)
	}
	return slices.DeleteFunc(moved, func(d warehouse.Drift) bool { return d.Batch != report.Batch.Number }), runErr
}

// quiet runs a night in which nothing may be told.
func (f folder) quiet(day int) {
	f.t.Helper()
	if moved, err := f.moved(day); err != nil || len(moved) > 0 {
		f.t.Fatalf("day %d: %v %v", day, moved, err)
	}
}

func told(moved []warehouse.Drift) string {
	var list []string
	for _, d := range moved {
		list = append(list, d.Table+"."+d.Column+":"+d.Code)
	}
	return strings.Join(list, " ")
}

func TestWhatMovesIsTold(t *testing.T) {
	t.Parallel()
	s := newSite(newFolder(t))
	s.history()

	s.effort = func(int) string { return "" }
	s.mass = func(i int) string { return fmt.Sprintf("%.1f", (60+float64(i%20))/0.45359237) } // pounds
	s.sends("5", 40)
	moved, err := s.f.moved(5)
	if want := "measurements.value:unit_jumps sessions.effort:fill_falls"; err != nil || told(moved) != want {
		t.Fatalf("told %q, want %q (%v)", told(moved), want, err)
	}

	s.effort, s.mass = func(int) string { return "5" }, newSite(s.f).mass
	s.sends("6", 50)
	moved, err = s.f.moved(6)
	if want := "sessions.effort:one_value"; err != nil || told(moved) != want {
		t.Fatalf("told %q, want %q (%v)", told(moved), want, err)
	}
}

func TestKeysThatAllChangeStopTheRun(t *testing.T) {
	t.Parallel()
	s := newSite(newFolder(t))
	s.history()
	stopped := func(day int, want string) {
		t.Helper()
		_, err := s.f.moved(day)
		var stop *StopError
		if !errors.As(err, &stop) || stop.Code != drift.KeysChanged || !strings.Contains(stop.Words, want) {
			t.Fatalf("day %d: %v", day, err)
		}
	}

	s.episode = func(i int) string { return fmt.Sprintf("N-%d-%d", i%3, i) }
	s.sends("5", 40)
	stopped(5, "rekey.csv")
	stopped(6, "rekey.csv") // and again, with nothing new, until somebody answers

	s.f.write("inbox/north/rekey.csv", "table,old_key,new_key\nepisodes,e0001,N-1-1\nsessions,s000001,s000001\nepisode,e0002,N-2-2\nepisodes,,N-0-3\nepisodes,e0004,e0001\nepisodes,e0005,N-2-5\n")
	l := s.f.open()
	report, err := Run(t.Context(), Input{Dir: s.f.dir, Landing: l, Now: january(7), Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if c := report.Files[0].Counts; c.Read != 6 || c.Accepted != 2 || c.Quarantined != 4 {
		t.Errorf("rekey.csv: %+v", c)
	}
	rejected, err := l.Quarantine(t.Context(), fileOf(t, l, "north/rekey.csv"))
	if err != nil {
		t.Fatal(err)
	}
	var reasons []string
	for _, r := range rejected {
		reasons = append(reasons, fmt.Sprint(r.Line, r.Reasons))
	}
	if want := "3 [new_key:same_key] 4 [table:unknown_code] 5 [old_key:required_empty] 6 [new_key:given_up_before]"; strings.Join(reasons, " ") != want {
		t.Errorf("rejected %v, want %s", reasons, want)
	}
	shut(t, l)

	// Another change of all keys, this time meant.
	s.episode = func(i int) string { return fmt.Sprintf("%d/B", i) }
	s.sends("8", 40)
	stopped(8, `new_keys = ["north/episodes/2026-01-08"]`)
	s.f.write("practice.toml", practiceText+"[drift]\nnew_keys = [\"north/episodes/2026-01-07\"]\n")
	stopped(9, "rekey.csv")
	s.f.write("practice.toml", practiceText+"[drift]\nnew_keys = [\"north/episodes/2026-01-08\"]\n")
	if _, err := s.f.moved(10); err != nil {
		t.Fatal(err)
	}
}

func fileOf(t *testing.T, l *warehouse.Landing, path string) int {
	t.Helper()
	files, err := l.Files(t.Context(), newest)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Path == path {
			return f.File
		}
	}
	t.Fatalf("no file %s", path)
	return 0
}
