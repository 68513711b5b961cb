package propose

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/settings"
)

// sheetOf reads a table written with bars: headings first.
func sheetOf(text string) Sheet {
	var s Sheet
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		cells := strings.Split(line, "|")
		if i == 0 {
			s.Headings = cells
			continue
		}
		s.Rows = append(s.Rows, cells)
	}
	return s
}

func draft(t *testing.T, in Input) (Draft, *settings.Layout) {
	t.Helper()
	if in.Sender == "" {
		in.Sender = "north"
	}
	d, err := New(in)
	if err != nil {
		t.Fatal(err)
	}
	l, err := settings.ParseLayout(d.TOML(), "layouts/draft.toml", nil)
	if err != nil {
		t.Fatalf("%v\n%s", err, d.TOML())
	}
	return d, l
}

// columnOf is what a heading was drafted as.
func columnOf(d Draft, heading string) Column {
	for _, t := range d.Tables {
		for _, c := range t.Columns {
			if c.Heading == heading {
				return c
			}
		}
	}
	return Column{}
}

func TestHeadingsFindTheirColumns(t *testing.T) {
	d, _ := draft(t, Input{File: "x/visits_2026-02-06.csv", Sheets: []Sheet{sheetOf(`
Appointment key|Care episode|When|Atendance|Sistolic (kPa)|Diastolic BP (kPa)|Shelf
a1|e1|2026-01-05|attended|16.5|10.9|3
a2|e1|2026-01-07|missed|||2
a3|e2|2026-01-08|attended|17.1|11.2|3
a4|e2|2026-01-09|attended|16.9|10.7|1`)}})
	if got := d.Tables[0].Name; got != "sessions" || d.Match != "x/visits_*.csv" {
		t.Fatalf("table %s, match %s", got, d.Match)
	}
	for heading, want := range map[string]string{
		"Appointment key": "session_id", "Care episode": "episode_id", "When": "session_date", "Atendance": "attendance", "Sistolic (kPa)": "systolic_mmhg", "Diastolic BP (kPa)": "diastolic_mmhg",
	} {
		c := columnOf(d, heading)
		if c.Column != want || c.Why == "" || (strings.Contains(heading, "kPa") && c.Unit != "kPa") {
			t.Errorf("%s is drafted as %+v, wanted %s", heading, c, want)
		}
	}
	if len(d.Tables[0].Unread) != 1 || d.Tables[0].Unread[0].Heading != "Shelf" {
		t.Errorf("not read: %+v", d.Tables[0].Unread)
	}
}

// A column of a draft without a heading is named, and the draft is a layout.
func TestMissingHeadingsAreSaid(t *testing.T) {
	d, l := draft(t, Input{File: "calls.csv", Sheets: []Sheet{sheetOf(`
episode_id|way|reached
e1|phone|true
e2|phone|false
e1|form|true`)}})
	if got := d.Tables[0]; got.Name != "followups" || !reflect.DeepEqual(got.Absent, []string{"contact_on"}) {
		t.Fatalf("%+v", got)
	}
	for _, c := range l.Tables[0].Columns {
		if c.Name == "contact_on" && c.Heading[0] == NoHeading {
			return
		}
	}
	t.Errorf("contact_on has no place in the draft: %+v", l.Tables[0].Columns)
}

