package intake

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// What stands beside the table of a workbook would be kept with it, so the guard
// looks there too.
func TestPersonsBesideTheTable(t *testing.T) {
	for name, hide := range map[string]func(*excelize.File) error{
		"nobody":             func(*excelize.File) error { return nil },
		"above the headings": func(x *excelize.File) error { return x.SetCellValue("Sheet1", "A1", "maria.lopes@example.org") },
		"in a hidden sheet": func(x *excelize.File) error {
			if _, err := x.NewSheet("Lists"); err != nil {
				return err
			}
			for i, text := range []string{"Patient name", "Maria Lopes", "Joao Silva"} {
				if err := x.SetCellValue("Lists", "A"+string(rune('1'+i)), text); err != nil {
					return err
				}
			}
			return x.SetSheetVisible("Lists", false)
		},
		"in a comment": func(x *excelize.File) error {
			return x.AddComment("Sheet1", excelize.Comment{Cell: "B4", Author: "desk", Paragraph: []excelize.RichTextRun{{Text: "call maria.lopes@example.org"}}})
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := newFolder(t)
			book := excelize.NewFile()
			for cell, row := range map[string][]any{"A3": {"episode_id", "contact_on", "way"}, "A4": {"e1", "2026-01-02", "phone"}, "A5": {"e2", "2026-01-03", "phone"}} {
				if err := book.SetSheetRow("Sheet1", cell, &row); err != nil {
					t.Fatal(err)
				}
			}
			if err := hide(book); err != nil {
				t.Fatal(err)
			}
			f.mkdir("inbox/north")
			if err := book.SaveAs(filepath.Join(f.dir, "inbox/north/calls.xlsx")); err != nil {
				t.Fatal(err)
			}
			file := f.take(january(5)).Files[0]
			_, err := os.Stat(archivePath(f.dir, file.SHA256))
			kept := err == nil
			if name == "nobody" {
				if file.Problem.Code != "" || !kept || file.Counts.Accepted != 2 {
					t.Errorf("%+v %+v", file.Problem, file.Counts)
				}
				return
			}
			if file.Problem.Code != "identity" || kept || strings.Contains(strings.ToLower(file.Problem.Words), "maria") {
				t.Errorf("%+v, kept: %v", file.Problem, kept)
			}
		})
	}
}
