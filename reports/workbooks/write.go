package workbooks

import (
	"compress/flate"
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/opc"
)

// Write writes the book as an .xlsx file. Equal books give equal bytes.
func Write(w io.Writer, b Book) error {
	if err := b.check(); err != nil {
		return fmt.Errorf("workbook %q: %w", b.Title, err)
	}
	file := excelize.NewFile()
	err := fill(file, b)
	if err == nil {
		err = opc.Write(w, file, flate.BestCompression)
	}
	if closing := file.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return fmt.Errorf("workbook %q: %w", b.Title, err)
	}
	return nil
}

func fill(file *excelize.File, b Book) error {
	st := &styles{file: file, known: map[styleKey]int{}}
	for i, s := range b.Sheets {
		if i == 0 {
			if err := file.SetSheetName(file.GetSheetName(0), s.Name); err != nil {
				return err
			}
		} else if _, err := file.NewSheet(s.Name); err != nil {
			return err
		}
		if err := (&sheetWriter{file: file, styles: st, sheet: s}).write(b); err != nil {
			return fmt.Errorf("sheet %q: %w", s.Name, err)
		}
	}
	made := b.Date.UTC().Format(time.RFC3339)
	if err := file.SetDocProps(&excelize.DocProperties{Title: b.Title, Creator: b.Author, LastModifiedBy: b.Author, Created: made, Modified: made}); err != nil {
		return err
	}
	return file.SetAppProps(&excelize.AppProperties{Application: "Evenlimb"})
}

// sheetWriter fills one sheet from the top.
type sheetWriter struct {
	file   *excelize.File
	styles *styles
	sheet  Sheet
	row    int // last row written, from 1
	head   int // the row of the column headings
}

