package source

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

func (f *File) openXLSX(in Input, form Form) error {
	list, err := parseSheets(form.Sheets)
	if err != nil {
		return err
	}
	src, err := f.randomAccess(in, form.Compression)
	if err != nil {
		return err
	}
	w, err := openWorkbook(src)
	if err != nil {
		return err
	}
	for _, s := range list {
		if s.ordinal > len(w.sheets) || w.sheets[s.ordinal-1].part == "" {
			return refuse(brokenWorkbook, "the workbook has no sheet %d", s.ordinal)
		}
		r := &sheetReader{book: w, at: s.ordinal - 1, headingsAt: s.headings}
		f.Sheets = append(f.Sheets, Sheet{Name: w.sheets[r.at].name, Ordinal: s.ordinal, Reader: r})
		f.closers = append(f.closers, r)
	}
	return nil
}

// detectXLSX finds the sheets that are tables, and the row of headings of each.
func (f *File) detectXLSX(in Input, form Form, wish Wish) (Form, error) {
	src, err := f.randomAccess(in, form.Compression)
	if err != nil {
		return Form{}, err
	}
	w, err := openWorkbook(src)
	if err != nil {
		return Form{}, err
	}
	places, err := w.wished(wish)
	if err != nil {
		return Form{}, err
	}
	var list []sheetAt
	for _, at := range places {
		row, err := w.headingsOf(at, wish)
		if err != nil {
			return Form{}, err
		}
		if row > 0 {
			list = append(list, sheetAt{at + 1, row})
		}
	}
	if len(list) == 0 {
		return Form{}, refuse("no_table", "no sheet that is read has a row of headings; send a workbook with its table in a sheet, headings above the rows")
	}
	form.Sheets = formatSheets(list)
	return form, nil
}

// headingsOf returns the row of the headings of a sheet, 0 when it has none.
func (w *workbook) headingsOf(at int, wish Wish) (row int, err error) {
	r := &sheetReader{book: w, at: at, stored: true}
	defer func() { err = errors.Join(err, r.Close()) }()
	var rows []sampleRow
	for len(rows) < sampleRows {
		ok, err := r.nextRow()
		if err != nil {
			return 0, err
		}
		if !ok {
			break
		}
		if r.row <= max(0, wish.SkipRows) || blank(r.cells) {
			continue
		}
		if wish.SkipRows != 0 {
			return r.row, nil
		}
		rows = append(rows, textRow(r.row, r.cells))
	}
	if i := headingRow(rows); i >= 0 {
		return rows[i].line, nil
	}
	return 0, nil
}

// sheetReader reads the rows of one sheet of a workbook.
type sheetReader struct {
	book       *workbook
	at         int  // of the sheet, from 0
	headingsAt int  // row of the headings
	stored     bool // of a formula, its stored value is read

	part   io.ReadCloser
	markup *markup
	done   bool
	row    int      // of cells
	column int      // behind the cell read last
	cells  []string // of the row read last, from column A on
	value  []byte   // of the cell read last
	inline textOf
	from   int // first and last column of the headings, the last not included
	to     int
}

func (r *sheetReader) Close() error {
	if r.part == nil {
		return nil
	}
	part := r.part
	r.part, r.done = nil, true
	return part.Close()
}

func (r *sheetReader) Headings() ([]string, error) {
	for r.row < r.headingsAt {
		ok, err := r.nextRow()
		if err != nil || !ok {
			return nil, err
		}
	}
	for r.from < len(r.cells) && strings.TrimSpace(r.cells[r.from]) == "" {
		r.from++
	}
	r.to = len(r.cells)
	for r.to > r.from && strings.TrimSpace(r.cells[r.to-1]) == "" {
		r.to--
	}
	headings := slices.Clone(r.cells[r.from:r.to])
	return headings, checkHeadings(headings)
}

// Next returns the next row with something in it. A row with something outside
// the columns of the headings has more cells than they are.
func (r *sheetReader) Next() (Record, bool, error) {
	for {
		ok, err := r.nextRow()
		if err != nil || !ok {
			return Record{}, false, err
		}
		if blank(r.cells) {
			continue
		}
		rec := Record{Line: r.row + r.at*sheetLines}
		for len(r.cells) < r.to {
			r.cells = append(r.cells, "")
		}
		if blank(r.cells[:r.from]) && blank(r.cells[r.to:]) {
			rec.Cells = slices.Clone(r.cells[r.from:r.to])
		} else {
			rec.Cells = slices.Clone(r.cells)
		}
		size := 0
		for _, c := range rec.Cells {
			size += len(c)
		}
		if size > MaxRow {
			rec.Cells, rec.Fault = []string{cutTo(strings.Join(rec.Cells, ","), keptBytes) + "..."}, FaultLong
		}
		return rec, true, nil
	}
}

func cutTo(text string, most int) string {
	return strings.ToValidUTF8(text[:min(most, len(text))], "")
}

func blank(cells []string) bool {
	return !slices.ContainsFunc(cells, func(c string) bool { return strings.TrimSpace(c) != "" })
}

// nextRow reads the next row into cells.
func (r *sheetReader) nextRow() (bool, error) {
	if r.done {
		return false, nil
	}
	ok, err := r.read()
	if err != nil {
		r.done = true
		return false, r.book.words(err)
	}
	return ok, nil
}

