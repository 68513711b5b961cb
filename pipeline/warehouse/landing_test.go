package warehouse

import (
	"crypto/md5" //nolint:gosec // stands for the content of a row
	"database/sql/driver"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

func newLanding(t *testing.T) *Landing {
	t.Helper()
	l, err := OpenLanding(t.Context(), filepath.Join(t.TempDir(), "landing.duckdb"), Engine{Threads: 1, MemoryMB: 256})
	if err != nil {
		t.Fatal(err)
	}
	closeAtEnd(t, l)
	return l
}

func january(day int) time.Time { return time.Date(2026, 1, day, 0, 0, 0, 0, time.UTC) }

var followups, _ = export.Find("followups")

// followup makes a row of the table followups.
func followup(line int, key, way string) Row {
	cells := make([]driver.Value, len(followups.Columns))
	cells[0], cells[1], cells[2] = key, january(1), way
	return Row{Line: line, Key: "id:" + key, Content: md5.Sum([]byte(way)), Cells: cells} //nolint:gosec // as above
}

func withdrawn(line int, key string) Row {
	r := followup(line, key, "")
	r.Withdrawn, r.Cells[2] = true, nil
	return r
}

// loadFollowups takes in one file of followups in a batch of its own.
func loadFollowups(t *testing.T, l *Landing, path string, rows ...Row) (Counts, []Outcome) {
	t.Helper()
	batch, _, err := l.OpenBatch(t.Context(), january(5), "test", []Planned{{Sender: "north", Path: path, SHA256: path, Bytes: 1}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	f := beginFollowups(t, l, batch.Number, path)
	outcomes, err := f.Add(t.Context(), followups, rows)
	if err != nil {
		t.Fatal(err)
	}
	counts, err := f.Finish(t.Context(), FileEnd{Read: len(rows), Headings: []string{"episode_id"}})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.CloseBatch(t.Context(), batch.Number); err != nil {
		t.Fatal(err)
	}
	return counts, outcomes
}

func beginFollowups(t *testing.T, l *Landing, batch int, path string) *FileLoad {
	t.Helper()
	f, err := l.BeginFile(t.Context(), batch, Planned{Sender: "north", Path: path, SHA256: path, Bytes: 1})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestVersionsAreJudgedAgainstTheOneInForce(t *testing.T) {
	l := newLanding(t)
	steps := []struct {
		row  Row
		want Outcome
	}{
		{followup(2, "a", "visit"), Outcome{Accepted, false}},
		{followup(3, "a", "visit"), Outcome{Duplicate, true}},
		{followup(4, "a", "phone"), Outcome{Correction, true}},
		{followup(5, "a", "visit"), Outcome{Correction, true}},
		{withdrawn(6, "a"), Outcome{Withdrawal, true}},
		{withdrawn(7, "a"), Outcome{Duplicate, true}},
		{followup(8, "a", "visit"), Outcome{Correction, true}},
		{withdrawn(9, "never seen"), Outcome{Withdrawal, false}},
		{followup(10, "never seen", "form"), Outcome{Correction, true}},
	}
	// All in one file, and each in a file of its own, must come to the same
	// but for what stood in the same file before.
	var rows []Row
	for _, s := range steps {
		rows = append(rows, s.row)
	}
	_, outcomes := loadFollowups(t, l, "one", rows...)
	other := newLanding(t)
	for i, s := range steps {
		if outcomes[i] != s.want {
			t.Errorf("line %d: %+v, want %+v", s.row.Line, outcomes[i], s.want)
		}
		_, single := loadFollowups(t, other, fmt.Sprintf("file%d", i), s.row)
		if want := (Outcome{s.want.Action, false}); single[0] != want {
			t.Errorf("line %d in a file of its own: %+v, want %+v", s.row.Line, single[0], want)
		}
	}
	counts, _ := loadFollowups(t, l, "two", followup(2, "a", "visit"), followup(3, "b", "visit"))
	if want := (Counts{Read: 2, Accepted: 1, Duplicates: 1}); counts != want {
		t.Errorf("second file: %+v, want %+v", counts, want)
	}
}

func TestAFileIsWhollyInOrOut(t *testing.T) {
	l := newLanding(t)
	plan := []Planned{{Sender: "north", Path: "a", SHA256: "a", Bytes: 1}, {Sender: "north", Path: "b", SHA256: "b", Bytes: 1}}
	batch, _, err := l.OpenBatch(t.Context(), january(5), "test", plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	empty := func(what string) {
		t.Helper()
		var rows int
		const all = "select (select count(*) from followups) + (select count(*) from files) + (select count(*) from quarantine) + (select count(*) from file_findings)"
		if err := l.db.QueryRowContext(t.Context(), all).Scan(&rows); err != nil || rows != 0 {
			t.Errorf("%s: %d rows are in, %v", what, rows, err)
		}
	}
	half := func() *FileLoad {
		f := beginFollowups(t, l, batch.Number, "a")
		if _, err := f.Add(t.Context(), followups, []Row{followup(2, "a", "visit")}); err != nil {
			t.Fatal(err)
		}
		if err := f.Reject([]Rejected{{Line: 3, Reasons: []string{"way:unknown_code"}, Words: []string{"way"}, Cells: []string{"x"}}}); err != nil {
			t.Fatal(err)
		}
		return f
	}
	if err := half().Abort(); err != nil {
		t.Fatal(err)
	}
	empty("aborted")
	_, err = half().Finish(t.Context(), FileEnd{Read: 3, Findings: []FileFinding{{Code: "x", Count: 1, Lines: []int{2}, Words: "x"}}})
	if err == nil || !strings.Contains(err.Error(), "3 rows were read but 1 accepted") {
		t.Errorf("a sum that does not hold: %v", err)
	}
	empty("a sum that does not hold")
	if err := l.CloseBatch(t.Context(), batch.Number); err == nil {
		t.Error("a batch was closed before its files were in")
	}
	if _, err := half().Finish(t.Context(), FileEnd{Read: 2}); err != nil {
		t.Fatal(err)
	}
	if _, err := l.BeginFile(t.Context(), batch.Number, plan[0]); err == nil || !strings.Contains(err.Error(), "in already") {
		t.Errorf("a file twice: %v", err)
	}
	open, rest, ok, err := l.ResumeBatch(t.Context())
	if err != nil || !ok || open.Number != batch.Number || !reflect.DeepEqual(rest, plan[1:]) {
		t.Errorf("resume: %+v, %+v, %t, %v", open, rest, ok, err)
	}
	if _, _, err := l.OpenBatch(t.Context(), january(6), "test", nil, nil); err == nil || !strings.Contains(err.Error(), "finished first") {
		t.Errorf("a second open batch: %v", err)
	}
	if _, err := l.BeginFile(t.Context(), batch.Number+1, plan[1]); err == nil || !strings.Contains(err.Error(), "not open") {
		t.Errorf("a file of a batch that is not open: %v", err)
	}
}

func TestBatches(t *testing.T) {
	l := newLanding(t)
	if _, _, err := l.OpenBatch(t.Context(), january(5), "test", []Planned{{Path: "b"}, {Path: "a"}}, nil); err == nil {
		t.Error("a plan out of order was taken")
	}
	var got []string
	for _, day := range []int{5, 5, 3, 9} {
		b, back, err := l.OpenBatch(t.Context(), january(day), "test", nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprintf("%d on %d back %t", b.Number, b.ReceivedOn.Day(), back))
		if err := l.CloseBatch(t.Context(), b.Number); err != nil {
			t.Fatal(err)
		}
	}
	if want := "1 on 5 back false; 2 on 5 back false; 3 on 5 back true; 4 on 9 back false"; strings.Join(got, "; ") != want {
		t.Errorf("got %s, want %s", strings.Join(got, "; "), want)
	}
	for day, want := range map[int]int{4: 0, 5: 3, 8: 3, 9: 4, 30: 4} {
		b, ok, err := l.BatchAsOf(t.Context(), january(day))
		if err != nil || b.Number != want || ok != (want > 0) {
			t.Errorf("as of the %dth: %d, %t, %v; want %d", day, b.Number, ok, err, want)
		}
	}
	if _, err := l.Batch(t.Context(), 9); err == nil || !strings.Contains(err.Error(), "the newest is 4") {
		t.Errorf("a batch that is not there: %v", err)
	}
	if _, err := l.PracticeAt(t.Context(), 4); err == nil || !strings.Contains(err.Error(), settings.PracticeFile) {
		t.Errorf("no settings: %v", err)
	}
}

func TestRegister(t *testing.T) {
	l := newLanding(t)
	value, persons := 0.5, 40
	first := Publication{
		Report: "monthly", Period: "2026-01", Revision: 1, Batch: 3, Audience: "circulating", Folder: "reports/2026-01", ManifestSHA256: "m",
		Files:   []PublishedFile{{"figures.csv", "f"}, {"monthly.html", "h"}},
		Figures: []PublishedFigure{{ID: "return.a/share@w6", Shown: "50 %", Value: &value, Persons: &persons, Status: "final", DefinitionHash: "d"}, {ID: "return.b/share@w6", Shown: "fewer than 10", Status: "hidden"}},
	}
	number, err := l.Register(t.Context(), first)
	if err != nil || number != 1 {
		t.Fatal(number, err)
	}
	if _, err := l.Register(t.Context(), first); err == nil {
		t.Error("one revision was registered twice")
	}
	left, err := l.Unfinished(t.Context())
	first.Number = 1
	want := first
	want.Figures = nil
	if err != nil || !reflect.DeepEqual(left, []Publication{want}) {
		t.Errorf("unfinished: %+v, %v", left, err)
	}
	if err := l.MarkRenamed(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	if left, err := l.Unfinished(t.Context()); err != nil || len(left) != 0 {
		t.Errorf("unfinished after the rename: %+v, %v", left, err)
	}
	figures, err := l.FiguresOf(t.Context(), 1)
	if err != nil || !reflect.DeepEqual(figures, first.Figures) {
		t.Errorf("figures: %+v, %v", figures, err)
	}
	second := first
	second.Revision = 2
	if number, err := l.Register(t.Context(), second); err != nil || number != 2 {
		t.Fatal(number, err)
	}
	for before, want := range map[int]int{0: 2, 1: 0, 2: 1} {
		if list, err := l.Publications(t.Context(), before); err != nil || len(list) != want {
			t.Errorf("before %d: %d entries, %v; want %d", before, len(list), err, want)
		}
	}
}

func TestLedger(t *testing.T) {
	l := newLanding(t)
	run := func(command string, code int, findings ...string) {
		t.Helper()
		number, err := l.StartRun(t.Context(), command, "test", january(5))
		if err != nil {
			t.Fatal(err)
		}
		var known []KnownFinding
		for _, f := range findings {
			known = append(known, KnownFinding{f, "words"})
		}
		if err := l.EndRun(t.Context(), Run{Number: number, Batch: 1, Ended: january(6), Outcome: "done", ExitCode: code}, known); err != nil {
			t.Fatal(err)
		}
		if err := l.EndRun(t.Context(), Run{Number: number}, nil); err == nil {
			t.Error("a run ended twice")
		}
	}
	known := func(want ...string) {
		t.Helper()
		got, err := l.KnownFindings(t.Context(), "nightly", 0, 3)
		if err != nil || len(got) != len(want) {
			t.Errorf("known %v, %v; want %v", got, err, want)
		}
		for _, w := range want {
			if !got[w] {
				t.Errorf("known %v; want %v", got, want)
			}
		}
	}
	known()
	run("nightly", 3, "a", "b")
	known("a", "b")
	run("nightly", 1, "c")
	run("intake", 0, "d")
	known("a", "b")
	if _, err := l.StartRun(t.Context(), "nightly", "test", january(7)); err != nil { // cut off
		t.Fatal(err)
	}
	known("a", "b")
	run("nightly", 0)
	known()
	runs, err := l.Runs(t.Context(), 2)
	if err != nil || len(runs) != 2 || runs[0].Number != 5 || !runs[1].Ended.IsZero() || runs[0].Outcome != "done" {
		t.Errorf("runs %+v, %v", runs, err)
	}
	if err := l.LogTrace(t.Context(), 0, "return.a/share@w6", 1, "person_level/x", 12); err != nil {
		t.Error(err)
	}
}

func TestOpenLandingRefusesANewerStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "landing.duckdb")
	l, err := OpenLanding(t.Context(), path, Engine{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.db.ExecContext(t.Context(), "update store set version = 99"); err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenLanding(t.Context(), path, Engine{}); err == nil || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("got %v", err)
	}
	other := filepath.Join(t.TempDir(), "other.duckdb")
	db, err := openDB(t.Context(), other, Engine{}, readWrite)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := OpenLanding(t.Context(), other, Engine{}); err == nil || !strings.Contains(err.Error(), "not a landing store") {
		t.Errorf("got %v", err)
	}
}
