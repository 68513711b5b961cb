package layout

import (
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// parse reads a layout whose sender and version are filled in.
func parse(tb testing.TB, text string) *settings.Layout {
	tb.Helper()
	l, err := settings.ParseLayout([]byte("sender = \"north\"\nversion = \"1\"\n"+text), "layouts/north.toml", nil)
	if err != nil {
		tb.Fatal(err)
	}
	return l
}

// tell turns the records of a text and writes the rows down: a line for each
// with its filled cells, and one for each fault.
func tell(t *testing.T, l *settings.Layout, text string) string {
	t.Helper()
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	m, misfit := New(l, "", records[0])
	if m == nil {
		return misfit.Words() + "\n"
	}
	m.Starts = func(episode string) (time.Time, bool) {
		return time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), episode == "e1"
	}
	var b strings.Builder
	p := m.Begin()
	for _, cells := range records[1:] {
		rows := p.Rows(cells)
		if len(rows) == 0 {
			b.WriteString("nothing\n")
		}
		for _, r := range rows {
			table := m.Tables[r.Table]
			b.WriteString(table.Name)
			for i, text := range r.Cells {
				name := export.RowState
				if i < len(table.Columns) {
					name = table.Columns[i].Name
				}
				if text != "" {
					b.WriteString(" " + name + "=" + text)
				}
			}
			if len(r.Months) > 0 {
				fmt.Fprintf(&b, " (month: %s)", table.Columns[r.Months[0]].Name)
			}
			b.WriteString("\n")
			for _, f := range r.Faults {
				fmt.Fprintf(&b, "  %s:%s: %s\n", f.Name, f.Reason, f.Words)
			}
		}
	}
	return b.String()
}

// calls is the beginning of a layout of the smallest table.
const calls = "[[table]]\nname = \"followups\"\n[table.columns.episode_id]\nheading = [\"Case\", \"Case no.\"]\n[table.columns.contact_on]\nheading = \"Day\"\n"

// values is the beginning of a layout of measured values.
const values = "[[table]]\nname = \"measurements\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.measured_on.heading = \"Day\"\n"

// work is the beginning of a layout of bouts.
const work = "[[table]]\nname = \"bouts\"\ncolumns.session_id.heading = \"S\"\ncolumns.bout_no.heading = \"N\"\ncolumns.exercise.constant = \"knee_extension\"\n"