// errRows says that the rows of a sheet are not as they have to be.
var errRows = errors.New("rows out of order")

func (r *sheetReader) read() (bool, error) {
	if r.markup == nil {
		if err := r.book.prepare(); err != nil {
			return false, err
		}
		var err error
		if r.part, err = r.book.open(r.book.sheets[r.at].part); err != nil {
			return false, err
		}
		r.markup = newMarkup(r.part)
	}
	for {
		kind, err := r.markup.next()
		switch {
		case errors.Is(err, io.EOF):
			return false, io.ErrUnexpectedEOF
		case err != nil:
			return false, err
		case kind == tagStart && string(r.markup.name) == "row":
			return true, r.readRow()
		case kind == tagEnd && string(r.markup.name) == "sheetData":
			return false, r.finish()
		}
	}
}

// finish reads the sheet to its end, so that its checksum is looked at.
func (r *sheetReader) finish() error {
	for {
		_, err := r.markup.next()
		if errors.Is(err, io.EOF) {
			return r.Close()
		}
		if err != nil {
			return err
		}
	}
}

func (r *sheetReader) readRow() error {
	row := r.row + 1
	at, err := r.markup.attribute("r")
	if err != nil {
		return err
	}
	if at != "" {
		if row, err = strconv.Atoi(at); err != nil || row <= r.row {
			return errRows
		}
	}
	if row >= sheetLines {
		return errRows
	}
	r.row, r.column, r.cells = row, 0, r.cells[:0]
	for {
		kind, err := r.markup.next()
		switch {
		case err != nil:
			return err
		case kind == tagStart && string(r.markup.name) == "c":
			if err := r.readCell(); err != nil {
				return err
			}
		case kind == tagEnd && string(r.markup.name) == "row":
			return nil
		case kind == tagStart && string(r.markup.name) == "row", kind == tagEnd && string(r.markup.name) == "sheetData":
			return errRows
		}
	}
}

// readCell reads a cell and puts its text at its column.
func (r *sheetReader) readCell() error {
	place, err1 := r.markup.attribute("r")
	style, err2 := r.markup.attribute("s")
	kind, err3 := r.markup.attribute("t")
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	column := r.column
	if place != "" {
		if column = columnOf(place); column < r.column {
			return errRows
		}
	}
	r.column = column + 1
	if err := r.readValue(column); err != nil {
		return err
	}
	text, err := r.text(kind, style)
	if err != nil || text == "" {
		return err
	}
	if column >= MaxColumns {
		return refuse("too_many_columns", "sheet %s has something in column %d, and %d are read; send the columns of the export tables alone", quoteName(r.book.sheets[r.at].name), column+1, MaxColumns)
	}
	for len(r.cells) < column {
		r.cells = append(r.cells, "")
	}
	r.cells = append(r.cells, text)
	return nil
}

// readValue reads what stands in a cell, up to its end.
func (r *sheetReader) readValue(column int) error {
	r.value, r.inline = r.value[:0], textOf{text: r.inline.text[:0]}
	inValue := false
	for {
		kind, err := r.markup.next()
		switch name := string(r.markup.name); {
		case err != nil:
			return err
		case kind == someText && inValue:
			r.value = append(r.value, r.markup.text...)
		case kind == someText:
			r.inline.see(r.markup, kind)
		case name == "v":
			inValue = kind == tagStart
		case name == "c" && kind == tagEnd:
			return nil
		case name == "c", name == "row":
			return errRows
		case name == "f" && !r.stored:
			return refuse("formulas", "sheet %s holds a formula in cell %s, and formulas are not computed; paste the values alone into a new workbook and send that",
				quoteName(r.book.sheets[r.at].name), cellName(column, r.row))
		default:
			r.inline.see(r.markup, kind)
		}
	}
}

// text is what a cell shows, by its type: ECMA-376, part 1, 18.18.11.
func (r *sheetReader) text(kind, style string) (string, error) {
	value := string(r.value)
	switch kind {
	case "s":
		i, err := strconv.Atoi(value)
		if err != nil || i < 0 || i >= len(r.book.texts) {
			return "", fmt.Errorf("no text %q", value)
		}
		return r.book.texts[i], nil
	case "inlineStr":
		return r.inline.take(), nil
	case "b":
		switch value {
		case "1":
			return "true", nil
		case "0":
			return "false", nil
		}
		return value, nil
	case "d":
		return isoText(value), nil
	case "", "n":
		number := plainNumber
		if i, err := strconv.Atoi(style); err == nil && i >= 0 && i < len(r.book.styles) {
			number = r.book.styles[i]
		}
		return numberText(value, number, r.book.epoch), nil
	default: // str: the result of a formula that is gone; e: an error such as #N/A
		return plainText(value), nil
	}
}

// columnOf returns the column of a cell such as BC17, from 0; -1 when it has
// none.
func columnOf(cell string) int {
	column := 0
	for i := range len(cell) {
		c := cell[i]
		if c < 'A' || c > 'Z' || column > 1<<20 {
			break
		}
		column = column*26 + int(c-'A') + 1
	}
	return column - 1
}

func cellName(column, row int) string {
	letters := ""
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		letters = string(rune('A'+(n-1)%26)) + letters
	}
	return letters + strconv.Itoa(row)
}
