package intake

import (
	"reflect"
	"testing"

	"github.com/xuri/excelize/v2"
)

func TestReadLines(t *testing.T) {
	f := newFolder(t)
	f.write("inbox/north/m.csv", "\nepisode_id,measured_on,measure,side,value,method\n\ne1,2026-01-01,body_mass,none,70,\"tape,\nresting first\"\ne2,2026-01-01,body_mass,none,71,\n")
	book := excelize.NewFile()
	row := func(sheet, cell string, cells ...any) {
		if err := book.SetSheetRow(sheet, cell, &cells); err != nil {
			t.Fatal(err)
		}
	}
	row("Sheet1", "A1", "Measurements of January")
	row("Sheet1", "A2", "episode_id", "measured_on", "measure", "side", "value")
	row("Sheet1", "A3", "e3", "2026-01-01", "body_mass", "none", 72)
	if _, err := book.NewSheet("More"); err != nil {
		t.Fatal(err)
	}
	row("More", "A1", "episode_id", "contact_on")
	row("More", "A2", "e4", "2026-01-02")
	f.mkdir("inbox/south")
	if err := book.SaveAs(f.dir + "/inbox/south/m.xlsx"); err != nil {
		t.Fatal(err)
	}
	report := f.take(january(5))
	want := []map[int][]string{
		{4: {"e1", "2026-01-01", "body_mass", "none", "70", "tape,\nresting first"}, 6: {"e2", "2026-01-01", "body_mass", "none", "71", ""}},
		{3: {"e3", "2026-01-01", "body_mass", "none", "72"}, 2_000_002: {"e4", "2026-01-02"}},
	}
	for i, file := range report.Files {
		if file.Problem.Code != "" || file.Counts.Accepted != 2 {
			t.Fatalf("%s: %+v %+v", file.Path, file.Problem, file.Counts)
		}
		lines, err := ReadLines(f.dir, file.SHA256, file.Form)
		if err != nil {
			t.Fatal(err)
		}
		got := map[int][]string{}
		for line, row := range lines.Rows {
			if got[line] = row.Cells; len(row.Headings) != len(row.Cells) {
				t.Errorf("%s, line %d: %d cells under %d headings", file.Path, line, len(row.Cells), len(row.Headings))
			}
		}
		if !reflect.DeepEqual(got, want[i]) {
			t.Errorf("%s: %v, want %v", file.Path, got, want[i])
		}
	}
	if len(report.Files) != 2 || report.Files[1].Form != "xlsx, sheets 1@2 2@1" {
		t.Errorf("%+v", report.Files)
	}
}
