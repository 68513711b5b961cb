package settings

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

const least = `
[practice]
name = "Two Rivers"
code = "two_rivers"
[[sites]]
code = "north"
label = "North"
senders = ["north"]
`

func TestDefaults(t *testing.T) {
	p, err := Parse([]byte(least), PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	want := Practice{
		Name: "Two Rivers", Code: "two_rivers", TimeZone: "UTC",
		Sites:       []Site{{"north", "North", []string{"north"}}},
		InjuryTypes: codeTableTypes(),
		Return:      Return{24, 14, 0, 28, 28, []int{6, 12, 26}, []int{26, 12, 6}, 10, 365},
		Symmetry:    Symmetry{7, 28, 7, []int{4, 10}, 52, 2, 10, []int{6, 12, 26}, 90, []int{12, 26}, 12},
		Dose:        Dose{80, 26, 20, 5, 50, 15, 30, 10, 10},
		Progression: Progression{5, 10, 5, 5, 7, 21},
		Tolerance:   Tolerance{[]int{40, 60, 80}, 14},
		Scores:      Scores{[]int{6, 12, 26}, 2, 10, 12},
		Safety:      Safety{20},
		Report:      Report{21, 14},
		SmallCounts: SmallCounts{10, 20, 5, 20, "normal"},
		Intake:      Intake{2, 30},
		Guard:       Guard{[]string{}, []string{}},
		Drift:       Drift{[]string{}},
		Engine:      Engine{0, 1024},
	}
	if !reflect.DeepEqual(*p, want) {
		t.Errorf("got  %+v\nwant %+v", *p, want)
	}
}

func TestEveryKeyIsRead(t *testing.T) {
	text := `
practice = {name = "A", code = "a", time_zone = "Europe/Lisbon", made_up = true}
return.window_months = 12
return.hold_days = 10
return.hold_days_short = 1
return.hold_days_long = 20
return.target_by_day = 7
return.horizon_weeks = [4, 8]
return.mean_weeks = [
  20, # the longest first
  10,
]
return.at_risk_floor = 11
return.recurrence_days = 180
symmetry.pair_days = 3
symmetry.baseline_days_before = 14
symmetry.baseline_days_after = 2
symmetry.knot_weeks = [3, 8]
symmetry.last_week = 40
symmetry.support_weeks = 1
symmetry.support_persons = 15
symmetry.horizon_weeks = [4, 10]
symmetry.threshold_percent = 85
symmetry.threshold_weeks = [10, 20]
symmetry.change_week = 10
dose.recorded_percent = 70
dose.horizon_week = 12
dose.least_persons = 30
dose.least_returns = 8
dose.gone_percent = 60
dose.reference_sets = 20
dose.least_effective_percent = 40
dose.most_imbalance_percent = 15
dose.least_clinicians = 12
progression.load_percent = 10
progression.reps_percent = 20
progression.pressure_points = 8
progression.pain_from = 4
progression.after_pain_days = 10
progression.stall_days = 28
tolerance.pressure_bands = [50, 70]
tolerance.next_visit_days = 10
scores.horizon_weeks = [8, 16]
scores.around_weeks = 3
scores.least_persons = 15
scores.change_week = 16
safety.widen_above_percent = 35
[[sites]]
code = "n"
label = "N"
senders = ["x", "y"]
[[sites]]
code = "s"
label = "S"
senders = ["y"]
[[ways]]
code = "w"
label = "W"
[report]
due_after_days = 5
silent_after_days = 6
[small_counts]
circulating = 12
site = 30
inside = 6
curve = 25
mode = "strict"
[injury_types.calf_strain]
label = "Calf"
default_target_stage = "jogging"
landmark_days = 21
contact_gap_days = 30
keeps_activity = true
[intake]
settle_seconds = 0
[guard]
more_headings = ["Stammnummer"]
allow = ["x/Kunde", "y/a/b"]
[drift]
new_keys = ["x/episodes/2026-03-31"]
[engine]
threads = 3
memory_mb = 2048
`
	p, err := Parse([]byte(text), PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	want := Practice{
		Name: "A", Code: "a", TimeZone: "Europe/Lisbon", MadeUp: true,
		Sites:       []Site{{"n", "N", []string{"x", "y"}}, {"s", "S", []string{"y"}}},
		Ways:        []Way{{"w", "W"}},
		InjuryTypes: codeTableTypes(),
		Return:      Return{12, 10, 1, 20, 7, []int{4, 8}, []int{20, 10}, 11, 180},
		Symmetry:    Symmetry{3, 14, 2, []int{3, 8}, 40, 1, 15, []int{4, 10}, 85, []int{10, 20}, 10},
		Dose:        Dose{70, 12, 30, 8, 60, 20, 40, 15, 12},
		Progression: Progression{10, 20, 8, 4, 10, 28},
		Tolerance:   Tolerance{[]int{50, 70}, 10},
		Scores:      Scores{[]int{8, 16}, 3, 15, 16},
		Safety:      Safety{35},
		Report:      Report{5, 6},
		SmallCounts: SmallCounts{12, 30, 6, 25, "strict"},
		Intake:      Intake{0, 30},
		Guard:       Guard{[]string{"Stammnummer"}, []string{"x/Kunde", "y/a/b"}},
		Drift:       Drift{[]string{"x/episodes/2026-03-31"}},
		Engine:      Engine{3, 2048},
	}
	want.InjuryTypes[0] = InjuryType{"calf_strain", "Calf", "lower_limb", "muscle", 21, "jogging", 30, true}
	if !reflect.DeepEqual(*p, want) {
		t.Errorf("got  %+v\nwant %+v", *p, want)
	}
	if got := p.SitesOf("y"); !reflect.DeepEqual(got, []string{"n", "s"}) {
		t.Errorf("sites of y: %v", got)
	}
	if got := p.Senders(); !reflect.DeepEqual(got, []string{"x", "y"}) {
		t.Errorf("senders: %v", got)
	}
	if p.Location().String() != "Europe/Lisbon" {
		t.Errorf("location %v", p.Location())
	}
}

func TestProblems(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"all at once, in order", "[practice]\nname = \"A\"\ncod = \"a\"\n[retrun]\n[[sites]]\ncode = \"n\"\nlabel = 3\nsenders = [\"north gate\"]\n", `practice.toml:1:2: code is missing in [practice]: A short code of letters, digits, _ and -.
practice.toml:3:1: unknown key "cod" in [practice]; did you mean "code"?
practice.toml:4:2: unknown section "retrun"; did you mean "return"?
practice.toml:7:9: label must be a text in quotes
practice.toml:8:12: senders: "north gate" cannot be a code: up to 40 letters, digits, _ and -, the first a letter or digit`},
		{"an allowance without a heading", least + "[guard]\nallow = [\"north\", \"north/x\"]\n", `practice.toml:10:10: allow: "north" is not a sender, a slash and a heading, such as north/method`},
		{"new keys of nothing", least + "[drift]\nnew_keys = [\"north/persons/2026-01-31\", \"north/episodes/31.1.2026\"]\n", "practice.toml:10:13: new_keys: \"north/persons/2026-01-31\" is not a sender, an export table (or people) and a date, such as north/episodes/2026-03-31\npractice.toml:10:41: new_keys: \"north/episodes/31.1.2026\" is not a sender, an export table (or people) and a date, such as north/episodes/2026-03-31"},
		{"unlike every key", least + "[report]\nxyzzy = 1\n", `practice.toml:10:1: unknown key "xyzzy" in [report]; known are due_after_days, silent_after_days`},
		{"column counts letters", least + "[report]\n\"größe\" = 1\ndue_after_days = \"é\"\n", "practice.toml:10:1: unknown key \"größe\" in [report]; known are due_after_days, silent_after_days\npractice.toml:11:18: due_after_days must be a whole number"},
		{"not TOML", "[practice\nname = 1", "practice.toml:1:10: not readable as TOML: expected ']' to close table name"},
		{"key twice", "[practice]\nname = \"A\"\nname = \"B\"\n", "practice.toml:3:1: not readable as TOML: key name is already defined"},
		{"nothing", "", "practice.toml:1:1: name is missing in [practice]: The name as reports print it.\npractice.toml:1:1: code is missing in [practice]: A short code of letters, digits, _ and -.\npractice.toml:1:1: [[sites]] is missing: at least one must stand"},
		{"out of range", least + "[return]\nhold_days = -1\nhorizon_weeks = [6, 200]\n", "practice.toml:10:13: hold_days is -1; it must lie from 0 to 365\npractice.toml:11:21: horizon_weeks is 200; it must lie from 1 to 104"},
		{"fraction", least + "[return]\nhold_days = 14.0\n", "practice.toml:10:13: hold_days must be a whole number"},
		{"empty text", strings.Replace(least, `"Two Rivers"`, `""`, 1), "practice.toml:3:8: name must not be empty"},
		{"empty list", strings.Replace(least, `["north"]`, `[]`, 1), "practice.toml:8:1: senders must be a list of texts"},
		{"list wanted", strings.Replace(least, `["north"]`, `"north"`, 1), "practice.toml:8:11: senders must be a list of texts"},
		{"mixed list", least + "[return]\nhorizon_weeks = [6, \"12\"]\n", "practice.toml:10:21: horizon_weeks must be a list of whole numbers"},
		{"word not allowed", least + "[small_counts]\nmode = \"stric\"\n", `practice.toml:10:8: mode cannot be "stric"; did you mean "strict"?`},
		{"unknown zone", strings.Replace(least, "[[sites]]", "time_zone = \"Europe/Lisbn\"\n[[sites]]", 1), `practice.toml:5:13: time_zone: "Europe/Lisbn" is not a time zone; write one such as Europe/Lisbon or UTC`},
		{"one bracket for a list", "[practice]\nname = \"A\"\ncode = \"a\"\n[sites]\ncode = \"n\"\n", "practice.toml:4:2: sites may stand several times: write [[sites]] with two brackets"},
		{"value for a section", "return = 3\n" + least, "practice.toml:1:1: return is a section: write [return] and its keys below it"},
		{"list of texts for sections", "ways = [\"a\"]\n" + least, "practice.toml:1:9: ways holds sections: write [[ways]] and its keys below it"},
		{"unknown injury type", least + "[injury_types.calf_strian]\nlandmark_days = 14\n", `practice.toml:9:15: unknown code "calf_strian" in [injury_types.CODE]; did you mean "calf_strain"?`},
		{"injury type without code", least + "[injury_types]\ncalf_strain = 3\n", "practice.toml:10:1: write [injury_types.calf_strain] and its keys below it"},
		{"site twice", least + "[[sites]]\ncode = \"north\"\nlabel = \"Again\"\nsenders = [\"x\"]\n", `practice.toml:9:3: the site "north" stands twice`},
		{"way twice", least + "[[ways]]\ncode = \"w\"\nlabel = \"W\"\n[[ways]]\ncode = \"w\"\nlabel = \"V\"\n", `practice.toml:12:3: the way "w" stands twice`},
		{"holds fall", least + "[return]\nhold_days = 40\n", "practice.toml:9:2: hold_days_short, hold_days and hold_days_long must rise: they are 0, 40 and 28"},
		{"knots fall", least + "[symmetry]\nknot_weeks = [10, 4]\n", "practice.toml:9:2: knot_weeks must rise: they are [10 4]"},
		{"weeks fall", least + "[return]\nhorizon_weeks = [12, 12]\n", "practice.toml:9:2: horizon_weeks must rise: they are [12 12]"},
		{"mean weeks rise", least + "[return]\nmean_weeks = [6, 12]\n", "practice.toml:9:2: mean_weeks must fall: they are [6 12]"},
		{"bands fall", least + "[tolerance]\npressure_bands = [60, 60]\n", "practice.toml:9:2: pressure_bands must rise: they are [60 60]"},
		{"scores near the start", least + "[scores]\nhorizon_weeks = [3, 12]\n", "practice.toml:9:2: the first of horizon_weeks must lie more than 3 weeks from the start: it is 3"},
		{"scores overlap", least + "[scores]\nhorizon_weeks = [6, 10, 12]\n", "practice.toml:9:2: horizon_weeks must rise by more than 4, twice around_weeks: they are [6 10 12]"},
		{"change at no week", least + "[scores]\nchange_week = 10\n", "practice.toml:9:2: change_week must be one of horizon_weeks: it is 10, they are [6 12 26]"},
		{"floors crossed", least + "[small_counts]\nsite = 9\n", "practice.toml:9:2: inside must not be above circulating, nor circulating above site or curve: they are 5, 10, 9 and 20"},
		{"target of the other limb", least + "[injury_types.calf_strain]\ndefault_target_stage = \"arm_daily_use\"\n", "practice.toml:9:2: the default target arm_daily_use of calf_strain is on the ladder upper_limb; it must be on lower_limb or work"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse([]byte(c.text), PracticeFile)
			var problems *Problems
			if !errors.As(err, &problems) {
				t.Fatalf("got %v, wanted problems", err)
			}
			if err.Error() != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", err, c.want)
			}
		})
	}
}

