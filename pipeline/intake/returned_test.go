package intake

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
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
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFolder(t)
			if c.layouts != "" {
				f.write("layouts/a.toml", c.layouts)
				// A second one that the name of the quarantine file tells apart.
				f.write("layouts/b.toml", strings.Replace(c.layouts, "visits*", "others*", 1))
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
			f.write("layouts/b.toml", strings.Replace(wide, "visits*", "whole*", 1))
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