func (w *sheetWriter) write(b Book) error {
	for _, step := range []func() error{
		w.setWidths, w.writeHeading, w.writeHeads, w.writeRows, w.writeNotes, w.writeCharts,
		func() error { return w.setPage(b) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// wordsWidth is how many characters wide the sentences run at least.
const wordsWidth = 100

func (w *sheetWriter) setWidths() error {
	for i, c := range w.sheet.Columns {
		name, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := w.file.SetColWidth(w.sheet.Name, name, name, c.Width); err != nil {
			return err
		}
	}
	return nil
}

// span is the last column that sentences run to, and the width up to there.
func (w *sheetWriter) span() (column int, width float64) {
	const standard = 9.14 // width of a column that nobody set
	for width < wordsWidth || column < len(w.sheet.Columns) {
		if column < len(w.sheet.Columns) {
			width += w.sheet.Columns[column].Width
		} else {
			width += standard
		}
		column++
	}
	return column, width
}

func (w *sheetWriter) writeHeading() error {
	if w.sheet.Heading != "" {
		style, err := w.styles.words(14, true, inkText)
		if err != nil {
			return err
		}
		if err := w.sentence(w.sheet.Heading, style, 14); err != nil {
			return err
		}
	}
	return w.sentences(w.sheet.Lead)
}

func (w *sheetWriter) writeNotes() error {
	if len(w.sheet.Notes) > 0 {
		w.row++ // a blank row under the table
	}
	return w.sentences(w.sheet.Notes)
}

func (w *sheetWriter) sentences(list []string) error {
	style, err := w.styles.words(10, false, inkQuiet)
	if err != nil {
		return err
	}
	for _, s := range list {
		if err := w.sentence(s, style, 10); err != nil {
			return err
		}
	}
	return nil
}

// sentence writes words across the sheet in the next row, high enough for
// the lines they take.
func (w *sheetWriter) sentence(s string, style int, size float64) error {
	w.row++
	last, width := w.span()
	from, to, err := w.cells(w.row, 0, last-1)
	if err != nil {
		return err
	}
	if err := w.file.MergeCell(w.sheet.Name, from, to); err != nil {
		return err
	}
	if err := w.file.SetCellStr(w.sheet.Name, from, s); err != nil {
		return err
	}
	if err := w.file.SetCellStyle(w.sheet.Name, from, to, style); err != nil {
		return err
	}
	lines := linesOf(s, width*10/size)
	return w.file.SetRowHeight(w.sheet.Name, w.row, math.Min(float64(lines)*size*1.35+3, maxRowHeight))
}

// maxRowHeight is the most that the format allows, in points.
const maxRowHeight = 409

// linesOf estimates the lines that a text takes in a width of characters; no
// program but the reader's own knows it exactly. The width of a column counts
// in digits, and letters take a little less.
func linesOf(s string, width float64) int {
	width *= 1.05
	lines := 0
	for part := range strings.SplitSeq(s, "\n") {
		lines++
		used := 0.0
		for word := range strings.FieldsSeq(part) {
			n := float64(utf8.RuneCountInString(word))
			if used > 0 && used+1+n > width {
				lines++
				used = 0
			}
			if used > 0 {
				used++
			}
			used += n
			for ; used > width; used -= width {
				lines++
			}
		}
	}
	return lines
}

func (w *sheetWriter) writeHeads() error {
	if w.row > 0 {
		w.row++ // a blank row over the table
	}
	w.row++
	w.head = w.row
	lines := 1
	for i, c := range w.sheet.Columns {
		style, err := w.styles.head(w.rightAligned(i))
		if err != nil {
			return err
		}
		cell, err := excelize.CoordinatesToCellName(i+1, w.row)
		if err != nil {
			return err
		}
		if err := w.file.SetCellStr(w.sheet.Name, cell, c.Heading); err != nil {
			return err
		}
		if err := w.file.SetCellStyle(w.sheet.Name, cell, cell, style); err != nil {
			return err
		}
		lines = max(lines, linesOf(c.Heading, c.Width))
	}
	if err := w.file.SetRowHeight(w.sheet.Name, w.row, float64(lines)*13.5+3); err != nil {
		return err
	}
	// Headings stay in sight on the screen and on every printed page.
	under, err := excelize.CoordinatesToCellName(1, w.row+1)
	if err != nil {
		return err
	}
	if err := w.file.SetPanes(w.sheet.Name, &excelize.Panes{Freeze: true, YSplit: w.row, TopLeftCell: under, ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	return w.file.SetDefinedName(&excelize.DefinedName{
		Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("%s!$%d:$%d", quoted(w.sheet.Name), w.row, w.row), Scope: w.sheet.Name,
	})
}

// rightAligned is true for a column whose first filled cell is no text.
func (w *sheetWriter) rightAligned(column int) bool {
	for _, row := range w.sheet.Rows {
		if column < len(row) && row[column].kind != blank {
			return row[column].kind != text
		}
	}
	return false
}

func (w *sheetWriter) writeRows() error {
	for _, row := range w.sheet.Rows {
		w.row++
		lines := 1
		for i := range w.sheet.Columns {
			var c Cell
			if i < len(row) {
				c = row[i]
			}
			if err := w.writeCell(i, c); err != nil {
				return err
			}
			lines = max(lines, linesOf(c.text, w.sheet.Columns[i].Width))
		}
		if err := w.file.SetRowHeight(w.sheet.Name, w.row, math.Min(float64(lines)*13.5+1.5, maxRowHeight)); err != nil {
			return err
		}
	}
	return nil
}

func (w *sheetWriter) writeCell(column int, c Cell) error {
	cell, err := excelize.CoordinatesToCellName(column+1, w.row)
	if err != nil {
		return err
	}
	style, err := w.styles.of(c)
	if err != nil {
		return err
	}
	switch c.kind {
	case text, note:
		err = w.file.SetCellStr(w.sheet.Name, cell, c.text)
	case number, percent, date:
		err = w.file.SetCellFloat(w.sheet.Name, cell, c.value, -1, 64)
	case blank:
	}
	if err != nil {
		return err
	}
	return w.file.SetCellStyle(w.sheet.Name, cell, cell, style)
}

// setPage prints on A4, lying, as wide as the page.
func (w *sheetWriter) setPage(b Book) error {
	name := w.sheet.Name
	yes, no, a4, wide, high, landscape := true, false, 9, 1, 0, "landscape"
	if err := w.file.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &yes}); err != nil {
		return err
	}
	if err := w.file.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &a4, Orientation: &landscape, FitToWidth: &wide, FitToHeight: &high}); err != nil {
		return err
	}
	side, top, edge := 0.5, 0.75, 0.3 // inches
	if err := w.file.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	if err := w.file.SetSheetView(name, 0, &excelize.ViewOptions{ShowGridLines: &no}); err != nil {
		return err
	}
	return w.file.SetHeaderFooter(name, &excelize.HeaderFooterOptions{
		OddHeader: "&L&8" + inHeader(b.Title) + "&R&8" + inHeader(name),
		OddFooter: "&L&8" + inHeader(b.Caution) + "&R&8&P / &N",
	})
}

// inHeader keeps an ampersand an ampersand, and a number from being read as a
// size of type.
func inHeader(s string) string {
	s = strings.ReplaceAll(s, "&", "&&")
	if s != "" && s[0] >= '0' && s[0] <= '9' {
		s = " " + s
	}
	return s
}

// cells names the first and the last cell of a stretch of a row; columns count
// from 0.
func (w *sheetWriter) cells(row, first, last int) (from, to string, err error) {
	if from, err = excelize.CoordinatesToCellName(first+1, row); err != nil {
		return "", "", err
	}
	to, err = excelize.CoordinatesToCellName(last+1, row)
	return from, to, err
}

// quoted is a sheet's name as a reference has it.
func quoted(name string) string { return "'" + strings.ReplaceAll(name, "'", "''") + "'" }
