package workbooks

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/opc"
)

// opened reads a book back with the library.
func opened(t *testing.T, b Book) *excelize.File {
	t.Helper()
	file, err := excelize.OpenReader(bytes.NewReader(written(t, b)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := file.Close(); err != nil {
			t.Error(err)
		}
	})
	return file
}

// parts returns the files of the package by name, and the names in order.
func parts(t *testing.T, xlsx []byte) (map[string]string, []string) {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(xlsx), int64(len(xlsx)))
	if err != nil {
		t.Fatal(err)
	}
	contents := map[string]string{}
	var names []string
	for _, e := range in.File {
		r, err := e.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if !e.Modified.Equal(opc.EntryTime) {
			t.Errorf("%s is dated %v", e.Name, e.Modified)
		}
		contents[e.Name] = string(data)
		names = append(names, e.Name)
	}
	return contents, names
}

func TestCellsComeBack(t *testing.T) {
	file := opened(t, sample())
	for cell, want := range map[string]string{
		"A1": "What became of everybody who began care", "A4": "Injury type",
		"A5": "Achilles tendinopathy", "B5": "1,200", "C5": "180", "D5": "fewer than 10", "F5": "11.3", "G5": "2026-07-03",
		"A8": "=1+1", "A9": "+41", "A10": "-5 degrees", "A11": "@home", "A12": "Short row", "B12": "",
	} {
		if got, err := file.GetCellValue("Flow", cell); err != nil || got != want {
			t.Errorf("%s shows %q (%v), wanted %q", cell, got, err, want)
		}
	}
	// The library shows "0\ %" with its space behind the sign; readers do not.
	style, err := file.GetCellStyle("Flow", "E5")
	if err != nil {
		t.Fatal(err)
	}
	if s, err := file.GetStyle(style); err != nil || s.CustomNumFmt == nil || *s.CustomNumFmt != `0\ %` {
		t.Errorf("a share has the style %+v (%v)", s, err)
	}
	// All digits are in the cell, whatever it shows.
	for cell, want := range map[string]string{"E5": "0.551", "F5": "11.27", "G5": "46206"} {
		if got, err := file.GetCellValue("Flow", cell, excelize.Options{RawCellValue: true}); err != nil || got != want {
			t.Errorf("%s holds %q (%v), wanted %q", cell, got, err, want)
		}
	}
}

func TestNoCellIsAFormula(t *testing.T) {
	b := sample()
	hostile := `=cmd|'/c calc'!A1`
	b.Sheets[0].Heading, b.Sheets[0].Lead, b.Sheets[0].Notes = hostile, []string{hostile}, []string{hostile}
	b.Sheets[0].Columns[0].Heading = hostile
	b.Sheets[0].Rows[0] = []Cell{Text(hostile), Note(hostile)}
	contents, _ := parts(t, written(t, b))
	sheets := 0
	for name, xml := range contents {
		if !strings.HasPrefix(name, "xl/worksheets/") {
			continue
		}
		sheets++
		if strings.Contains(xml, "<f>") || strings.Contains(xml, "<f ") {
			t.Errorf("%s holds a formula", name)
		}
	}
	if sheets == 0 {
		t.Error("no sheets were looked at")
	}
	file := opened(t, b)
	for _, cell := range []string{"A1", "A2", "A4", "A5", "B5"} {
		if got, err := file.GetCellValue("Flow", cell); err != nil || got != hostile {
			t.Errorf("%s shows %q (%v)", cell, got, err)
		}
		if kind, err := file.GetCellType("Flow", cell); err != nil || kind != excelize.CellTypeSharedString {
			t.Errorf("%s is of type %v (%v), not text", cell, kind, err)
		}
	}
}

