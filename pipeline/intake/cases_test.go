package intake

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/tools/txtar"

	"evenlimb/pipeline/warehouse"
)

// TestCases runs the text files of testdata/intake. In each, a file named
// DATE/SENDER/NAME is dropped before the night of that date, a layout is in force
// from where it stands, and want holds what the nights say of their files, rows
// and findings.
func TestCases(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/intake/*.txtar")
	if err != nil || len(paths) < 10 {
		t.Fatalf("%d cases, %v", len(paths), err)
	}
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			t.Parallel()
			archive, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			f := newFolder(t)
			l := f.open()
			defer shut(t, l)
			var got strings.Builder
			want, seen := "", ""
			night := func(date string) {
				if date == "" {
					return
				}
				now, err := time.Parse(time.DateOnly, date)
				if err != nil {
					t.Fatal(err)
				}
				report, err := Run(t.Context(), Input{Dir: f.dir, Landing: l, Now: now.Add(12 * time.Hour), Program: "test"})
				if err != nil {
					t.Fatal(err)
				}
				tell(t, &got, l, report)
			}
			for _, file := range archive.Files {
				date, below, dropped := strings.Cut(file.Name, "/")
				if !dropped {
					want = string(file.Data)
					continue
				}
				if date != seen {
					night(seen)
					seen = date
				}
				if date == "layouts" {
					f.write(file.Name, string(file.Data))
					seen = ""
					continue
				}
				f.write(filepath.Join("inbox", below), unescape(string(file.Data)))
			}
			night(seen)
			if got.String() != want {
				t.Errorf("got:\n%s\nwant:\n%s", got.String(), want)
			}
			checkSums(t, l)
		})
	}
}

// unescape writes out what a text file cannot show: \r, \0, \xff and the byte
// order mark.
func unescape(text string) string {
	return strings.NewReplacer(`\r`, "\r", `\0`, "\x00", `\xff`, "\xff", `\bom`, "\xef\xbb\xbf").Replace(text)
}

// tell writes a report down as want has it.
func tell(t *testing.T, b *strings.Builder, l *warehouse.Landing, report Report) {
	t.Helper()
	fmt.Fprintf(b, "batch %d of %s", report.Batch.Number, report.Batch.ReceivedOn.Format(time.DateOnly))
	if !report.New {
		b.WriteString(", nothing new")
	}
	if report.ClockBack {
		b.WriteString(", the clock went back")
	}
	b.WriteString("\n")
	files, err := l.Files(t.Context(), newest)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Batch != report.Batch.Number || !report.New {
			continue
		}
		c := f.Counts
		fmt.Fprintf(b, "%s: ", f.Path)
		if f.Problem.Code != "" {
			fmt.Fprintf(b, "%s: %s\n", f.Problem.Code, f.Problem.Words)
			continue
		}
		fmt.Fprintf(b, "%s, %d read: %d accepted, %d duplicates, %d corrections, %d withdrawals, %d quarantined",
			f.Table, c.Read, c.Accepted, c.Duplicates, c.Corrections, c.Withdrawals, c.Quarantined)
		if f.Layout != "" {
			fmt.Fprintf(b, "; %d passed over, %d gone; %s by %s", c.Skipped, c.Gone, f.Form, f.Layout)
		}
		b.WriteString("\n")
		rejected, err := l.Quarantine(t.Context(), f.File)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rejected {
			fmt.Fprintf(b, "  line %d: %s\n", r.Line, strings.Join(r.Reasons, " "))
			for _, words := range r.Words {
				fmt.Fprintf(b, "    %s\n", words)
			}
		}
		findings, err := l.FileFindings(t.Context(), f.File)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range findings {
			fmt.Fprintf(b, "  %s in %d rows, lines %v: %s\n", n.Code, n.Count, n.Lines, n.Words)
		}
	}
	for _, trouble := range report.Trouble {
		fmt.Fprintf(b, "left %s: %s: %s\n", trouble.Path, trouble.Code, trouble.Words)
	}
}

// checkSums holds the counts of every file against what the store holds.
func checkSums(t *testing.T, l *warehouse.Landing) {
	t.Helper()
	files, err := l.Files(t.Context(), newest)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		c := f.Counts
		if c.Read != c.Accepted+c.Duplicates+c.Corrections+c.Withdrawals+c.Quarantined {
			t.Errorf("%s: the sum does not hold: %+v", f.Path, c)
		}
		rejected, err := l.Quarantine(t.Context(), f.File)
		if err != nil || len(rejected) != c.Quarantined {
			t.Errorf("%s: %d rows in quarantine, counted %d, %v", f.Path, len(rejected), c.Quarantined, err)
		}
	}
}

func TestQuarantineFile(t *testing.T) {
	f := newFolder(t)
	f.write("inbox/north/odd names/a b.csv", "session_id,episode_id,session_date,attendance,minutes\n=1+1,e1,2026-01-01,attended,\"-5\"\n@x,e1,\"2026-01-01\",came,+x\n\"s3,e1,2026-01-01,attended,5\n")
	report := f.take(january(5))
	path := report.Files[0].Quarantine
	if want := "quarantine/north/0001-1_odd_names_a_b.csv"; path != want {
		t.Fatalf("quarantine %q, want %q", path, want)
	}
	got, err := os.ReadFile(filepath.Join(f.dir, path)) //nolint:gosec // a file of the test
	if err != nil {
		t.Fatal(err)
	}
	want := `_line,_reasons,_words,session_id,episode_id,session_date,attendance,minutes
2,minutes:out_of_range,minutes: -5 lies outside 0 to 300 and can only be a slip,'=1+1,e1,2026-01-01,attended,-5
3,attendance:unknown_code;minutes:not_a_number,"attendance: ""came"" is not a known code; known are attended, missed, cancelled; minutes: ""+x"" is not a number",'@x,e1,2026-01-01,came,'+x
4,quotes_broken,the quotes of the row do not close where a cell ends; a quote inside a cell is written twice,"""s3,e1,2026-01-01,attended,5"
`
	if string(got) != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
	for _, private := range []string{path, "archive/index.ndjson", "archive/" + report.Files[0].SHA256 + ".zst", "landing.duckdb"} {
		if state, err := os.Stat(filepath.Join(f.dir, private)); err != nil || state.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v; want mode 0600", private, state.Mode(), err)
		}
	}
}
