package intake

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// TestReturned drops a broken file, corrects what comes back in quarantine, with
// the tools of a spreadsheet, and drops that in again as it is: every row is in,
// and the sums hold. The files are of several ways of writing.
func TestReturned(t *testing.T) {
	const wide = `sender = "north"
version = "1"
[file]
match = "visits*"
[cells]
decimal = ","
date = "day.month.year"
missing = "-"
[[table]]
name = "sessions"
columns.session_id.made_from = ["episode_id", "session_date"]
columns.episode_id.heading = "Fall"
columns.session_date.heading = "Tag"
columns.attendance.constant = "attended"
columns.minutes.heading = "Dauer"
columns.clinician_id.heading = "Team"
[[table]]
name = "measurements"
columns.episode_id.heading = "Fall"
columns.measured_on.heading = "Tag"
[[table.wide]]
heading = "Wade links (in)"
unit = "in"
set = { measure = "girth_calf", side = "left" }
[[table.wide]]
heading = "Wade rechts (in)"
unit = "in"
set = { measure = "girth_calf", side = "right" }
`
	for _, c := range []struct {
		name, layouts, file, text string
		corrections               []string // old, new, ...
		first, second             [3]int   // read, accepted, quarantined
		duplicates                int
		whole                     string // what the sender meant; it brings nothing new
	}{
		{
			"canonical, with formulas and broken quotes", "", "s.csv",
			"session_id,episode_id,session_date,attendance,clinician_id,minutes\n=1,e1,2026-01-01,came,'=c,-5\n'-x,e1,2026-01-02,came,+c,5\ns3,e1,2026-01-01,attended,,5\n\"s4,e1,2026-01-03,attended,,7\n",
			[]string{"came", "attended", ",-5\n", ",5\n", `"""s4,e1,2026-01-03,attended,,7"`, "s4,e1,2026-01-03,attended,,7"},
			[3]int{4, 1, 3},
			[3]int{3, 3, 0},
			0,
			"session_id,episode_id,session_date,attendance,clinician_id,minutes\n=1,e1,2026-01-01,attended,'=c,5\n'-x,e1,2026-01-02,attended,+c,5\ns3,e1,2026-01-01,attended,,5\ns4,e1,2026-01-03,attended,,7\n",
		},
		{
			"semicolons, decimal comma, Windows-1252, several tables and wide", wide, "visits.csv",
			"Fall;Tag;Dauer;Team;Wade links (in);Wade rechts (in)\ne1;2.1.2026;30,5;=M\xfcller;14,5;1x\ne1;3.1.2026;30.5;;14x;14y\ne2;4.1.2026;20;;-;14\ne2;5.1.2026\n",
			[]string{"1x", `"14,25"`, "30.5", `"30,5"`, "14x", "14", "14y", `"14,5"`, "e2,5.1.2026", "e2,5.1.2026,-,,-,15"},
			[3]int{9, 4, 5},
			[3]int{8, 6, 0},
			2,
			"Fall;Tag;Dauer;Team;Wade links (in);Wade rechts (in)\ne1;2.1.2026;30,5;=M\xfcller;14,5;14,25\ne1;3.1.2026;30,5;;14;14,5\ne2;4.1.2026;20;;-;14\ne2;5.1.2026;;;;15\n",
		},
		{
			"objects, a layout that is for all names and says how they are written", "sender = \"north\"\nversion = \"1\"\n[file]\nformat = \"ndjson\"\n[[table]]\nname = \"followups\"\ncolumns.episode_id.heading = \"case\"\ncolumns.contact_on.heading = \"day\"\ncolumns.reached.heading = \"spoken\"\n", "calls.ndjson",
			"{\"case\": \"e1\", \"day\": \"2026-01-02\", \"spoken\": true}\n{\"case\": \"e2\", \"day\": \"2.1.2026\", \"spoken\": \"perhaps\"}\n{\"case\": \"e3\"}\n",
			[]string{"2.1.2026", "2026-01-02", "perhaps", "false", "e3,,", "e3,2026-01-02,"},
			[3]int{3, 1, 2},
			[3]int{2, 2, 0},
			0,
			"{\"case\": \"e1\", \"day\": \"2026-01-02\", \"spoken\": true}\n{\"case\": \"e2\", \"day\": \"2026-01-02\", \"spoken\": false}\n{\"case\": \"e3\", \"day\": \"2026-01-02\"}\n",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			if c.layouts != "" {
				f.write("layouts/a.toml", c.layouts)
				if strings.Contains(c.layouts, "visits*") {
					// A second one, that the name of the quarantine file tells apart.
					f.write("layouts/b.toml", strings.Replace(c.layouts, "visits*", "others*", 1))
				}
			}
			f.write("inbox/north/"+c.file, c.text)
			report := f.take(january(10))
			one := report.Files[0]
			if got := [3]int{one.Counts.Read, one.Counts.Accepted, one.Counts.Quarantined}; got != c.first || one.Problem.Code != "" {
				t.Fatalf("first: %v, want %v; %+v", got, c.first, one)
			}
			text, err := os.ReadFile(filepath.Join(f.dir, one.Quarantine))
			if err != nil {
				t.Fatal(err)
			}
			corrected := string(text)
			for i := 0; i < len(c.corrections); i += 2 {
				// What a correction is for stands in the cells, not in the words before them.
				corrected = replaceLast(t, corrected, c.corrections[i], c.corrections[i+1])
			}
			f.write("inbox/north/"+filepath.Base(one.Quarantine), corrected)
			report = f.take(january(11))
			two := report.Files[0]
			if got := [3]int{two.Counts.Read, two.Counts.Accepted, two.Counts.Quarantined}; got != c.second || two.Counts.Duplicates != c.duplicates || two.Problem.Code != "" {
				t.Errorf("second: %v, want %v; %+v\n%s", got, c.second, two, corrected)
			}
			f.write("inbox/north/whole_"+c.file, c.whole)
			if strings.Contains(c.layouts, "visits*") {
				f.write("layouts/b.toml", strings.Replace(wide, "visits*", "whole*", 1))
			}
			report = f.take(january(12))
			if three := report.Files[0]; three.Counts.Read != three.Counts.Duplicates || three.Counts.Read == 0 {
				t.Errorf("what was meant, sent whole: %+v", three)
			}
			l := f.open()
			defer shut(t, l)
			checkSums(t, l)
		})
	}
}