func TestDatesNumbersAndWordsForNothing(t *testing.T) {
	rows := func(line func(i int) string) Sheet {
		text := "episode_id|contact_on|reached|Minutes\n"
		for i := range 12 {
			text += line(i) + "\n"
		}
		return sheetOf(text)
	}
	for _, c := range []struct {
		what    string
		sheet   Sheet
		date    string
		unsure  bool
		decimal string
		missing []string
	}{
		{"days first", rows(func(i int) string { return fmt.Sprintf("e%d|%d.03.2026|true|3,%d", i, 5+i, i) }), "day.month.year", false, ",", nil},
		{"months first", rows(func(i int) string { return fmt.Sprintf("e%d|03/%d/2026|true|3.%d", i, 5+i, i) }), "month/day/year", false, ".", nil},
		{"nobody can tell", rows(func(i int) string { return fmt.Sprintf("e%d|03/%02d/2026|true|3", i, 1+i) }), "day/month/year", true, ".", nil},
		{"ISO", rows(func(i int) string { return fmt.Sprintf("e%d|2026-03-%02d|true|%d", i, 1+i, i) }), "", false, ".", nil},
		{"words for nothing", rows(func(i int) string {
			return fmt.Sprintf("e%d|2026-03-%02d|%s|%s", i, 1+i, []string{"true", "n/a"}[i%2], []string{"12", "unknown", "999", "14"}[i%4])
		}), "", false, ".", []string{"n/a", "999", "unknown"}},
	} {
		d, _ := draft(t, Input{File: "calls.csv", Sheets: []Sheet{c.sheet}})
		date, why := "", ""
		if len(d.Dates) > 0 {
			date, why = d.Dates[0].Text, d.Dates[0].Why
		}
		var missing []string
		for _, g := range d.Missing {
			missing = append(missing, g.Text)
		}
		if date != c.date || d.Decimal != c.decimal || !reflect.DeepEqual(missing, c.missing) || strings.Contains(why, "ask the sender") != c.unsure {
			t.Errorf("%s: date %q (%s), decimal %q, missing %q", c.what, date, why, d.Decimal, missing)
		}
	}
}

func TestCodesUnitsPairsAndWideForms(t *testing.T) {
	d, l := draft(t, Input{File: "work.csv", Sheets: []Sheet{sheetOf(`
session_id|bout_no|Exercise|Side|Load (lb)|Pressure share|Cuff inflated
s1|1|Leg press|L|22.5|0.4|y
s1|2|knee extension|R|10|0.55|n
s2|1|kneee_extension|L+R|12.5|0.6|y
s2|2|juggling|L|15|0.45|y`)}})
	codes := map[string]string{}
	for _, c := range d.Tables[0].Columns {
		for _, one := range c.Codes {
			codes[c.Column+" "+one.Word] = one.Code
		}
	}
	for word, want := range map[string]string{
		"exercise Leg press": "leg_press", "exercise knee extension": "knee_extension", "exercise kneee_extension": "knee_extension", "exercise juggling": "",
		"side L": "left", "side R": "right", "side L+R": "bilateral", "cuff_inflated y": "true", "cuff_inflated n": "false",
	} {
		if got, there := codes[word]; got != want || !there {
			t.Errorf("%s is drafted as %q, wanted %q", word, got, want)
		}
	}
	if u := columnOf(d, "Load (lb)"); u.Column != "load_kg" || u.Unit != "lb" {
		t.Errorf("load: %+v", u)
	}
	if u := columnOf(d, "Pressure share"); u.Column != "pressure_percent" || u.Unit != "fraction" {
		t.Errorf("share: %+v", u)
	}
	if len(l.Tables[0].Columns) != 7 {
		t.Errorf("the layout has %d columns", len(l.Tables[0].Columns))
	}

	d, _ = draft(t, Input{File: "visits.csv", Sheets: []Sheet{sheetOf(`
session_id|episode_id|session_date|attendance|Blood pressure
s1|e1|2026-01-05|attended|134/83
s2|e1|2026-01-07|attended|128/79
s3|e2|2026-01-08|attended|141/90`)}})
	if c := columnOf(d, "Blood pressure"); c.Column != "systolic_mmhg" || c.Split != "/" || c.Take != 1 {
		t.Errorf("blood pressure: %+v", c)
	}

	d, l = draft(t, Input{File: "form.csv", Sheets: []Sheet{sheetOf(`
Episode|Assessed|Calf circumference L (in)|Calf circumference R (in)|Grip strength L1 (lb)|Grip strength R1 (lb)|Weight (lb)|DASH
e1|2026-01-05|14.4|14.1|80|75|170|30
e2|2026-01-06|13.9|14|66|70|155|22`)}})
	if len(l.Tables[0].Wide) != 6 || d.Tables[0].Name != "measurements" {
		t.Errorf("wide: %s\n", d.TOML())
	}
	if c := columnOf(d, "Grip strength R1 (lb)"); c.Measure != "strength_grip" || c.Side != "right" || c.Trial != "1" || c.Unit != "lb" {
		t.Errorf("grip: %+v", c)
	}
	if c := columnOf(d, "Assessed"); c.Column != "measured_on" {
		t.Errorf("assessed: %+v", c)
	}
}

