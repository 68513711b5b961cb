package intake

import (
	"bytes"
	"compress/gzip"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const namesSession = "session_id,episode_id,session_date,attendance,clinician_id\ns1,e1,2026-01-01,attended,Mary Collins\ns2,e1,2026-01-02,attended,John Barker\n"

// kept lists what the archive and the quarantine hold, but for the index and
// the settings.
func (f folder) kept() (list []string) {
	f.t.Helper()
	for _, path := range slices.Sorted(maps.Keys(f.snapshot())) {
		folder, name := filepath.Split(path)
		switch {
		case folder == "archive/" && name != indexFile:
			src, err := OpenArchived(f.dir, strings.TrimSuffix(name, ".zst"))
			if err != nil {
				f.t.Fatal(err)
			}
			text, err := io.ReadAll(src)
			if err != nil {
				f.t.Fatal(err)
			}
			shut(f.t, src)
			if !bytes.Contains(text, []byte("[practice]")) {
				list = append(list, string(text))
			}
		case strings.HasPrefix(path, "quarantine"):
			list = append(list, path)
		}
	}
	return list
}

// TestAFileWithNamesIsRefusedWhole also allows the column afterwards.
func TestAFileWithNamesIsRefusedWhole(t *testing.T) {
	t.Parallel()
	f := newFolder(t)
	f.write("inbox/north/names.csv", namesSession)
	got, _ := f.night(5)
	if got.Problem.Code != "identity" || !strings.Contains(got.Problem.Words, "clinician_id") || strings.Contains(got.Problem.Words, "Collins") || got.Counts.Read != 0 {
		t.Fatalf("a file with names: %+v", got)
	}
	if left := f.kept(); len(left) > 0 {
		t.Errorf("kept of it: %q", left)
	}
	if index, err := os.ReadFile(filepath.Join(f.dir, "archive", indexFile)); err != nil || !strings.Contains(string(index), `"refused":"identity"`) || strings.Contains(string(index), "Collins") {
		t.Errorf("the index says %s, %v", index, err)
	}
	if got, _ := f.night(6); got.Path != "" {
		t.Errorf("it was looked at again: %+v", got)
	}
	f.write("practice.toml", practiceText+"[guard]\nallow = [\"north/clinician_id\"]\n")
	got, _ = f.night(7)
	if got.Problem.Code != "" || got.Counts.Accepted != 2 || len(got.Findings) != 1 || got.Findings[0].Code != "guard_allowed" {
		t.Errorf("allowed: %+v", got)
	}
	if left := f.kept(); len(left) != 1 || left[0] != namesSession {
		t.Errorf("kept of it: %q", left)
	}
}

// TestAFileThatCannotBeReadToItsEndIsNotKept: nobody knows what the rest holds.
func TestAFileThatCannotBeReadToItsEndIsNotKept(t *testing.T) {
	t.Parallel()
	f := newFolder(t)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	if _, err := io.WriteString(w, oneSession); err != nil {
		t.Fatal(err)
	}
	shut(t, w)
	f.write("inbox/north/cut.csv.gz", packed.String()[:packed.Len()-9])
	f.write("inbox/north/whole.csv.gz", packed.String())
	got, _ := f.night(5)
	if got.Path != "north/whole.csv.gz" || got.Counts.Accepted != 1 {
		t.Errorf("the whole file: %+v", got)
	}
	if left := f.kept(); len(left) != 1 || left[0] != packed.String() {
		t.Errorf("kept: %q", left)
	}
	f.look(func(rows func(string) []string) {
		if got := rows("select coalesce(problem_code, '') from files order by file"); len(got) != 2 || got[0] == "" || got[1] != "" {
			t.Errorf("problems %q", got)
		}
	})
}