// TestReturnedRowsAreNoDelivery drops again one row of a complete delivery, which
// withdraws nothing, and one that is numbered by its place, which stays out.
func TestReturnedRowsAreNoDelivery(t *testing.T) {
	f := newFolder(t)
	f.write("layouts/a.toml", `sender = "north"
version = "1"
[delivery]
kind = "complete"
site = "north"
[[table]]
name = "episodes"
columns.episode_id.heading = "case"
columns.site.constant = "north"
columns.injury_type.constant = "calf_strain"
columns.side.constant = "left"
columns.start_date.heading = "start"
[[table]]
name = "bouts"
columns.session_id.heading = "visit"
columns.bout_no.number_within = "session_id"
columns.exercise.constant = "knee_extension"
columns.sets.heading = "sets"
`)
	f.write("inbox/north/cases.csv", "case,start\ne1,2026-01-01\ne2,soon\ne3,2026-01-01\n")
	f.write("inbox/north/work.csv", "visit,sets\ns1,3\ns1,x\ns1,4\n")
	for _, one := range f.take(january(10)).Files {
		text, err := os.ReadFile(filepath.Join(f.dir, one.Quarantine))
		if err != nil {
			t.Fatal(err)
		}
		corrected := strings.NewReplacer("e2,soon", "e2,2026-01-01", "s1,x", "s1,3").Replace(string(text))
		f.write("inbox/north/"+filepath.Base(one.Quarantine), corrected)
	}
	report := f.take(january(11))
	for i, want := range []warehouse.Counts{{Read: 1, Accepted: 1}, {Read: 1, Quarantined: 1}} {
		if got := report.Files[i].Counts; got != want {
			t.Errorf("%s: %+v, want %+v", report.Files[i].Path, got, want)
		}
	}
	f.write("inbox/north/work2.csv", "visit,sets\ns1,3\ns1,3\ns1,4\n")
	if got, want := f.take(january(12)).Files[0].Counts, (warehouse.Counts{Read: 3, Accepted: 1, Duplicates: 2}); got != want {
		t.Errorf("the whole file, corrected: %+v, want %+v", got, want)
	}
}