func TestStarterIsValidAndNamesEveryKey(t *testing.T) {
	text := string(Starter())
	p, err := Parse([]byte(text), PracticeFile)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	// With every default put in force the meaning must stay the same.
	var inForce []string
	example := false // within a section that is only shown
	for line := range strings.Lines(text) {
		bare, remark := strings.CutPrefix(line, "# ")
		switch {
		case strings.HasPrefix(bare, "["):
			example = remark
		case remark && !example && strings.Contains(bare, " = "):
			line = bare
		}
		inForce = append(inForce, line)
	}
	q, err := Parse([]byte(strings.Join(inForce, "")), PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p, q) {
		t.Errorf("the starter states other defaults than hold:\n%+v\n%+v", q, p)
	}
	for _, s := range sections {
		for _, k := range s.keys {
			if !strings.Contains(text, k.name+" = ") && !strings.Contains(text, "# "+k.name+": ") {
				t.Errorf("the starter does not name %s of %s", k.name, s.name)
			}
		}
	}
}

func TestDigestIsOfTheMeaning(t *testing.T) {
	digest := func(text string) string {
		t.Helper()
		p, err := Parse([]byte(text), PracticeFile)
		if err != nil {
			t.Fatal(err)
		}
		return p.Digest()
	}
	base := digest(least)
	for what, text := range map[string]string{
		"a comment":        "# words\n" + least,
		"a stated default": least + "[return]\nhold_days = 14\n",
		"the engine":       least + "[engine]\nthreads = 1\n[intake]\nsettle_seconds = 9\n",
		"the guard":        least + "[guard]\nallow = [\"north/x\"]\nmore_headings = []\n[drift]\nnew_keys = [\"north/episodes/2026-01-31\"]\n",
	} {
		if digest(text) != base {
			t.Errorf("%s changed the digest", what)
		}
	}
	for what, text := range map[string]string{
		"a hold":            least + "[return]\nhold_days = 15\n",
		"a sender":          strings.Replace(least, `["north"]`, `["south"]`, 1),
		"a name":            strings.Replace(least, "Two", "Three", 1),
		"an injury type":    least + "[injury_types.calf_strain]\ncontact_gap_days = 43\n",
		"the small counts":  least + "[small_counts]\nmode = \"strict\"\n",
		"a way of treating": least + "[[ways]]\ncode = \"w\"\nlabel = \"W\"\n",
	} {
		if digest(text) == base {
			t.Errorf("%s did not change the digest", what)
		}
	}
}