func TestSheetsPrintOnA4(t *testing.T) {
	file := opened(t, sample())
	for _, name := range file.GetSheetList() {
		page, err := file.GetPageLayout(name)
		if err != nil {
			t.Fatal(err)
		}
		if *page.Size != 9 || *page.Orientation != "landscape" || *page.FitToWidth != 1 || *page.FitToHeight != 0 {
			t.Errorf("%s prints on paper %d, %s, %d pages wide", name, *page.Size, *page.Orientation, *page.FitToWidth)
		}
		panes, err := file.GetPanes(name)
		if err != nil {
			t.Fatal(err)
		}
		if !panes.Freeze || panes.YSplit != 4 {
			t.Errorf("%s freezes %d rows", name, panes.YSplit)
		}
	}
	repeated := map[string]string{}
	for _, n := range file.GetDefinedName() {
		repeated[n.Scope] = n.Name + " " + n.RefersTo
	}
	if want := "_xlnm.Print_Titles 'Flow'!$4:$4"; repeated["Flow"] != want {
		t.Errorf("Flow repeats %q, wanted %q", repeated["Flow"], want)
	}
	contents, _ := parts(t, written(t, sample()))
	if xml := contents["xl/worksheets/sheet1.xml"]; !strings.Contains(xml, "June 2026 &amp;&amp; before") {
		t.Error("an ampersand in the title is not doubled in the page's head")
	}
}

func TestChartsPointAtTheTable(t *testing.T) {
	contents, _ := parts(t, written(t, sample()))
	xml := contents["xl/charts/chart2.xml"]
	sheet := "&#39;Curve, calf&#39;&#39;s &amp; &#39;&#39;other&#39;&#39; strain&#39;!"
	for _, want := range []string{
		sheet + "$A$5:$A$31", sheet + "$B$5:$B$31", sheet + "$E$5:$E$31", // categories, first and last line
		sheet + "$B$4<", sheet + "$E$4<", // and their names
		inkDark, inkLight,
	} {
		if !strings.Contains(strings.ReplaceAll(xml, "&apos;", "&#39;"), want) {
			t.Errorf("the chart does not hold %s", want)
		}
	}
	if n := strings.Count(xml, `prstDash val="dash"`); n != 2 {
		t.Errorf("%d dashed lines, wanted the two limits", n)
	}
}

// The row of headings is printed on every page; a chart in it would be too.
func TestChartsStandBesideTheirRows(t *testing.T) {
	b := sample()
	b.Sheets[1].Charts[1].From, b.Sheets[1].Charts[1].To = 21, 27
	third := b.Sheets[1].Charts[0]
	third.From, third.To = 22, 26
	b.Sheets[1].Charts = append(b.Sheets[1].Charts, third)
	contents, _ := parts(t, written(t, b))
	var rows []string
	for _, from := range strings.Split(contents["xl/drawings/drawing1.xml"], "<xdr:from>")[1:] {
		_, from, _ = strings.Cut(from, "<xdr:row>")
		row, _, _ := strings.Cut(from, "</xdr:row>")
		rows = append(rows, row)
	}
	// Counted from 0: headings in 3, the first row in 4; the third chart
	// begins where the second has ended.
	if got, want := strings.Join(rows, " "), "4 25 45"; got != want {
		t.Errorf("charts in rows %s, wanted %s", got, want)
	}
	if sheet := contents["xl/worksheets/sheet2.xml"]; !strings.Contains(sheet, `<brk id="25"`) || strings.Count(sheet, "<brk ") != 1 {
		t.Error("the second chart does not begin a page, or another does")
	}
}

func TestPackageIsInOrder(t *testing.T) {
	contents, names := parts(t, written(t, sample()))
	if names[0] != opc.ContentTypes {
		t.Errorf("the package begins with %s", names[0])
	}
	for i := 2; i < len(names); i++ {
		if names[i] <= names[i-1] {
			t.Errorf("%s stands after %s", names[i], names[i-1])
		}
	}
	if core := contents["docProps/core.xml"]; strings.Count(core, "2026-07-03T00:00:00Z") != 2 {
		t.Errorf("the file's properties have other dates: %s", core)
	}
}