// TestReturnedWorkbook does the same with a workbook, whose sheets come back in a
// file each.
func TestReturnedWorkbook(t *testing.T) {
	book := func(minutes, way string) string {
		x := excelize.NewFile()
		for _, sheet := range []struct {
			name string
			rows [][]any
		}{
			{"Visits", [][]any{{"Visits of the year", nil}, {"S", "Case", "Day", "Minutes"}, {"s1", "e1", "2026-01-02", minutes}, {"s2", "e1", "2026-01-03", 30}}},
			{"Calls", [][]any{{"Case", "Day", "How"}, {"e1", "2026-01-04", way}, {"e2", "2026-01-05", "visit"}}},
		} {
			if _, err := x.NewSheet(sheet.name); err != nil {
				t.Fatal(err)
			}
			for i, row := range sheet.rows {
				if err := x.SetSheetRow(sheet.name, fmt.Sprintf("A%d", i+1), &row); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := x.DeleteSheet("Sheet1"); err != nil {
			t.Fatal(err)
		}
		text, err := x.WriteToBuffer()
		if err != nil {
			t.Fatal(err)
		}
		return text.String()
	}
	f := newFolder(t)
	f.write("layouts/a.toml", `sender = "north"
version = "1"
[[table]]
name = "sessions"
columns.session_id.heading = "S"
columns.episode_id.heading = "Case"
columns.session_date.heading = "Day"
columns.attendance.constant = "attended"
columns.minutes.heading = "Minutes"
[[table]]
name = "followups"
sheets = "Calls"
columns.episode_id.heading = "Case"
columns.contact_on.heading = "Day"
columns.way.heading = "How"
`)
	f.write("inbox/north/book.xlsx", book("half an hour", "pigeon"))
	one := f.take(january(10)).Files[0]
	if one.Counts.Read != 4 || one.Counts.Accepted != 2 || one.Counts.Quarantined != 2 || one.Table != "sessions,followups" {
		t.Fatalf("first: %+v", one)
	}
	first := filepath.Join(f.dir, one.Quarantine)
	names, err := filepath.Glob(strings.TrimSuffix(first, ".csv") + "*")
	if err != nil || len(names) != 2 {
		t.Fatalf("quarantine: %q, %v", names, err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name) //nolint:gosec // a file of the test
		if err != nil {
			t.Fatal(err)
		}
		old, to := "half an hour", "30"
		if strings.Contains(string(text), "pigeon") {
			old, to = "pigeon", "phone"
		}
		f.write("inbox/north/"+filepath.Base(name), replaceLast(t, string(text), old, to))
	}
	for _, two := range f.take(january(11)).Files {
		if two.Counts.Read != 1 || two.Counts.Accepted != 1 {
			t.Errorf("second: %+v", two)
		}
	}
	f.write("inbox/north/book2.xlsx", book("30", "phone"))
	if three := f.take(january(12)).Files[0]; three.Counts.Read != 4 || three.Counts.Duplicates != 4 {
		t.Errorf("what was meant, sent whole: %+v", three)
	}
}

// TestWrongLayouts names all that is wrong in all layouts, and takes nothing in.
func TestWrongLayouts(t *testing.T) {
	f := newFolder(t)
	f.write("layouts/a.toml", "sender = \"nroth\"\n")
	f.write("layouts/b.toml", "sender = \"north\"\nversion = \"1\"\n[[table]]\nname = \"sesions\"\n")
	f.write("inbox/north/a.csv", "session_id,episode_id,session_date,attendance\ns1,e1,2026-01-01,attended\n")
	l := f.open()
	defer shut(t, l)
	_, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: january(5), Program: "test"})
	var problems *settings.Problems
	if !errors.As(err, &problems) {
		t.Fatalf("got %v", err)
	}
	for _, want := range []string{"layouts/a.toml:1:1: no site of practice.toml names the sender \"nroth\"", "layouts/a.toml:1:1: version is missing", "layouts/b.toml:4:8: there is no export table \"sesions\""} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in:\n%v", want, err)
		}
	}
	batches, err := l.Batches(t.Context())
	if err != nil || len(batches) != 0 {
		t.Errorf("%d batches, %v", len(batches), err)
	}
}

// replaceLast replaces a text in the last place of each line that holds it.
func replaceLast(t *testing.T, text, old, to string) string {
	t.Helper()
	if strings.HasSuffix(old, "\n") {
		return strings.ReplaceAll(text, old, to)
	}
	lines := strings.SplitAfter(text, "\n")
	found := false
	for i, line := range lines {
		if at := strings.LastIndex(line, old); at >= 0 {
			lines[i], found = line[:at]+to+line[at+len(old):], true
		}
	}
	if !found {
		t.Fatalf("%q does not stand in:\n%s", old, text)
	}
	return strings.Join(lines, "")
}

func TestHarmless(t *testing.T) {
	sent := []string{"=1+1", "'=1+1", "''=1", "-5", "'-5", "-x", "+", "@a", "\tx", "'", "''", "'a", "it's", "", "12", "ü"}
	safe := harmless(sent)
	for i, text := range safe {
		if text != "" && strings.ContainsRune("=+@\t\r", rune(text[0])) || strings.HasPrefix(text, "-") && text != "-5" {
			t.Errorf("%q is written as %q", sent[i], text)
		}
	}
	if got := asSent(safe); !reflect.DeepEqual(got, sent) {
		t.Errorf("got %q, want %q", got, sent)
	}
}

func FuzzHarmless(f *testing.F) {
	for _, text := range []string{"=1", "'=1", "-5", "'-5", "''", "\r"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		safe := harmless([]string{text})
		if back := asSent(safe); back[0] != text {
			t.Errorf("%q came back as %q", text, back[0])
		}
		var b strings.Builder
		if err := csv.NewWriter(&b).Write(safe); err != nil {
			t.Error(err)
		}
	})
}
