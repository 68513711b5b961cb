package truthcheck

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/seeds/practice"
	"evenlimb/seeds/reference"
)

// TestWhatSitesSendComesToTheDrawnRecords reads the files of all sites, each in
// a format and under headings of its own, with the layouts beside them: what
// comes out is what was drawn, cell for cell.
func TestWhatSitesSendComesToTheDrawnRecords(t *testing.T) {
	s := practice.Default()
	s.Episodes, s.OwnFormats, s.Clean = 120, true, true
	p, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	_, layouts := settingsOf(t, p)
	held := map[string]map[string]practice.Row{} // by table and key
	formats := map[string]int{}
	for _, d := range p.Deliveries() {
		for _, f := range d.Files {
			if strings.HasSuffix(f.Name, "_delivery.csv") {
				continue
			}
			formats[readBack(t, layouts, d.ReceivedOn, f, held)]++
		}
	}
	for _, format := range []string{"csv, comma, utf-8", "csv, semicolon, windows-1252", "ndjson, utf-8, gzip", "parquet", "xlsx"} {
		if formats[format] == 0 {
			t.Errorf("no file is read as %s: %v", format, formats)
		}
	}
	drawn, err := practice.Tables(p)
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range export.Tables() {
		rows, missing := held[table.Name], 0
		for _, row := range drawn[table.Name] {
			row = bare(table, row)
			if got := rows[keyOf(table, row)]; !slices.Equal(got, row) {
				if missing++; missing < 4 {
					t.Errorf("%s: drawn %q\nread  %q", table.Name, row, got)
				}
			}
		}
		if missing > 0 || len(rows) != len(drawn[table.Name]) {
			t.Errorf("%s: %d rows differ; %d were drawn and %d read", table.Name, missing, len(drawn[table.Name]), len(rows))
		}
	}
}

func settingsOf(t *testing.T, p *practice.Practice) (*settings.Practice, []*settings.Layout) {
	t.Helper()
	set, err := settings.Parse(p.Settings(), settings.PracticeFile)
	if err != nil {
		t.Fatal(err)
	}
	var layouts []*settings.Layout
	for _, f := range p.Layouts() {
		l, err := settings.ParseLayout(f.Data, "layouts/"+f.Name, set)
		if err != nil {
			t.Fatal(err)
		}
		layouts = append(layouts, l)
	}
	return set, layouts
}

// readBack puts the rows of a file among those held and returns the form in
// which it was read.
func readBack(t *testing.T, layouts []*settings.Layout, received time.Time, f practice.File, held map[string]map[string]practice.Row) string {
	t.Helper()
	in := source.Input{TempDir: t.TempDir(), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(f.Data)), nil }}
	form, err := source.Detect(in, source.Wish{})
	if err != nil {
		t.Fatalf("%s/%s: %v", f.Sender, f.Name, err)
	}
	file, err := source.Open(in, form)
	if err != nil {
		t.Fatalf("%s/%s: %v", f.Sender, f.Name, err)
	}
	defer func() {
		if err := file.Close(); err != nil {
			t.Error(err)
		}
	}()
	var mapping *layout.Mapping
	for _, sheet := range file.Sheets {
		headings, err := sheet.Headings()
		if err != nil {
			t.Fatalf("%s/%s: %v", f.Sender, f.Name, err)
		}
		var misfit *layout.Misfit
		for _, l := range layout.Candidates(layouts, f.Sender, f.Name, received) {
			if mapping, misfit = layout.New(l, sheet.Name, headings); mapping != nil {
				break
			}
		}
		switch {
		case mapping != nil && len(mapping.NotRead) > 0:
			t.Errorf("%s/%s: headings that nobody reads: %v", f.Sender, f.Name, mapping.NotRead)
		case mapping == nil && misfit != nil:
			t.Fatalf("%s/%s: %s", f.Sender, f.Name, misfit.Words())
		}
		hold(t, f, sheet, mapping, headings, held)
	}
	form.SkipRows, form.Sheets = 0, ""
	return form.String()
}

func hold(t *testing.T, f practice.File, src source.Sheet, mapping *layout.Mapping, headings []string, held map[string]map[string]practice.Row) {
	t.Helper()
	keep := func(table export.Table, row practice.Row) {
		if held[table.Name] == nil {
			held[table.Name] = map[string]practice.Row{}
		}
		row = bare(table, row)
		held[table.Name][keyOf(table, row)] = row
	}
	var pass *layout.Pass
	if mapping != nil {
		pass = mapping.Begin()
	}
	for {
		rec, ok, err := src.Next()
		if err != nil || rec.Fault != "" {
			t.Fatalf("%s/%s, line %d: %s, %v", f.Sender, f.Name, rec.Line, rec.Fault, err)
		}
		if !ok {
			return
		}
		if pass == nil {
			table, known := export.Recognise(headings)
			if !known {
				t.Fatalf("%s/%s fits no table: %q", f.Sender, f.Name, headings)
			}
			keep(table, rec.Cells)
			continue
		}
		for _, row := range pass.Rows(rec.Cells) {
			if len(row.Faults) > 0 {
				t.Fatalf("%s/%s, line %d: %+v", f.Sender, f.Name, rec.Line, row.Faults)
			}
			table := mapping.Tables[row.Table]
			keep(table, slices.Clone(row.Cells[:len(table.Columns)]))
		}
	}
}

// bare leaves out what the form with a row for each visit cannot say: the
// number of a measurement, and that its unit is missing.
func bare(table export.Table, row practice.Row) practice.Row {
	if table.Name != "measurements" {
		return row
	}
	row = slices.Clone(row)
	place := func(name string) int {
		return slices.IndexFunc(table.Columns, func(c export.Column) bool { return c.Name == name })
	}
	row[place("measurement_id")] = ""
	row[place("unit")], _ = reference.Cell("measures", row[place("measure")], "unit")
	return row
}

func keyOf(table export.Table, row practice.Row) string {
	columns := table.Key
	if len(table.FallbackKey) > 0 && row[0] == "" {
		columns = table.FallbackKey
	}
	var parts []string
	for _, name := range columns {
		parts = append(parts, row[slices.IndexFunc(table.Columns, func(c export.Column) bool { return c.Name == name })])
	}
	return strings.Join(parts, "|")
}