func TestWriteRefusesWhatASpreadsheetCannotHold(t *testing.T) {
	for name, change := range map[string]func(*Book){
		"no sheets":         func(b *Book) { b.Sheets = nil },
		"no date":           func(b *Book) { b.Date = time.Time{} },
		"sheet twice":       func(b *Book) { b.Sheets[1].Name = "FLOW" },
		"long name":         func(b *Book) { b.Sheets[0].Name = strings.Repeat("x", 32) },
		"no name":           func(b *Book) { b.Sheets[0].Name = "" },
		"slash in a name":   func(b *Book) { b.Sheets[0].Name = "a/b" },
		"quote at the end":  func(b *Book) { b.Sheets[0].Name = "a'" },
		"no columns":        func(b *Book) { b.Sheets[0].Columns = nil },
		"no width":          func(b *Book) { b.Sheets[0].Columns[1].Width = 0 },
		"not a number":      func(b *Book) { b.Sheets[0].Rows[0][1] = Number(math.NaN(), 0) },
		"infinite":          func(b *Book) { b.Sheets[0].Rows[0][1] = Percent(math.Inf(1), 0) },
		"too many digits":   func(b *Book) { b.Sheets[0].Rows[0][1] = Number(1, 11) },
		"a day before time": func(b *Book) { b.Sheets[0].Rows[0][6] = Date(time.Date(1900, 2, 28, 0, 0, 0, 0, time.UTC)) },
		"row too long":      func(b *Book) { b.Sheets[0].Rows[0] = make([]Cell, 8) },
		"text too long":     func(b *Book) { b.Sheets[0].Rows[0][0] = Text(strings.Repeat("x", maxText+1)) },
		"note too long":     func(b *Book) { b.Sheets[0].Notes = []string{strings.Repeat("x", maxText+1)} },
		"chart off table":   func(b *Book) { b.Sheets[1].Charts[0].To = 28 },
		"chart of one row":  func(b *Book) { b.Sheets[1].Charts[0].To = 1 },
		"chart, no column":  func(b *Book) { b.Sheets[1].Charts[0].Categories = 5 },
		"chart, no lines":   func(b *Book) { b.Sheets[1].Charts[0].Lines = nil },
		"line of no numbers": func(b *Book) {
			for i := range b.Sheets[1].Rows {
				b.Sheets[1].Rows[i][4] = Note("not shown")
			}
		},
	} {
		b := sample()
		change(&b)
		if err := Write(io.Discard, b); err == nil {
			t.Errorf("%s: written", name)
		}
	}
	if err := Write(io.Discard, sample()); err != nil {
		t.Errorf("the sample itself: %v", err)
	}
}

func TestDateDropsTheTimeOfDayWhereverItIs(t *testing.T) {
	want := Date(time.Date(2026, 3, 29, 0, 0, 0, 0, time.UTC))
	for _, zone := range []*time.Location{time.FixedZone("far east", 14*3600), time.FixedZone("far west", -12*3600)} {
		for _, hour := range []int{0, 1, 23} {
			if got := Date(time.Date(2026, 3, 29, hour, 59, 0, 0, zone)); got != want {
				t.Errorf("%v at %d: %v, wanted %v", zone, hour, got, want)
			}
		}
	}
	if got := Date(time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)).value; got != firstDay {
		t.Errorf("1 March 1900 is day %g", got)
	}
}

func TestLinesOf(t *testing.T) {
	for _, c := range []struct {
		text  string
		width float64
		want  int
	}{
		{"", 10, 1},
		{"one two", 10, 1},
		{"one two three", 10, 2},
		{"one\ntwo", 10, 2},
		{"unbreakableword", 10, 2},
		{"fewer than 10", 13, 1},
		{"fewer than 10", 12, 2},
	} {
		if got := linesOf(c.text, c.width); got != c.want {
			t.Errorf("%q in %g: %d lines, wanted %d", c.text, c.width, got, c.want)
		}
	}
}
