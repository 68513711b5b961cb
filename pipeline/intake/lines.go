package intake

import (
	"context"
	"errors"
	"fmt"

	"evenlimb/pipeline/intake/source"
)

// Lines are the rows of an archived file by the line number of each, as they
// were sent.
type Lines struct {
	Form source.Form // says where a line number is
	Rows map[int]Line
}

// Line is a row under the headings of its sheet. A row that could not be taken
// apart stands in one cell.
type Line struct{ Headings, Cells []string }

// ReadLines reads a file that was taken in back from the archive, by its SHA-256
// and the form that is stored with it. It is read as it was when it was taken
// in, so the lines are those that the landing store names.
func ReadLines(dir, sum, form string) (lines Lines, err error) {
	if lines.Form, err = source.ParseForm(form); err != nil {
		return Lines{}, err
	}
	file, err := source.Open(archivedInput(dir, sum), lines.Form)
	if err != nil {
		return Lines{}, fmt.Errorf("read the archived file %s: %w", short(sum), err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	lines.Rows = map[int]Line{}
	for _, sheet := range file.Sheets {
		headings, err := sheet.Headings()
		if err == nil {
			err = each(context.Background(), sheet, func(rec source.Record) { lines.Rows[rec.Line] = Line{headings, rec.Cells} })
		}
		if err != nil {
			return Lines{}, fmt.Errorf("read the archived file %s: %w", short(sum), err)
		}
	}
	return lines, nil
}
