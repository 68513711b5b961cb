package settings

import (
	"errors"
	"os"
	"regexp"
	"strings"
	"testing"
)

const leastLayout = `sender = "north"
version = "1"
[[table]]
name = "followups"
[table.columns.episode_id]
heading = "Case"
[table.columns.contact_on]
heading = "Called on"
`

func TestLayoutExampleIsReadable(t *testing.T) {
	// The example of the documentation is read as it stands there, but for the
	// dots that stand for what an example leaves out.
	source, err := os.ReadFile("layout.go")
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(source), "may be left out.\n//\n")
	example, _, _ := strings.Cut(after, "type Layout struct")
	text := regexp.MustCompile(`(?m)^//\t?`).ReplaceAllString(example, "")
	text = strings.Replace(text, "name = \"bouts\"\n...", "name = \"bouts\"\n[table.columns.session_id]\nheading = \"Visit\"\n[table.columns.exercise]\nheading = \"Ex\"", 1)
	text = strings.Replace(text, "name = \"measurements\"\n...", "name = \"measurements\"\n[table.columns.episode_id]\nheading = \"Case\"\n[table.columns.measured_on]\nheading = \"Day\"", 1)
	text = strings.Replace(text, "to    = 2026-06-30        # last day; or\n", "", 1)
	l, err := ParseLayout([]byte(text), "layouts/harrow.toml", nil)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if len(l.Tables) != 3 || len(l.Tables[0].Columns) != 6 || len(l.Tables[0].Parts) != 1 || len(l.Tables[2].Wide) != 1 {
		t.Errorf("tables %+v", l.Tables)
	}
}

// layoutPractice is the practice that the layouts of the tests belong to.
const layoutPractice = least + "[[sites]]\ncode = \"south\"\nlabel = \"South\"\nsenders = [\"south\"]\n[[ways]]\ncode = \"usual\"\nlabel = \"Usual\"\n"

// of is a layout with one table, named by its columns and more.
func of(table, more string) string {
	required := map[string]string{
		"followups":    "columns.episode_id.heading = \"Case\"\ncolumns.contact_on.heading = \"Day\"\n",
		"sessions":     "columns.session_id.heading = \"S\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.session_date.heading = \"Day\"\ncolumns.attendance.constant = \"attended\"\n",
		"bouts":        "columns.session_id.heading = \"S\"\ncolumns.bout_no.heading = \"N\"\ncolumns.exercise.constant = \"knee_extension\"\n",
		"measurements": "columns.episode_id.heading = \"Case\"\ncolumns.measured_on.heading = \"Day\"\n",
		"episodes":     "columns.episode_id.heading = \"Case\"\ncolumns.injury_type.constant = \"calf_strain\"\ncolumns.side.constant = \"left\"\ncolumns.start_date.heading = \"Day\"\n",
		"plans":        "columns.episode_id.heading = \"Case\"\ncolumns.plan_from.heading = \"Day\"\n",
	}
	return "sender = \"north\"\nversion = \"1\"\n[[table]]\nname = \"" + table + "\"\n" + required[table] + more
}

