package source

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// bookOf makes a workbook by hand: the parts of each sheet's rows, and what
// other parts a test wants.
func bookOf(tb testing.TB, rows string, more map[string]string) []byte {
	tb.Helper()
	parts := map[string]string{
		"[Content_Types].xml":        `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`,
		"_rels/.rels":                `<Relationships><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook xmlns:r="x"><sheets><sheet name="Visits" sheetId="7" r:id="rId3"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="rId3" Type="http://x/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId4" Type="http://x/relationships/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst><si><t>key</t></si><si><t xml:space="preserve">va</t><rPh><t>xx</t></rPh><r><t>lue</t></r></si></sst>`,
		"xl/worksheets/sheet1.xml":   `<worksheet><sheetData>` + rows + `</sheetData></worksheet>`,
	}
	for name, text := range more {
		parts[name] = text
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, text := range parts {
		if text == "" {
			continue
		}
		part, err := w.Create(name)
		if err != nil {
			tb.Fatal(err)
		}
		if _, err := part.Write([]byte(text)); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

const twoHeadings = `<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c></row>`

func TestCellsOfAWorkbook(t *testing.T) {
	styles := `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="[$-409]d\-mmm\-yyyy;@"/><numFmt numFmtId="165" formatCode="0.0&quot;days&quot;"/><numFmt numFmtId="166" formatCode="[h]:mm"/></numFmts>
<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/><xf numFmtId="166"/><xf numFmtId="22"/></cellXfs></styleSheet>`
	links := `<Relationships><Relationship Id="rId3" Type="http://x/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId4" Type="http://x/relationships/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="rId5" Type="http://x/relationships/styles" Target="styles.xml"/></Relationships>`
	cases := []struct{ cell, want, want1904 string }{
		{`<c r="B2"><v>37.399999999999999</v></c>`, "37.4", ""},
		{`<c r="B2"><v>0.30000000000000004</v></c>`, "0.3", ""},
		{`<c r="B2"><v>1.5E-2</v></c>`, "0.015", ""},
		{`<c r="B2"><v>-0</v></c>`, "0", ""},
		{`<c r="B2"><v>1E+300</v></c>`, "1E+300", ""},
		{`<c r="B2"><v>NaN</v></c>`, "NaN", ""},
		{`<c r="B2" t="n"><v>120</v></c>`, "120", ""},
		{`<c r="B2" t="b"><v>1</v></c>`, "true", ""},
		{`<c r="B2" t="b"><v>0</v></c>`, "false", ""},
		{`<c r="B2" t="e"><v>#N/A</v></c>`, "#N/A", ""},
		{`<c r="B2" t="str"><v>00&amp;7</v></c>`, "00&7", ""},
		{`<c r="B2" t="inlineStr"><is><t>one_x000D_` + "\n" + `two</t></is></c>`, "one\ntwo", ""},
		{`<c r="B2" t="d"><v>2026-03-31T00:00:00</v></c>`, "2026-03-31", ""},
		{`<c r="B2" t="d"><v>2026-03-31T08:30:00</v></c>`, "2026-03-31T08:30:00", ""},
		{`<c r="B2" s="1"><v>46112</v></c>`, "2026-03-31", "2030-04-01"},
		{`<c r="B2" s="2"><v>46112</v></c>`, "2026-03-31", "2030-04-01"},
		{`<c r="B2" s="2"><v>44650</v></c>`, "2022-03-30", "2026-03-31"},
		{`<c r="B2" s="1"><v>1</v></c>`, "1900-01-01", "1904-01-02"},
		{`<c r="B2" s="1"><v>59</v></c>`, "1900-02-28", "1904-02-29"},
		{`<c r="B2" s="1"><v>60</v></c>`, "1900-02-29", "1904-03-01"},
		{`<c r="B2" s="1"><v>61</v></c>`, "1900-03-01", "1904-03-02"},
		{`<c r="B2" s="5"><v>46112.354166666664</v></c>`, "2026-03-31T08:30:00", "2030-04-01T08:30:00"},
		{`<c r="B2" s="1"><v>-3</v></c>`, "-3", "-3"},
		{`<c r="B2" s="1"><v>2958465</v></c>`, "9999-12-31", "2958465"},
		{`<c r="B2" s="1"><v>2957003</v></c>`, "9995-12-30", "9999-12-31"},
		{`<c r="B2" s="1"><v>46112.9999999999</v></c>`, "2026-04-01", "2030-04-02"},
		{`<c r="B2" s="3"><v>3.5</v></c>`, "3.5", ""},
		{`<c r="B2" s="4"><v>1.25</v></c>`, "30:00:00", ""},
		{`<c r="B2" s="99"><v>7</v></c>`, "7", ""},
	}
	for _, c := range cases {
		for _, late := range []bool{false, true} {
			more := map[string]string{"xl/styles.xml": styles, "xl/_rels/workbook.xml.rels": links}
			want := c.want
			if late {
				more["xl/workbook.xml"] = `<workbook xmlns:r="x"><workbookPr date1904="1"/><sheets><sheet name="Visits" sheetId="7" r:id="rId3"/></sheets></workbook>`
				if c.want1904 != "" {
					want = c.want1904
				}
			}
			_, rows, err := rowsOf(t, bookOf(t, twoHeadings+`<row r="2"><c r="A2" t="inlineStr"><is><t>e1</t></is></c>`+c.cell+`</row>`, more), Wish{})
			if err != nil || len(rows) != 2 || rows[1][1] != want {
				t.Errorf("%s, 1904 %v: %q, %v; want %q", c.cell, late, rows, err, want)
			}
		}
	}
}

// What a spreadsheet program writes: sheets with title rows merged over the
// columns, dates, blank rows, sheets that are no tables.
func TestWorkbookOfAProgram(t *testing.T) {
	x := excelize.NewFile()
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	const sheet = "..-Visits"
	check(x.SetSheetName("Sheet1", sheet))
	check(x.SetCellValue(sheet, "A1", "Visits of January"))
	check(x.MergeCell(sheet, "A1", "D1"))
	check(x.SetSheetRow(sheet, "B3", &[]any{"Case", "Day", "Pain"}))
	check(x.SetSheetRow(sheet, "B4", &[]any{"0017", time.Date(2026, 1, 31, 0, 0, 0, 0, time.UTC), 3.5}))
	check(x.SetSheetRow(sheet, "B6", &[]any{"0018", "1.2.2026", nil}))
	check(x.SetSheetRow(sheet, "A7", &[]any{"see note", "0019", "2.2.2026", "4"}))
	check(x.SetSheetRow(sheet, "B8", &[]any{"0020", "3.2.2026", "4", nil, "late"}))
	_, err := x.NewSheet("Notes")
	check(err)
	check(x.SetCellValue("Notes", "A1", "Nothing here"))
	_, err = x.NewSheet("Lists")
	check(err)
	check(x.SetSheetRow("Lists", "A1", &[]any{"code", "label"}))
	check(x.SetSheetVisible("Lists", false))
	check(x.SetCellValue("Notes", "A3", 2))
	check(x.SetCellFormula("Notes", "A3", "=1+1"))
	check(x.AddComment("Notes", excelize.Comment{Cell: "A1", Author: "x", Paragraph: []excelize.RichTextRun{{Text: "a word "}, {Text: "aside"}}}))
	_, err = x.NewSheet("Tests")
	check(err)
	check(x.SetSheetRow("Tests", "A1", &[]any{"Case", "Girth"}))
	check(x.SetSheetRow("Tests", "A2", &[]any{"0017", 37.4}))
	var b bytes.Buffer
	check(x.Write(&b))

	in := inputOf(t, b.Bytes())
	form, err := Detect(in, Wish{})
	if err != nil || form.String() != "xlsx, sheets 1@3 4@1" {
		t.Fatalf("form %s, %v", form, err)
	}
	f, err := Open(in, form)
	check(err)
	if left, err := os.ReadDir(in.TempDir); err != nil || len(left) != 1 {
		t.Errorf("%d files unpacked, %v", len(left), err)
	}
	var got []string
	for _, s := range f.Sheets {
		headings, err := s.Headings()
		check(err)
		got = append(got, fmt.Sprintf("%d %s %q", s.Ordinal, s.Name, headings))
		for {
			rec, ok, err := s.Next()
			check(err)
			if !ok {
				break
			}
			got = append(got, fmt.Sprintf("%s: %q", form.Place(rec.Line), rec.Cells))
		}
	}
	want := []string{
		`1 ..-Visits ["Case" "Day" "Pain"]`,
		`sheet 1, row 4: ["0017" "2026-01-31" "3.5"]`,
		`sheet 1, row 6: ["0018" "1.2.2026" ""]`,
		`sheet 1, row 7: ["see note" "0019" "2.2.2026" "4"]`,
		`sheet 1, row 8: ["" "0020" "3.2.2026" "4" "" "late"]`,
		`4 Tests ["Case" "Girth"]`,
		`sheet 4, row 2: ["0017" "37.4"]`,
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	check(f.Close())
	if left, err := os.ReadDir(in.TempDir); err != nil || len(left) != 0 {
		t.Errorf("%d files left behind, %v", len(left), err)
	}

	asides, err := OpenAsides(in, form)
	check(err)
	var beside []string
	for _, s := range asides.Sheets {
		headings, err := s.Headings()
		check(err)
		beside = append(beside, fmt.Sprintf("%s %q", s.Name, headings))
		for {
			rec, ok, err := s.Next()
			check(err)
			if !ok {
				break
			}
			beside = append(beside, fmt.Sprintf("%d %q", rec.Line, rec.Cells))
		}
	}
	check(asides.Close())
	if want := []string{
		`..-Visits []`, `1 ["Visits of January"]`, `Notes ["Nothing here"]`, `2000003 ["2"]`, `Lists ["code" "label"]`, `Tests []`, `comments []`, `1 ["a word aside"]`,
	}; !reflect.DeepEqual(beside, want) {
		t.Errorf("beside the tables: %q, want %q", beside, want)
	}

	for _, c := range []struct {
		wish Wish
		want string
	}{
		{Wish{Sheets: []string{"Tests", "Notes"}}, "xlsx, sheets 4@1"},
		{Wish{Sheets: []string{"*"}}, "xlsx, sheets 1@3 3@1 4@1"},
		{Wish{Sheets: []string{"Tests", sheet}, SkipRows: -1}, "xlsx, sheets 1@1 4@1"},
		{Wish{Sheets: []string{sheet}, SkipRows: 3}, "xlsx, sheets 1@4"},
	} {
		if form, err := Detect(in, c.wish); err != nil || form.String() != c.want {
			t.Errorf("%+v: %s, %v; want %s", c.wish, form, err, c.want)
		}
	}
}

func TestRefusedWorkbooks(t *testing.T) {
	good := bookOf(t, twoHeadings, nil)
	row := `<row r="2"><c r="A2"><v>1</v></c></row>`
	manyNames := map[string]string{}
	for i := range maxParts {
		manyNames[fmt.Sprintf("x/%d", i)] = "x"
	}
	var ods bytes.Buffer
	z := zip.NewWriter(&ods)
	for _, name := range []string{"mimetype", "content.xml"} {
		if _, err := z.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		name, code string
		data       []byte
		wish       Wish
	}{
		{"cut short", brokenWorkbook, good[:len(good)/2], Wish{}},
		{"formula", "formulas", bookOf(t, twoHeadings+`<row r="2"><c r="AB2"><f>1+1</f><v>2</v></c></row>`, nil), Wish{}},
		{"formula far below", "formulas", bookOf(t, twoHeadings+rowsUpTo(3000)+`<row r="9000"><c r="A9000" t="str"><f t="shared" si="0"/><v>2</v></c></row>`, nil), Wish{}},
		{"macros", "macros", bookOf(t, twoHeadings+row, map[string]string{"xl/vbaProject.bin": "x"}), Wish{}},
		{"macros under another name", "macros", bookOf(t, twoHeadings+row, map[string]string{`xl\MacroSheets\sheet1.xml`: "x"}), Wish{}},
		{"external links", "external_links", bookOf(t, twoHeadings+row, map[string]string{"xl/externalLinks/externalLink1.xml": "<x/>"}), Wish{}},
		{"a connection", "external_links", bookOf(t, twoHeadings+row, map[string]string{"xl/connections.xml": "<x/>"}), Wish{}},
		{"OpenDocument", "other_workbook", ods.Bytes(), Wish{}},
		{"a ZIP of anything", "zip", bookOf(t, "", map[string]string{"[Content_Types].xml": ""}), Wish{}},
		{"no table in it", "no_table", bookOf(t, `<row r="1"><c r="A1"><v>1</v></c></row>`, nil), Wish{}},
		{"a sheet of an odd name", "formulas", bookOf(t, twoHeadings+`<row r="2"><c r="A2"><f>1+1</f></c></row>`, map[string]string{"xl/workbook.xml": `<workbook xmlns:r="x"><sheets><sheet name="../../x&#10;&#9;'; drop table" r:id="rId3"/></sheets></workbook>`}), Wish{}},
		{"a sheet that is not there", "no_such_sheet", good, Wish{Sheets: []string{"Sessions\x00\n"}}},
		{"rows out of order", brokenWorkbook, bookOf(t, twoHeadings+row+row, nil), Wish{}},
		{"cells out of order", brokenWorkbook, bookOf(t, twoHeadings+`<row r="2"><c r="B2"><v>1</v></c><c r="A2"><v>1</v></c></row>`, nil), Wish{}},
		{"a text that is not there", brokenWorkbook, bookOf(t, twoHeadings+`<row r="2"><c r="A2" t="s"><v>2</v></c></row>`, nil), Wish{}},
		{"a sheet without its end", brokenWorkbook, bookOf(t, "", map[string]string{"xl/worksheets/sheet1.xml": "<worksheet><sheetData>" + twoHeadings}), Wish{}},
		{"an entity of its own", brokenWorkbook, bookOf(t, "", map[string]string{"xl/worksheets/sheet1.xml": `<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet><sheetData>` + twoHeadings + `<row r="2"><c r="A2"><v>&a;</v></c></row></sheetData></worksheet>`}), Wish{}},
		{"too many columns", "too_many_columns", bookOf(t, twoHeadings+`<row r="2"><c r="XFD2"><v>1</v></c></row>`, nil), Wish{}},
		{"a bomb", "unpacks_too_large", bookOf(t, twoHeadings+row+"<!-- "+strings.Repeat(strings.Repeat(" ", 1000)+"--><!-- ", 17_000)+"-->", nil), Wish{}},
		{"a bomb in one cell", "cell_too_large", incompressible(t, 18<<20), Wish{}},
		{"too many parts", brokenWorkbook, bookOf(t, twoHeadings, manyNames), Wish{}},
		{"another format than the layout says", "other_format", good, Wish{Format: CSV}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, rows, err := rowsOf(t, c.data, c.wish)
			var refusal *Refusal
			if !errors.As(err, &refusal) || refusal.Code != c.code {
				t.Fatalf("%d rows, %v; want %s", len(rows), err, c.code)
			}
			if strings.ContainsAny(refusal.Words, "\n\x00") || !strings.ContainsAny(refusal.Words, ";") {
				t.Errorf("%q is not one line with a next step", refusal.Words)
			}
		})
	}
	for name, want := range map[string]string{"formula": "cell AB2", "formula far below": "cell A9000"} {
		for _, c := range cases {
			if c.name == name {
				if _, _, err := rowsOf(t, c.data, c.wish); !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), `"Visits"`) {
					t.Errorf("%v does not name sheet and %s", err, want)
				}
			}
		}
	}
}

func rowsUpTo(last int) string {
	var b strings.Builder
	for i := 2; i <= last; i++ {
		fmt.Fprintf(&b, `<row r="%d"><c r="A%d"><v>%d</v></c></row>`, i, i, i)
	}
	return b.String()
}

// incompressible is a workbook whose one cell is larger than any, without being
// suspicious by its ratio: the rest of it is stored as it is.
func incompressible(tb testing.TB, size int) []byte {
	tb.Helper()
	return bookOf(tb, twoHeadings+`<row r="2"><c r="A2" t="inlineStr"><is><t>`+strings.Repeat("x", size)+`</t></is></c></row>`, map[string]string{"xl/media/noise.bin": noise(200 << 10)})
}

func noise(size int) string {
	var b strings.Builder
	state := uint64(1)
	for b.Len() < size {
		state = state*6364136223846793005 + 1442695040888963407
		b.WriteByte(byte(state >> 56))
	}
	return b.String()
}

// A flipped bit anywhere in a sheet is noticed by the checksum, at the latest at
// its end.
func TestDamagedSheetIsNoticed(t *testing.T) {
	good := bookOf(t, twoHeadings+rowsUpTo(100), nil)
	noticed := 0
	for at := 0; at < len(good); at += 2 {
		bad := bytes.Clone(good)
		bad[at] ^= 4
		_, rows, err := rowsOf(t, bad, Wish{})
		var refusal *Refusal
		switch {
		case errors.As(err, &refusal):
			noticed++
		case err != nil:
			t.Fatalf("byte %d: %v", at, err)
		case len(rows) != 100 || rows[99][0] != "100":
			t.Errorf("byte %d: %d rows", at, len(rows))
		}
	}
	if noticed < len(good)/4 {
		t.Errorf("%d of %d flips noticed", noticed, len(good)/2)
	}
}
