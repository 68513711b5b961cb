package dress

import (
	"bytes"
	"fmt"
	"strings"

	"golang.org/x/text/encoding/charmap"

	"evenlimb/pipeline/export"
)

// text is delimited text under a desk's own headings.
type text struct {
	script      *script
	prefix      string // before the names of its files
	delimiter   byte
	crlf, mark  bool
	windows1252 bool
	renamed     *renamed // nil: no heading changes
	layouts     []layoutFile
	about       string
}

// Files writes one file for each table.
func (x *text) Files(d Drop) ([]File, error) {
	var files []File
	for n, s := range d.Sheets {
		name := x.prefix + d.stem(s) + ".csv"
		data, err := x.file(s, d.Night, func(i, line int) { d.Note(n, i, name, line) })
		if err != nil {
			return nil, err
		}
		files = append(files, File{name, data})
	}
	return files, nil
}

func (x *text) file(s Sheet, night int, note func(i, line int)) ([]byte, error) {
	p := x.script.pen(s.Table)
	heads := make([]string, len(p.heads))
	for i, h := range p.heads {
		heads[i] = x.heading(h, night)
	}
	sheet := x.begin(heads)
	for i, row := range s.Rows {
		r, err := parse(s.Table, row)
		if err != nil {
			return nil, err
		}
		note(i, sheet.line)
		sheet.row(p.cells(i, r), r.harm)
	}
	return x.encoded(sheet.data)
}

// heading is what a heading is called in a night.
func (x *text) heading(name string, night int) string {
	if r := x.renamed; r != nil && name == r.old && night >= r.night {
		return r.now
	}
	return name
}

// renamed is a heading of a table that is another from a night on, for which
// there is a layout.
type renamed struct {
	table, old, now string
	night           int
	layout          string
}

// Renames says which heading changes.
func (x *text) Renames() (table string, night int, layout string) {
	if x.renamed == nil {
		return "", 0, ""
	}
	return x.renamed.table, x.renamed.night, x.renamed.layout
}

// lines is a text being written, and the line that comes next.
type lines struct {
	x    *text
	data []byte
	line int
}

func (x *text) begin(heads []string) *lines {
	l := &lines{x: x, line: 1}
	if x.mark {
		l.data = append(l.data, "\ufeff"...)
	}
	l.row(heads, None)
	return l
}

func (l *lines) row(cells []string, h Harm) {
	if h == Unclosed {
		l.data = append(l.data, '"')
	}
	for i, cell := range cells {
		if i > 0 {
			l.data = append(l.data, l.x.delimiter)
		}
		if strings.IndexByte(cell, l.x.delimiter) >= 0 || strings.ContainsAny(cell, "\"\n") {
			l.line += strings.Count(cell, "\n")
			cell = `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
		}
		l.data = append(l.data, cell...)
	}
	if h == MoreCells {
		l.data = append(l.data, l.x.delimiter, l.x.delimiter)
	}
	if l.x.crlf {
		l.data = append(l.data, '\r')
	}
	l.data = append(l.data, '\n')
	l.line++
}

func (x *text) encoded(data []byte) ([]byte, error) {
	if !x.windows1252 {
		return data, nil
	}
	out, err := charmap.Windows1252.NewEncoder().Bytes(bytes.Clone(data))
	if err != nil {
		return nil, fmt.Errorf("write a made-up file in Windows-1252: %w", err)
	}
	return out, nil
}

// Holds is true: text holds everything.
func (*text) Holds(export.Table, string, string) bool { return true }

// Breaks names the reasons of the reader of delimited text.
func (*text) Breaks(h Harm) string { return textBreaks[h] }

// Layouts are the desk's layout files.
func (x *text) Layouts(nights []string) []File { return layoutsOf(x.layouts, nights) }

// About says what the desk sends.
func (x *text) About() string { return x.about }