func TestLayoutProblems(t *testing.T) {
	practice, err := Parse([]byte(layoutPractice), PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"least":                       leastLayout,
		"a site of the sender":        of("episodes", "columns.site.constant = \"north\"\n"),
		"a way of the practice":       of("plans", "columns.plan_code.constant = \"usual\"\n"),
		"chains of columns":           of("sessions", "columns.clinician_id = { made_from = [\"a\", \"b\"] }\nparts.a.heading = \"A\"\nparts.b = { heading = \"B\", days_after = \"c\" }\nparts.c.heading = \"C\"\n"),
		"keys made of what wide sets": of("measurements", "columns.measurement_id.made_from = [\"episode_id\", \"measure\", \"side\"]\nwide = [{ heading = \"x\", set = { measure = \"girth_calf\", side = \"left\" } }]\n"),
	} {
		if _, err := ParseLayout([]byte(text), "layouts/a.toml", practice); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	cases := []struct{ name, text, want string }{
		{"all at once, in order", "sender = 3\n[fil]\n[cells]\ndecimal = \";\"\n[[table]]\nname = \"followup\"\n[[table]]\nname = \"followups\"\n[table.columns.episode]\nheading = \"Case\"\n", `a:1:1: version is missing: a name for this state of the layout, such as "1"
a:1:10: sender must be a text in quotes
a:2:2: unknown key "fil" in a layout; did you mean "file"?
a:4:11: decimal cannot be ";"; did you mean "."?
a:6:8: there is no export table "followup"; did you mean "followups"?
a:7:3: [table.columns.episode_id] is missing: the table followups needs it
a:7:3: [table.columns.contact_on] is missing: the table followups needs it
a:9:16: the table followups has no column "episode"; known are episode_id, contact_on, way, reached, stage, symptoms_since, row_state`},
		{"nothing", "", `a:1:1: sender is missing: the folder under inbox/ whose files the layout is for
a:1:1: version is missing: a name for this state of the layout, such as "1"
a:1:1: [[table]] is missing: at least one must stand`},
		{"not TOML", "sender = \"north\n", `a:1:16: not readable as TOML: basic strings cannot have new lines`},
		{"senders and sites", "sender = \"nroth\"\nversion = \"1\"\n[[table]]\nname = \"followups\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.contact_on.heading = \"Day\"\n", `a:1:1: no site of practice.toml names the sender "nroth"; did you mean "north"?`},
		{"a site of another sender", of("episodes", "columns.site.constant = \"south\"\n"), `a:9:25: site: "south" is not a known code; did you mean "north"?`},
		{"a delivery of another's site", of("followups", "") + "[delivery]\nkind = \"complete\"\nsite = \"south\"\n", `a:9:1: the sender north may not send for the site "south"; did you mean "north"?`},
		{"a delivery without its site", of("followups", "") + "[delivery]\nkind = \"complete\"\n", `a:7:2: site is missing in [delivery]: a complete delivery names the site whose rows it holds`},
		{"a range without a site", of("followups", "") + "[delivery]\nto = 2026-01-01\n", `a:7:2: site is missing in [delivery]: from and to are said of one site`},
		{"two ends", of("followups", "") + "[delivery]\nsite = \"north\"\nto = 2026-01-01\nto_days_before_receipt = 1\n", `a:7:2: to and to_days_before_receipt both say how far the delivery reaches; keep one`},
		{"an end before the beginning", of("followups", "") + "[delivery]\nsite = \"north\"\nfrom = 2026-01-02\nto = 2026-01-01\n", `a:7:2: to lies before from`},
		{"all, up to no day", of("followups", "") + "[delivery]\nsite = \"north\"\nspeaks_for_all = true\n", `a:7:2: to or to_days_before_receipt is missing in [delivery]: speaks_for_all says up to which day`},
		{"a date in quotes", "from = \"2026-01-01\"\n" + leastLayout, `a:1:8: from must be a date without quotes, such as 2026-03-31`},
		{"dates", of("followups", "") + "[cells]\ndate = [\"day.month.yaer\", \"day/month\", \"day.month.year\", \"month.day.year\"]\ntwo_digit_years_from = 26\nmonth_names = [\"Jan\"]\n", `a:8:1: date: "day.month.yaer" is not a way of writing dates; use the words year, month, day and time with the signs between them, such as day.month.year
a:8:1: date: "day/month" must name year and month, and day where dates have one
a:8:1: date: a date such as 01-02-2026 would mean one day as day.month.year and another as month.day.year; keep one
a:9:24: two_digit_years_from is 26; it must lie from 1900 to 2000
a:10:1: month_names must be twelve names, January first; they are 1`},
		{"signs", of("followups", "") + "[cells]\ndecimal = \",\"\nthousands = \",\"\n[file]\ndelimiter = \"semi\"\nquote = \"\\\"\\\"\"\nskip_rows = -1\nformat = \"excel\"\nencoding = \"latin-1\"\n", `a:7:2: decimal and thousands are the same sign
a:11:13: delimiter must be one sign in quotes
a:12:9: quote cannot be "\"\""; did you mean "\""?
a:13:13: skip_rows is -1; it must lie from 0 to 1000
a:14:10: format cannot be "excel"; known are csv, ndjson, parquet, xlsx
a:15:12: encoding cannot be "latin-1"; known are utf-8, utf-16le, utf-16be, windows-1252`},
		{"an unknown column", of("followups", "columns.stgae.heading = \"x\"\n"), `a:7:9: the table followups has no column "stgae"; did you mean "stage"?`},
		{"a column from nowhere", of("followups", "columns.stage.codes = { a = \"jogging\" }\n"), `a:7:9: say where the column stage comes from with one of heading, constant, made_from and number_within`},
		{"a column from two places", of("followups", "columns.stage = { heading = \"x\", constant = \"jogging\" }\n"), `a:7:9: say where the column stage comes from with one of heading, constant, made_from and number_within`},
		{"a required column left out", "sender = \"north\"\nversion = \"1\"\n[[table]]\nname = \"followups\"\ncolumns.episode_id.heading = \"Case\"\n", `a:3:3: [table.columns.contact_on] is missing: the table followups needs it`},
		{"unknown codes", of("followups", "columns.stage = { heading = \"x\", codes = { a = \"joging\", b = \"fly\" }, empty = \"walk\" }\ncolumns.way.constant = \"fax\"\ncolumns.reached = { heading = \"r\", codes = { j = \"yes\" } }\n"), `a:7:42: stage: "joging" is not a known code; did you mean "jogging"?
a:7:42: stage: "fly" is not a known code
a:7:79: stage: "walk" is not a known code
a:8:24: way: "fax" is not a known code; known are visit, phone, form
a:9:44: reached: "yes" is neither true nor false`},
		{"constants of the wrong type", of("bouts", "columns.sets.constant = \"3.5\"\ncolumns.load_kg.constant = \"a\"\ncolumns.occlusion_measured_on.constant = \"1.1.2026\"\n"), `a:8:25: sets: "3.5" is not a whole number
a:9:28: load_kg: "a" is not a number
a:10:42: occlusion_measured_on: "1.1.2026" is not a date such as 2026-03-31`},
		{"an unknown way", of("plans", "columns.plan_code.constant = \"usul\"\n"), `a:7:30: plan_code: "usul" is not a known code; did you mean "usual"?`},
		{"units", of("bouts", "columns.load_kg = { heading = \"x\", unit = \"in\" }\ncolumns.sets = { heading = \"y\", unit = \"kg\" }\ncolumns.cuff_width_cm = { heading = \"z\", unit = \"inch\" }\ncolumns.cuff_code = { heading = \"w\", unit = \"cm\" }\n"), `a:8:43: load_kg is kept in kg; in cannot be turned into that
a:9:40: sets has no unit
a:10:49: unit cannot be "inch"; did you mean "in"?
a:11:45: unit cannot stand for cuff_code, which is of the type text`},
		{"how a cell is read, for another type", of("bouts", "columns.load_kg = { heading = \"x\", date = \"day.month.year\" }\ncolumns.mode = { heading = \"y\", decimal = \",\", decimals = 1, split = \"/\", take = \"sum\" }\ncolumns.occlusion_measured_on = { heading = \"z\", split = \"/\", take = \"list\" }\n"), `a:8:43: date cannot stand for load_kg, which is of the type decimal
a:9:43: decimal cannot stand for mode, which is of the type code
a:9:59: decimals cannot stand for mode, which is of the type code
a:9:82: take cannot stand for mode, which is of the type code
a:10:70: take cannot stand for occlusion_measured_on, which is of the type date`},
		{"split and take apart", of("bouts", "columns.reps = { heading = \"x\", split = \"/\" }\ncolumns.sets = { heading = \"x\", take = 2 }\ncolumns.load_kg = { heading = \"x\", split = \"/\", take = 0 }\ncolumns.cycles = { heading = \"x\", split = \"/\", take = \"most\" }\n"), `a:8:9: split and take go together: split says what stands between the values, take which are meant
a:9:9: split and take go together: split says what stands between the values, take which are meant
a:10:56: take is 0; it must lie from 1 to 50
a:11:55: take cannot be "most"; did you mean "list"?`},
		{"names that are not there", of("sessions", "columns.clinician_id.made_from = [\"a\", \"episode_id\", \"clinician_id\"]\ncolumns.minutes = { heading = \"m\", unit_from = \"b\" }\n"), `a:9:22: made_from: "a" is no column or part of this table that is read before it; known are session_id, episode_id, session_date, attendance, minutes
a:9:22: made_from: clinician_id cannot be made of itself
a:10:48: unit_from: "b" is no column or part of this table that is read before it; known are session_id, episode_id, session_date, attendance`},
		{"keys of keys", of("sessions", "parts.a.made_from = \"episode_id\"\nparts.b.made_from = \"a\"\nparts.episode_id.heading = \"x\"\n"), `a:10:21: made_from: "a" is no column or part of this table that is read before it; known are session_id, episode_id, session_date, attendance, episode_id
a:11:7: the part episode_id has the name of a column of sessions; give it another`},
		{"numbers of texts", of("sessions", "columns.clinician_id.number_within = \"episode_id\"\n"), `a:9:38: number_within makes whole numbers; clinician_id is of the type key`},
		{"numbers of rows that count once", strings.Replace(of("bouts", "distinct = true\n"), "bout_no.heading = \"N\"", "bout_no.number_within = \"session_id\"", 1), `a:6:33: rows that count once (distinct) cannot be numbered; take one of the two away`},
		{"days after nothing", of("sessions", "columns.minutes = { heading = \"m\", days_after = \"session_date\" }\n") + "[[table]]\nname = \"bouts\"\ncolumns.session_id.heading = \"S\"\ncolumns.bout_no.heading = \"N\"\ncolumns.exercise.heading = \"E\"\ncolumns.occlusion_measured_on = { heading = \"O\", days_after = \"episode_start\" }\n", `a:9:49: days_after cannot stand for minutes, which is of the type decimal
a:15:63: days_after: the rows of bouts name no episode whose start could be known`},
		{"wide", of("measurements", "wide = [{ set = { measure = \"girth_clf\" } }, { heading = \"x\", into = \"vale\", set = { side = \"left\", episode_id = \"e\" } }]\n"), `a:3:3: [table.columns.measure] is missing: the table measurements needs it
a:3:3: [table.columns.side] is missing: the table measurements needs it
a:3:3: [table.columns.value] is missing: the table measurements needs it
a:7:9: heading is missing in [[table.wide]]
a:7:17: measure: "girth_clf" is not a known code; did you mean "girth_calf"?
a:7:70: the table measurements has no column "vale"; did you mean "value"?
a:7:84: episode_id has its [table.columns.episode_id] already; take one of the two away`},
		{"shapes", "sender = \"north\"\nversion = \"1\"\nfile = 3\ncells = { missing = [1], not_where = 3, ignore = [] }\ntable = [3]\n", `a:3:1: file is a section: write [file] and its keys below it
a:4:22: missing must be a text in quotes, or a list of such
a:4:38: not_where must be headings with words, such as { "Kind" = ["visit"] }
a:4:41: ignore must be a text in quotes, or a list of such
a:5:10: table holds sections: write [[table]] and its keys below it`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := ParseLayout([]byte(c.text), "a", practice)
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

func FuzzParseLayout(f *testing.F) {
	f.Add([]byte(leastLayout))
	f.Add([]byte(of("measurements", "wide = [{ heading = \"x\", unit = \"in\", set = { measure = \"girth_calf\", side = \"left\" } }]\n[cells]\ndate = [\"day.month.year\"]\nnot_where = { a = \"b\" }\n")))
	f.Add([]byte("table = [{name = \"bouts\", columns = {sets = {heading = \"x\", split = \"/\", take = 1e3}}}]\nfrom = 2026-01-01\n"))
	f.Add([]byte("[[table]]\n[table.columns.a]\n[[table.wide]]\n[table.parts.b.c]\n[delivery]\nto = 1979-05-27T07:32:00Z\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := ParseLayout(text, "a", nil)
		var problems *Problems
		switch {
		case err == nil && (l.Sender == "" || len(l.Tables) == 0):
			t.Errorf("accepted without a sender or table: %+v", l)
		case err != nil && !errors.As(err, &problems):
			t.Errorf("%v is not a list of problems", err)
		case err != nil:
			checkPlaces(t, text, problems)
		}
	})
}