func TestTables(t *testing.T) {
	p, err := Parse([]byte(least+"[[ways]]\ncode = \"w\"\nlabel = \"W\"\n"), PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, table := range p.Tables() {
		names = append(names, table.Name)
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("%s: %d cells in %d columns", table.Name, len(row), len(table.Columns))
			}
			for i, cell := range row {
				want := map[string]string{"varchar": "string", "integer": "int", "boolean": "bool", "integer[]": "[]int", "varchar[]": "[]string"}[table.Columns[i].Type]
				if got := reflect.TypeOf(cell).String(); got != want {
					t.Errorf("%s.%s is %s, its column wants %s", table.Name, table.Columns[i].Name, got, want)
				}
			}
		}
	}
	want := []string{"practice", "sites", "senders", "ways", "return_rules", "symmetry_rules", "dose_rules", "progression_rules", "tolerance_rules", "scores_rules", "safety_rules", "report", "small_counts", "injury_types"}
	if !reflect.DeepEqual(names, want) {
		t.Errorf("tables %v, want %v", names, want)
	}
}

func TestFiles(t *testing.T) {
	dir := t.TempDir()
	write := func(path, text string) {
		t.Helper()
		full := filepath.Join(dir, path)
		if err := os.MkdirAll(filepath.Dir(full), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Files(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no practice.toml: %v", err)
	}
	write("practice.toml", least)
	write("layouts/north.toml", leastLayout)
	write("layouts/notes.txt", "not settings")
	write("cohorts/early.toml", "b = 1\n")
	files, err := Files(dir)
	if err != nil {
		t.Fatal(err)
	}
	var paths []string
	for _, f := range files {
		paths = append(paths, f.Path)
	}
	if want := []string{"cohorts/early.toml", "layouts/north.toml", "practice.toml"}; !reflect.DeepEqual(paths, want) {
		t.Errorf("files %v, want %v", paths, want)
	}
	write("practice.toml", "[practice]\n")
	var problems *Problems
	if _, err := Files(dir); !errors.As(err, &problems) {
		t.Errorf("bad practice.toml: %v", err)
	}
	if _, err := Load(dir); !errors.As(err, &problems) {
		t.Errorf("bad practice.toml: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(least))
	f.Add(Starter())
	f.Add([]byte("a.b.c = 1\n[[a.b.d]]\n[a.b.d.e]\nx = [1, [2, {y = 3}]]\n"))
	f.Add([]byte("sites = [{code = \"a\", label = \"b\", senders = [\"c\"]}]\n[practice]\nname = '''\nx'''\ncode=\"\\u00e9\""))
	f.Add([]byte("injury_types.calf_strain.landmark_days = 0x10\nreturn = []\nengine = [[1]]\nways = [[1]]"))
	f.Add([]byte("[return]\nhold_days = 1979-05-27T07:32:00Z\nhorizon_weeks = [nan, inf, -0.0]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := Parse(text, PracticeFile)
		var problems *Problems
		switch {
		case err == nil && p.Digest() == "":
			t.Error("accepted without a digest")
		case err != nil && !errors.As(err, &problems):
			t.Errorf("%v is not a list of problems", err)
		case err != nil:
			checkPlaces(t, text, problems)
		}
	})
}

// checkPlaces holds that every problem stands in the text.
func checkPlaces(t *testing.T, text []byte, problems *Problems) {
	t.Helper()
	for _, one := range problems.List {
		if one.Line < 1 || one.Column < 1 || one.Line > strings.Count(string(text), "\n")+1 {
			t.Errorf("problem outside the file: %+v", one)
		}
	}
}
