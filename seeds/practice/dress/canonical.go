package dress

import (
	"bytes"

	"evenlimb/pipeline/export"
)

// Canonical is comma-separated text under the headings of the export tables.
// The zero value is as plain as can be; the fields are habits of single desks.
type Canonical struct {
	BlankLines bool // one after every 500 rows
	CRLF       bool // lines end as some systems end them
	Mark       bool // episodes begin with a byte-order mark
}

// Files writes one file for each table.
func (c Canonical) Files(d Drop) ([]File, error) {
	var files []File
	for n, s := range d.Sheets {
		name := d.stem(s) + ".csv"
		files = append(files, File{name, c.file(s, func(i, line int) { d.Note(n, i, name, line) })})
	}
	return files, nil
}

func (c Canonical) file(s Sheet, note func(i, line int)) []byte {
	end := "\n"
	if c.CRLF {
		end = "\r\n"
	}
	size := 1024
	for _, row := range s.Rows {
		size += len(row) + 2
	}
	data := make([]byte, 0, size)
	if c.Mark && s.Table.Name == "episodes" {
		data = append(data, "\ufeff"...)
	}
	for i, column := range s.Table.Columns {
		if i > 0 {
			data = append(data, ',')
		}
		data = append(data, column.Name...)
	}
	states := stated(s)
	if states {
		data = append(data, ","+export.RowState...)
	}
	data = append(data, end...)
	line := 2
	for i, row := range s.Rows {
		if c.BlankLines && i%500 == 37 {
			data = append(data, end...)
			line++
		}
		note(i, line)
		data = append(data, row...)
		if states && !Stated(s.Table, row) {
			data = append(data, ',')
		}
		data = append(data, end...)
		line += 1 + bytes.Count(row, []byte("\n"))
	}
	return data
}

// Holds is true: text holds everything.
func (Canonical) Holds(export.Table, string, string) bool { return true }

// Breaks names the reasons of the reader of comma-separated text.
func (Canonical) Breaks(h Harm) string { return textBreaks[h] }

var textBreaks = map[Harm]string{Unclosed: "quotes_broken", MoreCells: "wrong_number_of_cells"}

// Layouts are none: canonical headings need no layout.
func (Canonical) Layouts([]string) []File { return nil }

// About says what the desk sends.
func (Canonical) About() string {
	return "comma-separated text under the headings of the export tables"
}
