package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// strange is a file with headings and words of its own, and one row that cannot
// be read.
const strange = `Visit no.;Case no.;Day of session;Attendance;Length (min);Pain before (0-10);Stopped early?
v1;c1;30.01.2026;attended;40,5;3;n
v2;c1;02.02.2026;attended;45;–;n
v3;c2;03.02.2026;attended;38;4;y
v4;c2;04.02.2026;missed;–;–;–
v5;c3;05.02.2026;attended;forty;2;n
`

// described is a practice with one site, and a file of its sender.
func described(t *testing.T, name, text string) (dir, file string) {
	t.Helper()
	dir = t.TempDir()
	settings := "[practice]\nname = \"Made Up\"\ncode = \"made-up\"\ntime_zone = \"UTC\"\n[[sites]]\ncode = \"north\"\nlabel = \"North\"\nsenders = [\"north\"]\n"
	file = filepath.Join(dir, "inbox", "north", name)
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		t.Fatal(err)
	}
	for path, content := range map[string]string{filepath.Join(dir, "practice.toml"): settings, file: text} {
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir, file
}

// all lists the files under a folder with what is in them.
func all(t *testing.T, dir string) map[string]string {
	t.Helper()
	found := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path) //nolint:gosec // a file of the test
		found[path] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

func TestLayoutIsDraftedTriedAndTakenIn(t *testing.T) {
	dir, file := described(t, "2026-02-06_visits.csv", strange)
	if r := inProcess(t, "2026-02-06", "layout", "propose", file, "--practice", dir); r.code != 0 || !strings.Contains(r.stdout, "a draft with 7 columns; 0 headings found no column") {
		t.Fatalf("propose: %+v", r)
	}
	drafted := filepath.Join(dir, "layouts", "north.toml")
	text, err := os.ReadFile(drafted) //nolint:gosec // a file of the test
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`decimal = ","`, `"day.month.year"`, `"–",`, "[table.columns.minutes]\nheading = \"Length (min)\"", `"n" = "false"`, "from    = 9999-12-31"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the draft lacks %s:\n%s", want, text)
		}
	}
	if r := inProcess(t, "2026-02-06", "layout", "propose", file, "--practice", dir); r.code != int(exitUsage) || !strings.Contains(r.stderr, "is there already") {
		t.Errorf("a second draft: %+v", r)
	}

	// A draft is no layout yet; tried, it changes nothing.
	before := all(t, dir)
	if r := inProcess(t, "2026-02-06", "layout", "try", file, "--practice", dir); r.code != int(exitAttention) || !strings.Contains(r.stdout, "Nothing of it would be taken in") {
		t.Errorf("try without a layout that holds: %+v", r)
	}
	r := inProcess(t, "2026-02-06", "layout", "try", file, "--layout", drafted, "--practice", dir)
	if r.code != int(exitAttention) || !strings.Contains(r.stdout, "sessions: 4 rows would be kept, 1 row would not") ||
		!strings.Contains(r.stdout, "first at line 6") || !strings.Contains(r.stdout, "minutes:not_a_number") || !strings.Contains(r.stdout, "40.5") || !strings.Contains(r.stdout, "2026-01-30") {
		t.Errorf("try: %+v", r)
	}
	after := all(t, dir)
	if len(after) != len(before) {
		t.Errorf("trying a file left %d files where there were %d", len(after), len(before))
	}
	for path, content := range before {
		if after[path] != content {
			t.Errorf("trying a file changed %s", path)
		}
	}

	// Once it holds, the intake does what the trial said.
	holds := strings.Replace(string(text), "9999-12-31", "2026-02-01", 1)
	if err := os.WriteFile(drafted, []byte(holds), 0o600); err != nil { //nolint:gosec // a file of the test
		t.Fatal(err)
	}
	if r := inProcess(t, "2026-02-06", "intake", "--practice", dir, "--quiet"); r.code != int(exitAttention) {
		t.Fatalf("intake: %+v", r)
	}
	if r := inProcess(t, "2026-02-06", "status", "--practice", dir); !strings.Contains(r.stdout, "4") || !strings.Contains(r.stdout, "layouts/north.toml") {
		t.Errorf("status: %+v", r)
	}
}