func TestPick(t *testing.T) {
	parseAt := func(path, head string) *settings.Layout {
		l, err := settings.ParseLayout([]byte(head+"version = \"1\"\n"+calls), path, nil)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	all := []*settings.Layout{
		parseAt("a", "sender = \"north\"\n"),
		parseAt("b", "sender = \"north\"\nfrom = 2026-02-01\n"),
		parseAt("c", "sender = \"south\"\n"),
		parseAt("d", "sender = \"north\"\nfrom = 2025-01-01\nfile.match = [\"old/*.csv\", \"call*s.TXT\"]\n"),
	}
	for _, c := range []struct{ sender, name, day, want string }{
		{"north", "calls.csv", "2026-01-31", "a"},
		{"north", "calls.csv", "2026-02-01", "ba"},
		{"north", "old/2025/calls.csv", "2026-01-31", "da"},
		{"north", "old/calls.csv.gz", "2026-01-31", "a"},
		{"north", "Calls.txt", "2026-01-31", "da"},
		{"north", "call.txt", "2026-01-31", "a"},
		{"south", "calls.csv", "2026-02-01", "c"},
		{"west", "calls.csv", "2026-02-01", ""},
	} {
		day, err := time.Parse(time.DateOnly, c.day)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, l := range Candidates(all, c.sender, c.name, day) {
			got += l.Path
		}
		if got != c.want {
			t.Errorf("%s/%s on %s: %q, want %q", c.sender, c.name, c.day, got, c.want)
		}
	}
}

func TestFit(t *testing.T) {
	l := parse(t, calls+strings.Replace(work, "name = \"bouts\"", "name = \"bouts\"\nsheets = \"Work\"", 1))
	good, calledOn, other := []string{"S", "N"}, []string{"Case", "Day"}, []string{"Printed", "by"}
	for _, c := range []struct {
		name   string
		sheets []Sheet
		want   string
	}{
		{"both", []Sheet{{"Work", good}, {"Calls", calledOn}}, "bouts followups"},
		{"a sheet of another name", []Sheet{{"Rest", good}, {"Calls", calledOn}}, "- followups"},
		{"a sheet of something else", []Sheet{{"work ", good}, {"Cover", other}}, "bouts -"},
		{"a sheet with a heading renamed", []Sheet{{"Work", []string{"S", "Nr"}}, {"Calls", calledOn}}, "refused: bout_no"},
		{"nothing", []Sheet{{"Cover", other}}, "refused: episode_id"},
	} {
		mappings, misfit := Fit(l, c.sheets)
		var got []string
		for _, m := range mappings {
			name := "-"
			if m != nil {
				name = m.Tables[0].Name
			}
			got = append(got, name)
		}
		if misfit != nil {
			got = []string{"refused:", misfit.Missing[0].Column}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
}

func TestRows(t *testing.T) {
	cases := []struct{ name, layout, csv, want string }{
		{"spellings of a heading, in any case and with blanks", calls, "CASE  NO.,day\ne1,2026-01-05\n", "followups episode_id=e1 contact_on=2026-01-05\n"},
		{"blanks around cells", calls, "Case,Day\n\u00a0e1 , 2026-01-05\n", "followups episode_id=e1 contact_on=2026-01-05\n"},
		{"missing words", "[cells]\nmissing = [\"n/a\", \"-\", \"999\"]\n" + calls + "[table.columns.way]\nheading = \"How\"\nmissing = \"?\"\n", "Case,Day,How\n999,N/A,phone\ne1,2026-01-05,?\n", "followups way=phone\nfollowups episode_id=e1 contact_on=2026-01-05\n"},
		{"what an empty cell stands for", calls + "[table.columns.reached]\nheading = \"Spoken\"\nempty = \"false\"\ncodes = { J = \"true\" }\n", "Case,Day,Spoken\ne1,2026-01-05,\ne1,2026-01-05,j\n", "followups episode_id=e1 contact_on=2026-01-05 reached=false\nfollowups episode_id=e1 contact_on=2026-01-05 reached=true\n"},
		{"codes, in any case; those of the table stand for themselves", calls + "[table.columns.way]\nheading = \"How\"\ncodes = { \"Tel.\" = \"phone\", \"TEL.\" = \"form\" }\n", "Case,Day,How\ne,2026-01-05,Tel.\ne,2026-01-05,tel.\ne,2026-01-05,TEL.\ne,2026-01-05,visit\ne,2026-01-05,fax\n", `followups episode_id=e contact_on=2026-01-05 way=phone
followups episode_id=e contact_on=2026-01-05 way=phone
followups episode_id=e contact_on=2026-01-05 way=form
followups episode_id=e contact_on=2026-01-05 way=visit
followups episode_id=e contact_on=2026-01-05
  way:unknown_code: under "How" stands "fax", which the layout has no code for; correct the cell, or add the word to the codes of way
`},
		{"a code without a map", calls + "[table.columns.way]\nheading = \"How\"\n", "Case,Day,How\ne,2026-01-05,phne\n", "followups episode_id=e contact_on=2026-01-05\n  way:unknown_code: under \"How\" stands \"phne\", which is not a known code (the nearest is \"phone\"); correct the cell, or give the column codes in the layout\n"},
		{"true and false in capitals", calls + "[table.columns.reached]\nheading = \"R\"\n", "Case,Day,R\ne,2026-01-05,TRUE\ne,2026-01-05,yes\n", "followups episode_id=e contact_on=2026-01-05 reached=true\nfollowups episode_id=e contact_on=2026-01-05\n  reached:not_true_or_false: under \"R\" stands \"yes\", which is not a known code; correct the cell, or give the column codes in the layout\n"},
		{"constants", calls + "[table.columns.way]\nconstant = \"phone\"\n", "Case,Day\ne,2026-01-05\n", "followups episode_id=e contact_on=2026-01-05 way=phone\n"},
		{"dates in a stated order", "[cells]\ndate = \"day.month.year\"\n" + calls, "Case,Day\ne,5.1.2026\ne,05.01.2026\ne,2026-01-05\ne,2026-01-05T00:00:00\ne,2026-01-05 14:30\ne,31.02.2026\ne,01/05/2026\ne,5.1.26\ne,5.1.2026 \n", `followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-01-05
followups episode_id=e
  contact_on:not_a_date: under "Day" stands "31.02.2026", which cannot be taken as a date: there is no such day in the calendar; correct the cell
followups episode_id=e
  contact_on:not_a_date: under "Day" stands "01/05/2026", which is not written as year-month-day or day.month.year; correct the cell, or add its order to date in the layout
followups episode_id=e
  contact_on:not_a_date: under "Day" stands "5.1.26", which cannot be taken as a date: the year has two digits, and it is not said which century they are of (two_digit_years_from); correct the cell
followups episode_id=e contact_on=2026-01-05
`},
		{"years of two digits, where it is said", "[cells]\ndate = \"month/day/year\"\ntwo_digit_years_from = 1960\n" + calls, "Case,Day\ne,1/5/26\ne,1/5/59\ne,1/5/60\ne,1/5/126\n", `followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2059-01-05
followups episode_id=e contact_on=1960-01-05
followups episode_id=e
  contact_on:not_a_date: under "Day" stands "1/5/126", which is not written as year-month-day or month/day/year; correct the cell, or add its order to date in the layout
`},
		{"dates with a time, without signs, with names, of a column's own", calls + "date = [\"day.month.year time\", \"yearmonthday\", \"day-month-year\"]\n[cells]\nmonth_names = [\"jan\",\"feb\",\"mrz\",\"apr\",\"mai\",\"jun\",\"jul\",\"aug\",\"sep\",\"okt\",\"nov\",\"dez\"]\n", "Case,Day\ne,05.01.2026 8:15\ne,20260105\ne,5-Mrz-2026\ne,2026015\n", `followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-01-05
followups episode_id=e contact_on=2026-03-05
followups episode_id=e
  contact_on:not_a_date: under "Day" stands "2026015", which is not written as year-month-day or day.month.year time or yearmonthday or day-month-year; correct the cell, or add its order to date in the layout
`},
		{"months", calls + "date = \"month/year\"\n", "Case,Day\ne,01/2026\ne,13/2026\n", "followups episode_id=e contact_on=2026-01-01 (month: contact_on)\nfollowups episode_id=e\n  contact_on:not_a_date: under \"Day\" stands \"13/2026\", which cannot be taken as a date: there is no such day in the calendar; correct the cell\n"},
		{"days after the episode's start", strings.Replace(calls, "heading = \"Day\"", "heading = \"Day\"\ndays_after = \"episode_start\"", 1), "Case,Day\ne1,14\ne1,-1\ne1,1.5\ne2,14\n", `followups episode_id=e1 contact_on=2026-01-19
followups episode_id=e1 contact_on=2026-01-04
followups episode_id=e1
  contact_on:not_whole_days: under "Day" stands "1.5", which is not a number of whole days; correct the cell
followups episode_id=e2
  contact_on:start_unknown: under "Day" stands "14", days after the start of the episode "e2", which has not arrived; send the episode, then this row again
`},
		{"days after a part, and after an episode of the same file", "[[table]]\nname = \"episodes\"\ndistinct = true\ncolumns.episode_id.heading = \"Case\"\ncolumns.site.constant = \"north\"\ncolumns.injury_type.constant = \"calf_strain\"\ncolumns.side.constant = \"left\"\ncolumns.start_date.heading = \"Start\"\n[[table]]\nname = \"followups\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.contact_on = { heading = \"Day\", days_after = \"episode_start\" }\n[[table]]\nname = \"milestones\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.reached_on = { heading = \"Day\", days_after = \"begin\" }\ncolumns.stage.constant = \"jogging\"\nparts.begin.heading = \"Start\"\nparts.begin.date = \"day.month.year\"\n", "Case,Start,Day\ne9,2026-02-01,1\ne9,2026-02-01,2\n", `episodes episode_id=e9 site=north injury_type=calf_strain side=left start_date=2026-02-01
followups episode_id=e9 contact_on=2026-02-02
milestones episode_id=e9 reached_on=2026-02-02 stage=jogging
followups episode_id=e9 contact_on=2026-02-03
milestones episode_id=e9 reached_on=2026-02-03 stage=jogging
`},
		{"decimal comma and thousands", work + "columns.load_kg = { heading = \"L\" }\n[cells]\ndecimal = \",\"\nthousands = \".\"\n", "S,N,L\ns,1,\"12,50\"\ns,2,\"1.200,5\"\ns,3,12.5\n", `bouts session_id=s bout_no=1 exercise=knee_extension load_kg=12.5
bouts session_id=s bout_no=2 exercise=knee_extension load_kg=1200.5
bouts session_id=s bout_no=3 exercise=knee_extension
  load_kg:not_a_number: under "L" stands "12.5", which is not a number with the decimal sign ","; correct the cell, or say decimal = "." in the layout
`},
		{"units, their names in the cell, rounding half away from zero", work + "columns.load_kg = { heading = \"L\", unit = \"lb\" }\ncolumns.cuff_width_cm = { heading = \"W\", unit = \"in\", decimals = 1 }\ncolumns.occlusion_pressure_mmhg = { heading = \"P\", unit = \"kPa\" }\ncolumns.pressure_percent = { heading = \"R\", unit = \"fraction\" }\n", "S,N,L,W,P,R\ns,1,10,4.5,20,0.6\ns,2,25 lb,-1.2500,20 kPa,60 %\n", `bouts session_id=s bout_no=1 exercise=knee_extension load_kg=4.5359 occlusion_pressure_mmhg=150.0123 pressure_percent=60 cuff_width_cm=11.4
bouts session_id=s bout_no=2 exercise=knee_extension load_kg=11.3398 occlusion_pressure_mmhg=150.0123 pressure_percent=60 cuff_width_cm=-3.2
`},
		{"several values in a cell", work + "columns.reps_by_set = { heading = \"R\", split = \"-\", take = \"list\" }\ncolumns.reps = { heading = \"R\", split = \"-\", take = \"sum\" }\ncolumns.sets = { heading = \"R\", split = \"-\", take = \"count\" }\ncolumns.rest_seconds = { heading = \"T\", split = \"/\", take = 2 }\n", "S,N,R,T\ns,1,30-15-15-15,2/30\ns,2,30 - 15,2/\ns,3,30-x,2\n", `bouts session_id=s bout_no=1 exercise=knee_extension sets=4 reps=75 reps_by_set=30/15/15/15 rest_seconds=30
bouts session_id=s bout_no=2 exercise=knee_extension sets=2 reps=45 reps_by_set=30/15
bouts session_id=s bout_no=3 exercise=knee_extension sets=2
  reps_by_set:not_a_number: under "R" stands "30-x", which is not a number with the decimal sign "."; correct the cell, or name the word under missing in the layout
  reps:not_a_number: under "R" stands "30-x", which is not a number with the decimal sign "."; correct the cell, or name the word under missing in the layout
  rest_seconds:part_missing: under "T" stands "2", which taken apart at "/" has no value number 2; correct the cell
`},
		{"the parts of a set of codes", "[[table]]\nname = \"episodes\"\ncolumns.episode_id.heading = \"Case\"\ncolumns.site.constant = \"north\"\ncolumns.injury_type.constant = \"calf_strain\"\ncolumns.start_date.heading = \"Day\"\ncolumns.side = { heading = \"Side\", codes = { L = \"left\", R = \"right\", \"L+R\" = \"bilateral\" } }\ncolumns.precautions = { heading = \"Notes\", split = \",\", take = \"list\", codes = { wound = \"open_wound\" } }\n", "Case,Day,Side,Notes\ne,2026-01-05,L+R,\"wound, sickle_cell\"\ne,2026-01-05,l,\n", "episodes episode_id=e site=north injury_type=calf_strain side=bilateral start_date=2026-01-05 precautions=open_wound;sickle_cell\nepisodes episode_id=e site=north injury_type=calf_strain side=left start_date=2026-01-05\n"},
		{"a row for each part", values + "columns.measure.constant = \"girth_calf\"\n[table.columns.side]\nheading = \"Side\"\nsplit = \"+\"\ntake = \"rows\"\ncodes = { L = \"left\", R = \"right\" }\n[table.columns.value]\nheading = \"cm\"\nsplit = \"/\"\ntake = \"rows\"\n", "Case,Day,Side,cm\ne,2026-01-05,L+R,35/36\ne,2026-01-05,L,35\ne,2026-01-05,L+R,35\ne,2026-01-05,L+R,35/36/37\n", `measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=right value=36
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
  value:parts_uneven: under "cm" stands "35", which holds another number of values than a cell beside it; correct the cells so that they go together
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
  value:parts_uneven: under "cm" stands "35/36/37", which holds another number of values than a cell beside it; correct the cells so that they go together
`},
		{"wide to long, with units", values + "[[table.wide]]\nheading = \"Thigh L (in)\"\nset = { measure = \"girth_thigh_10\", side = \"left\" }\nunit = \"in\"\n[[table.wide]]\nheading = \"Grip R (N)\"\nset = { measure = \"strength_grip\", side = \"right\" }\nunit = \"N\"\n[[table.wide]]\nheading = \"Knee ext L (kg)\"\nset = { measure = \"strength_knee_extension\", side = \"left\" }\nunit = \"kg\"\n[[table.wide]]\nheading = \"not there\"\nset = { measure = \"strength_knee_extension\", side = \"right\" }\nunit = \"kg\"\n", "Case,Day,Thigh L (in),Grip R (N),Knee ext L (kg)\ne,2026-01-05,19.25,400,30\ne,2026-01-05,,,\ne,2026-01-05,x,,1\n", `measurements episode_id=e measured_on=2026-01-05 measure=girth_thigh_10 side=left value=48.895 unit=cm
measurements episode_id=e measured_on=2026-01-05 measure=strength_grip side=right value=40.7886 unit=kg
measurements episode_id=e measured_on=2026-01-05 measure=strength_knee_extension side=left value=294.1995 unit=N
nothing
measurements episode_id=e measured_on=2026-01-05 measure=girth_thigh_10 side=left
  value:not_a_number: under "Thigh L (in)" stands "x", which is not a number with the decimal sign "."; correct the cell, or name the word under missing in the layout
measurements episode_id=e measured_on=2026-01-05 measure=strength_knee_extension side=left value=9.8067 unit=N
`},
		{"a unit of another kind, a unit from a cell", values + "columns.measure.heading = \"What\"\ncolumns.side.constant = \"left\"\ncolumns.value = { heading = \"Value\", unit_from = \"its_unit\" }\n[table.parts.its_unit]\nheading = \"Unit\"\ncodes = { inch = \"in\" }\n", "Case,Day,What,Value,Unit\ne,2026-01-05,girth_calf,14,inch\ne,2026-01-05,girth_calf,35,cm\ne,2026-01-05,girth_calf,35,kg\ne,2026-01-05,girth_calf,35,furlong\ne,2026-01-05,girth_calf,35,\n", `measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35.56 unit=cm
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35 unit=cm
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left
  value:unit_of_another_kind: under "Value" stands "35", in kg, which cannot be turned into cm; correct the unit
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left
  value:unit_unknown: under "Value" stands "35", in the unit "furlong", which is not known; known are cm, mm, m, in, ft, kg, g, lb, N, kgf, lbf, mmHg, kPa, %, fraction, s, min, h, deg
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left
  value:unit_unknown: under "Value" stands "35", whose unit its_unit is empty; fill it in
`},
		{"a value that is turned stands in the unit that it is turned into", values + "columns.measure.heading = \"What\"\ncolumns.side.constant = \"left\"\ncolumns.value = { heading = \"Value\" }\ncolumns.unit.heading = \"Unit\"\n", "Case,Day,What,Value,Unit\ne,2026-01-05,girth_calf,14 in,[in_i]\ne,2026-01-05,girth_calf,14,[in_i]\ne,2026-01-05,visa_a,14 cm,\n", `measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35.56 unit=cm
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=14 unit=[in_i]
measurements episode_id=e measured_on=2026-01-05 measure=visa_a side=left
  value:unit_of_another_kind: under "Value" stands "14 cm", in cm, which cannot be turned into {score}; correct the unit
`},
		{"a unit behind what has none", work + "columns.sets = { heading = \"Sets\" }\n", "S,N,Sets\ns,1,3 min\n", "bouts session_id=s bout_no=1 exercise=knee_extension\n  sets:unit_of_another_kind: under \"Sets\" stands \"3 min\", in min, and sets has no unit; correct the cell\n"},
		{"made keys and numbers", "[[table]]\nname = \"bouts\"\ncolumns.session_id = { made_from = [\"case\", \"day\"], join = \"@\" }\ncolumns.bout_no.number_within = \"session_id\"\ncolumns.exercise.constant = \"knee_extension\"\nparts.case.heading = \"Case\"\nparts.day = { heading = \"Day\", date = \"day.month.year\" }\n", "Case,Day\nc,5.1.2026\nc,5.1.2026\nc,6.1.2026\n,6.1.2026\n", `bouts session_id=c@2026-01-05 bout_no=1 exercise=knee_extension
bouts session_id=c@2026-01-05 bout_no=2 exercise=knee_extension
bouts session_id=c@2026-01-06 bout_no=1 exercise=knee_extension
bouts bout_no=1 exercise=knee_extension
`},
		{"both sides in one cell", values + "columns.measure.constant = \"girth_calf\"\n[[table.wide]]\nheading = \"L/R\"\nsplit = \"/\"\ntake = 1\nset = { side = \"left\" }\n[[table.wide]]\nheading = \"L/R\"\nsplit = \"/\"\ntake = 2\nset = { side = \"right\" }\n[cells]\nmissing = \"-\"\n", "Case,Day,L/R\ne,2026-01-05,35/36\ne,2026-01-05,35/-\ne,2026-01-05,-\ne,2026-01-05,35\n", `measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=right value=36
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
nothing
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=left value=35
measurements episode_id=e measured_on=2026-01-05 measure=girth_calf side=right
  value:part_missing: under "L/R" stands "35", which taken apart at "/" has no value number 2; correct the cell
`},
		{"rows passed over and rows chosen", "[cells]\nnot_where = { Case = [\"Total\", \"\"] }\n[[table]]\nname = \"followups\"\nonly_where = { Kind = [\"call\", \"letter\"] }\ncolumns.episode_id.heading = \"Case\"\ncolumns.contact_on.heading = \"Day\"\n", "Case,Day,Kind\ntotal ,2026-01-05,call\n,2026-01-05,call\ne,2026-01-05,visit\ne,2026-01-05,Call\n", "nothing\nnothing\nnothing\nfollowups episode_id=e contact_on=2026-01-05\n"},
		{"withdrawn rows", calls + "[table.columns.row_state]\nheading = \"Void\"\ncodes = { x = \"withdrawn\" }\n", "Case,Day,Void\ne,2026-01-05,X\ne,2026-01-05,\n", "followups episode_id=e contact_on=2026-01-05 row_state=withdrawn\nfollowups episode_id=e contact_on=2026-01-05\n"},
		{"a heading that is not there", calls, "Cas,Day\ne,2026-01-05\n", "the layout layouts/north.toml, version 1, does not fit it: there is no heading \"Case\" or \"Case no.\" for episode_id of followups (is it \"Cas\"?); add the new spellings to the layout, or a new version of it with its from\n"},
		{"tables of which the file has nothing are passed over", calls + work, "Case,Day\ne,2026-01-05\n", "followups episode_id=e contact_on=2026-01-05\n"},
		{"a table of which the file has all but a heading is not", calls + strings.Replace(work, "\"N\"", "[\"No.\", \"Number\"]", 1), "Case,Day,S,Numbr\ne,2026-01-05,s,1\n", "the layout layouts/north.toml, version 1, does not fit it: there is no heading \"No.\" or \"Number\" for bout_no of bouts (is it \"Numbr\"?); add the new spellings to the layout, or a new version of it with its from\n"},
		{"headings that are not read may stand twice", calls, "Case,Day,Room,Room\ne,2026-01-05,1,2\n", "followups episode_id=e contact_on=2026-01-05\n"},
		{"a heading twice", calls, "Case,Day,day\ne,2026-01-05,2026-01-06\n", "the layout layouts/north.toml, version 1, does not fit it: a heading stands twice: \"day\"; add the new spellings to the layout, or a new version of it with its from\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := tell(t, parse(t, c.layout), c.csv); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}
