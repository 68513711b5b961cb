package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/cmd/internal/publish"
	"evenlimb/cmd/internal/trace"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
)

// traced is how many published figures are followed to their lines.
const traced = 50

// TestFiguresAreFollowedToTheirLines follows published figures to file and
// line, and reads the very bytes that were dropped: the row that begins on that
// physical line must hold the key, blank lines and line breaks in quotes
// counted. That the rows give the figure again is tested with the warehouse.
func TestFiguresAreFollowedToTheirLines(t *testing.T) {
	home, err := small()
	if err != nil {
		t.Fatal(err)
	}
	dir, engine := folder.Dir(home), warehouse.Engine{}
	release, err := publish.Find(t.Context(), dir, engine, "return.24m", publishedMonth(t, home))
	if err != nil || release == nil {
		t.Fatalf("no release: %v", err)
	}
	a, err := assemble.OpenMonth(t.Context(), dir, engine, release.Entry.Batch, release.Month, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	}()
	set, err := a.Warehouse.Figures(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	step := max(1, len(set.Figures)/traced)
	files, read := map[string][]byte{}, map[string]intake.Lines{}
	followed, quoted, blank := 0, 0, 0
	for i := 0; i < len(set.Figures) && followed < traced; i += step {
		found, err := trace.Follow(t.Context(), a.Warehouse, set.Figures[i].ID)
		if err != nil {
			t.Fatal(err)
		}
		followed++
		for _, l := range found.Lines {
			if files[l.Path] == nil {
				if files[l.Path], err = os.ReadFile(filepath.Join(home, "inbox", filepath.FromSlash(l.Path))); err != nil { //nolint:gosec // a file of the practice that the test made
					t.Fatal(err)
				}
				text := files[l.Path]
				quoted += bytes.Count(text, []byte(`"`))
				blank += bytes.Count(text, []byte("\n\n")) + bytes.Count(text, []byte("\r\n\r\n"))
			}
			if head, _, _ := bytes.Cut(files[l.Path], []byte("\n")); l.Form != canonical || !bytes.Contains(head, []byte("_id")) {
				followLayout(t, home, l, read)
				continue
			}
			cells := rowAt(t, files[l.Path], l.Line)
			for _, part := range strings.FieldsFunc(l.Key, func(r rune) bool { return r == ' ' || r == '|' }) { // some keys are made of several cells
				if !slices.Contains(cells, part) {
					t.Fatalf("%s: %s line %d holds %v, not %s", set.Figures[i].ID, l.Path, l.Line, cells, l.Key)
				}
			}
		}
	}
	if followed < traced || quoted == 0 || blank == 0 {
		t.Errorf("followed %d figures; quotes in their files: %d, blank lines: %d", followed, quoted, blank)
	}
}

// canonical is the form of files whose rows this test reads by itself, when they
// have the practice's own headings.
const canonical = "csv, comma, utf-8"

// followLayout finds a row in a file of another form. A layout may have made its
// key of several cells, so one part of it must stand there; the keys of plans and
// follow-ups are days and codes, which the file may write otherwise.
func followLayout(t *testing.T, home string, l warehouse.SourceLine, read map[string]intake.Lines) {
	t.Helper()
	file, ok := read[l.SHA256+l.Form]
	if !ok {
		var err error
		if file, err = intake.ReadLines(home, l.SHA256, l.Form); err != nil {
			t.Fatal(err)
		}
		read[l.SHA256+l.Form] = file
	}
	row, there := file.Rows[l.Line]
	if !there || len(row.Cells) != len(row.Headings) {
		t.Fatalf("%s has no row at %s", l.Path, file.Form.Place(l.Line))
	}
	if l.Key == "" || l.Table == "plans" || l.Table == "followups" {
		return
	}
	parts := strings.FieldsFunc(l.Key, func(r rune) bool { return r == ' ' || r == '|' || r == '/' })
	if !slices.ContainsFunc(parts, func(part string) bool { return slices.Contains(row.Cells, part) }) {
		t.Fatalf("%s, %s holds %v, and nothing of %s", l.Path, file.Form.Place(l.Line), row.Cells, l.Key)
	}
}

// rowAt reads the row that begins on a physical line, from 1.
func rowAt(t *testing.T, text []byte, line int) []string {
	t.Helper()
	for range line - 1 {
		_, rest, ok := bytes.Cut(text, []byte("\n"))
		if !ok {
			t.Fatalf("the file ends before line %d", line)
		}
		text = rest
	}
	cells, err := csv.NewReader(bytes.NewReader(text)).Read()
	if err != nil {
		t.Fatal(err)
	}
	return cells
}

// TestTraceWritesPersonsOnRequestOnly uses the command as its reader would.
func TestTraceWritesPersonsOnRequestOnly(t *testing.T) {
	dir := practiceFolder(t)
	const figure = "return.24m/began"
	r := runProgram(t, "trace", figure, "--practice", dir)
	if r.code != 0 || !strings.Contains(r.stdout, "published.return_episodes") {
		t.Fatalf("trace ended with %d: %s%s", r.code, r.stdout, r.stderr)
	}
	if _, err := os.Stat(filepath.Join(dir, "person_level")); !os.IsNotExist(err) {
		t.Errorf("a trace without --persons wrote person_level: %v", err)
	}
	r = runProgram(t, "trace", figure, "--practice", dir, "--persons", "--json")
	var answer struct {
		Lines   int
		Written string
	}
	if err := json.Unmarshal([]byte(r.stdout), &answer); err != nil || r.code != 0 {
		t.Fatalf("trace ended with %d: %v %s%s", r.code, err, r.stdout, r.stderr)
	}
	text, err := os.ReadFile(filepath.Join(answer.Written, "lines.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil || len(rows) != answer.Lines+1 || answer.Lines == 0 {
		t.Errorf("%d rows written for %d lines: %v", len(rows)-1, answer.Lines, err)
	}
	for _, row := range rows[1:] {
		if !strings.Contains(row[6], "=") {
			t.Errorf("a line without cells: %v", row)
		}
	}
	if _, err := os.Stat(filepath.Join(answer.Written, "READ-FIRST.txt")); err != nil {
		t.Error(err)
	}
}