// A draft as a workbook can be gone over and comes back as a layout.
func TestDraftAsAWorkbook(t *testing.T) {
	dir, file := described(t, "visits.csv", strange)
	if r := inProcess(t, "2026-02-06", "layout", "propose", file, "--sheet", "--practice", dir); r.code != 0 {
		t.Fatalf("propose --sheet: %+v", r)
	}
	path := filepath.Join(dir, "layouts", "north.xlsx")
	book, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lists, err := book.GetDataValidations("Columns")
	if err != nil || len(lists) < 7 {
		t.Errorf("%d cells can be chosen from lists, %v", len(lists), err)
	}
	rows, err := book.GetRows("Columns")
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range rows {
		if row[2] == "Pain before (0-10)" { // a person chooses another column
			if err := book.SetCellStr("Columns", "E"+string(rune('1'+i)), "pain_after"); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := book.SetCellStr("File", "B4", "2026-02-01"); err != nil {
		t.Fatal(err)
	}
	if err := book.Save(); err != nil {
		t.Fatal(err)
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	r := inProcess(t, "2026-02-06", "layout", "propose", path, "--stdout", "--practice", dir)
	if r.code != 0 || !strings.Contains(r.stdout, "[table.columns.pain_after]\nheading = \"Pain before (0-10)\"") || !strings.Contains(r.stdout, "from    = 2026-02-01") || strings.Contains(r.stdout, "pain_before]") {
		t.Errorf("the workbook comes back as %+v", r)
	}
	if err := os.WriteFile(path, []byte("no workbook"), 0o600); err != nil {
		t.Fatal(err)
	}
	if r := inProcess(t, "2026-02-06", "layout", "propose", path, "--stdout", "--sender", "north", "--practice", dir); r.code == 0 {
		t.Errorf("something else: %+v", r)
	}
}

func TestLayoutRefusals(t *testing.T) {
	dir, named := described(t, "calls.csv", "episode_id,contact_on,first_name,surname\ne1,2026-01-05,Wenna,Oakhollow\ne2,2026-01-06,Tobiah,Saltgrove\n")
	elsewhere := filepath.Join(t.TempDir(), "visits.csv")
	if err := os.WriteFile(elsewhere, []byte(strange), 0o600); err != nil {
		t.Fatal(err)
	}
	nothing := filepath.Join(filepath.Dir(named), "shelf.csv")
	if err := os.WriteFile(nothing, []byte("shelf,thing\n1,band\n2,mat\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		args []string
		code exit
		says string
	}{
		{"a file with names in it", []string{"propose", named}, exitFailed, "first_name"},
		{"no sender", []string{"propose", elsewhere}, exitUsage, "--sender"},
		{"a sender that nobody knows", []string{"propose", elsewhere, "--sender", "south"}, exitUsage, "senders are north"},
		{"no such file", []string{"try", elsewhere + "x"}, exitUsage, "there is no file"},
		{"nothing like a table", []string{"propose", nothing}, exitFailed, "looks like an export table"},
		{"neither propose nor try", []string{"guess", named}, exitUsage, "can propose and try"},
		{"a name that is a path", []string{"propose", elsewhere, "--sender", "north", "--name", "../x"}, exitUsage, "cannot be the name"},
		{"a layout that is none", []string{"try", elsewhere, "--sender", "north", "--layout", named}, exitPractice, "calls.csv"},
	} {
		r := inProcess(t, "2026-02-06", append([]string{"layout", "--practice", dir}, c.args...)...)
		if r.code != int(c.code) || !strings.Contains(r.stderr, c.says) || strings.Contains(r.stderr+r.stdout, "Oakhollow") {
			t.Errorf("%s: %+v", c.what, r)
		}
	}
}