// A draft shows the shape of keys, not the keys.
func TestKeysAreNotShown(t *testing.T) {
	d, _ := draft(t, Input{File: "calls.csv", Sheets: []Sheet{sheetOf(`
episode_id|contact_on|way|remarks
secret-77|2026-01-05|phone|walked in with a limp
secret-78|2026-01-06|phone|asked to be called on Friday`)}})
	book, err := d.Workbook(nil)
	if err != nil {
		t.Fatal(err)
	}
	file, err := excelize.OpenReader(bytes.NewReader(book))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for _, sheet := range file.GetSheetList() {
		rows, err := file.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprint(&text, rows)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	for _, said := range []string{string(d.TOML()), text.String()} {
		if strings.Contains(said, "secret") || strings.Contains(said, "limp") || !strings.Contains(said, "xxxxxx-00") {
			t.Errorf("%s", said)
		}
	}
}

func TestWorkbooksComeBack(t *testing.T) {
	d, _ := draft(t, Input{File: "calls_1.csv", Sheets: []Sheet{sheetOf(`
Case no.|Contact on|Way|Reached|Shelf
e1|05.01.2026|phone|y|-
e2|25.01.2026|by telephone|n|4
e3|26.01.2026|phone|y|4`)}})
	first, err := d.Workbook(nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := d.Workbook(nil)
	if err != nil || !bytes.Equal(first, again) {
		t.Errorf("the same draft gives other bytes, %v", err)
	}
	back, err := ReadWorkbook(bytes.NewReader(first))
	if err != nil {
		t.Fatal(err)
	}
	d.Tables[0].Why, back.Tables[0].Why = "", ""
	if got, want := string(back.TOML()), string(d.TOML()); got != want {
		t.Errorf("the workbook comes back as\n%s\nwanted\n%s", got, want)
	}
	if _, err := ReadWorkbook(strings.NewReader("PK")); !errors.Is(err, ErrNoDraft) {
		t.Errorf("something else is %v", err)
	}
}

func TestNothingLikeATable(t *testing.T) {
	if _, err := New(Input{Sender: "north", File: "cupboard.csv", Sheets: []Sheet{sheetOf("shelf|thing\n1|band\n2|mat")}}); err == nil || !strings.Contains(err.Error(), "evenlimb tables") {
		t.Errorf("got %v", err)
	}
}

// Whatever headings and cells hold, a draft is a layout.
func FuzzDraftsAreLayouts(f *testing.F) {
	f.Add("episode_id|contact_on\ne1|2026-01-05\ne2|2026-01-06")
	f.Add("Case \"no\"\\|Called on]\n=1+1|05.01.26\n\x00|#")
	f.Add("Calf girth L (in)|Calf girth R|LEFS|x\n1|2|3|e1\n1|2|3|e2")
	f.Fuzz(func(t *testing.T, text string) {
		s := sheetOf(text)
		for _, row := range s.Rows {
			if len(row) != len(s.Headings) {
				return
			}
		}
		d, err := New(Input{Sender: "north", File: "a.csv", Sheets: []Sheet{s}})
		if err != nil {
			return
		}
		if _, err := settings.ParseLayout(d.TOML(), "layouts/draft.toml", nil); err != nil {
			t.Fatalf("%v\n%s", err, d.TOML())
		}
	})
}
