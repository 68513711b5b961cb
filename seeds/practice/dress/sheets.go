package dress

import (
	"bytes"
	"compress/flate"
	"fmt"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/opc"
)

// sheets is a workbook with a sheet for each table, as people keep them: merged
// title cells over the headings, real dates, and a number now and then that is
// stored as text.
type sheets struct {
	script  *script
	title   string
	names   map[string]string // of the sheets, by table
	layouts []layoutFile
	about   string
}

const (
	headingRow   = 4         // below two titles and an empty row
	sheetLines   = 2_000_000 // by which the intake's line numbers of two sheets lie apart
	textEvery    = 40        // every so manieth number is stored as text
	dateNumber   = 14        // the number format of dates
	spreadsheet0 = 25569     // 1 January 1970 as spreadsheets count days
)

// Files writes one workbook, and one more for every sheet with a name of its
// own.
func (x *sheets) Files(d Drop) ([]File, error) {
	var files []File
	var together []int
	for n, s := range d.Sheets {
		if s.Name == "" {
			together = append(together, n)
			continue
		}
		file, err := x.workbook(d, s.Name+".xlsx", []int{n})
		if err != nil {
			return nil, err
		}
		files = append(files, file)
	}
	if len(together) > 0 {
		file, err := x.workbook(d, d.Date+".xlsx", together)
		if err != nil {
			return nil, err
		}
		files = append(files, file)
	}
	return files, nil
}

func (x *sheets) workbook(d Drop, name string, which []int) (File, error) {
	file := excelize.NewFile()
	err := x.fill(file, d, name, which)
	var out bytes.Buffer
	if err == nil {
		err = opc.Write(&out, file, flate.BestSpeed)
	}
	if closing := file.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return File{}, fmt.Errorf("write a made-up workbook: %w", err)
	}
	return File{name, out.Bytes()}, nil
}

func (x *sheets) fill(file *excelize.File, d Drop, name string, which []int) error {
	date, err := file.NewStyle(&excelize.Style{NumFmt: dateNumber})
	if err != nil {
		return err
	}
	for ordinal, n := range which {
		s := d.Sheets[n]
		tab := x.names[s.Table.Name]
		if ordinal == 0 {
			err = file.SetSheetName(file.GetSheetName(0), tab)
		} else {
			_, err = file.NewSheet(tab)
		}
		if err != nil {
			return err
		}
		note := func(i, row int) { d.Note(n, i, name, ordinal*sheetLines+row) }
		if err := x.sheet(file, tab, d.Date, s, date, note); err != nil {
			return err
		}
	}
	return nil
}

func (x *sheets) sheet(file *excelize.File, tab, day string, s Sheet, date int, note func(i, row int)) error {
	w, err := file.NewStreamWriter(tab)
	if err != nil {
		return err
	}
	p := x.script.pen(s.Table)
	if err := w.MergeCell("A1", "F1"); err != nil {
		return err
	}
	if err := w.MergeCell("A2", "F2"); err != nil {
		return err
	}
	if err := w.SetRow("A1", []any{x.title + ": " + tab}); err != nil {
		return err
	}
	if err := w.SetRow("A2", []any{"Printed on " + dayFirst(day)}); err != nil {
		return err
	}
	heads := make([]any, len(p.heads))
	for i, h := range p.heads {
		heads[i] = h
	}
	if err := w.SetRow("A"+strconv.Itoa(headingRow), heads); err != nil {
		return err
	}
	for i, line := range s.Rows {
		r, err := parse(s.Table, line)
		if err != nil {
			return err
		}
		row := headingRow + 1 + i
		note(i, row)
		cells := make([]any, len(p.heads))
		for n, text := range p.cells(i, r) {
			cells[n] = typed(text, p.kind(n), date, (i+n)%textEvery == 0)
		}
		if r.harm == MoreCells {
			cells = append(cells, "?")
		}
		if err := w.SetRow("A"+strconv.Itoa(row), cells); err != nil {
			return err
		}
	}
	return w.Flush()
}

// typed is a cell as a spreadsheet holds it; nil for an empty one.
func typed(text string, kind export.Type, date int, asText bool) any {
	switch kind {
	case export.Date:
		if day, err := time.Parse(time.DateOnly, text); err == nil {
			return excelize.Cell{StyleID: date, Value: spreadsheet0 + day.Unix()/(24*60*60)}
		}
	case export.Integer, export.Decimal:
		if v, err := strconv.ParseFloat(text, 64); err == nil && !asText {
			return v
		}
	case export.Boolean:
		if v, err := strconv.ParseBool(text); err == nil {
			return v
		}
	default:
	}
	if text == "" {
		return nil
	}
	return text
}

// Holds is true: a cell of a workbook holds everything.
func (*sheets) Holds(export.Table, string, string) bool { return true }

// Breaks names the reason of the reader of workbooks.
func (*sheets) Breaks(h Harm) string {
	if h == MoreCells {
		return textBreaks[h]
	}
	return ""
}

// Layouts are the desk's layout files.
func (x *sheets) Layouts(nights []string) []File { return layoutsOf(x.layouts, nights) }

// About says what the desk sends.
func (x *sheets) About() string { return x.about }
