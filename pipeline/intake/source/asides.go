package source

import (
	"errors"
	"slices"
	"strings"
)

// OpenAsides opens what a file holds beside the tables that Open reads: rows
// above the headings, sheets that are not read, hidden ones too, and comments.
// Nothing is made of them, but they are part of what is kept of the file. The
// first row of a sheet that is not read is given as its headings; the others have
// none.
func OpenAsides(in Input, form Form) (*File, error) {
	form = form.filled()
	f := &File{}
	var err error
	switch {
	case form.Format == CSV && form.SkipRows > 0:
		titles := form
		titles.SkipRows = 0
		if err = f.openText(in, titles); err == nil {
			f.Sheets[0].Reader = &aside{rows: f.Sheets[0].Reader, begin: f.Sheets[0].Reader.(*csvReader).begin, until: form.SkipRows}
		}
	case form.Format == XLSX:
		err = f.openBookAsides(in, form)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

func (f *File) openBookAsides(in Input, form Form) error {
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
	for i, s := range w.sheets {
		if s.part == "" {
			continue
		}
		rows := &sheetReader{book: w, at: i, stored: true}
		one := &aside{rows: rows, until: (i + 1) * sheetLines, headed: true}
		if at := slices.IndexFunc(list, func(l sheetAt) bool { return l.ordinal == i+1 }); at >= 0 {
			one.until, one.headed = i*sheetLines+list[at].headings-1, false
		}
		f.Sheets = append(f.Sheets, Sheet{Name: s.name, Ordinal: i + 1, Reader: one})
		f.closers = append(f.closers, rows)
	}
	notes, err := w.comments()
	if err != nil {
		return w.words(err)
	}
	f.Sheets = append(f.Sheets, Sheet{Name: "comments", Reader: &aside{rows: notes, until: sheetLines}})
	return nil
}

// aside reads rows up to a line.
type aside struct {
	rows   interface{ Next() (Record, bool, error) }
	begin  func(skip int) error
	until  int
	headed bool // the first row stands for headings
}

func (a *aside) Headings() ([]string, error) {
	switch {
	case a.begin != nil:
		return nil, a.begin(0)
	case a.headed:
		rec, _, err := a.Next()
		return rec.Cells, err
	default:
		return nil, nil
	}
}

func (a *aside) Next() (Record, bool, error) {
	rec, ok, err := a.rows.Next()
	if err != nil || !ok || rec.Line > a.until {
		return Record{}, false, err
	}
	return rec, true, nil
}

// commentList is the texts of comments, one a row.
type commentList struct {
	texts []string
	line  int
}

func (c *commentList) Next() (Record, bool, error) {
	if c.line == len(c.texts) {
		return Record{}, false, nil
	}
	c.line++
	return Record{Line: c.line, Cells: c.texts[c.line-1 : c.line]}, true, nil
}

// comments reads the comments of all sheets, those in threads too.
func (w *workbook) comments() (*commentList, error) {
	var parts []string
	for name := range w.parts {
		if strings.HasSuffix(name, ".xml") && (strings.HasPrefix(name, "xl/comments") || strings.HasPrefix(name, "xl/threadedcomments")) {
			parts = append(parts, name)
		}
	}
	slices.Sort(parts)
	list := &commentList{}
	for _, name := range parts {
		var text textOf
		err := w.walk(name, func(m *markup, kind piece) (bool, error) {
			if kind == someText || string(m.name) != "text" {
				text.see(m, kind)
			} else if text.inText = kind == tagStart; kind == tagEnd { // threads have their text in it, others in runs inside
				list.texts = append(list.texts, text.take())
			}
			return true, nil
		})
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}
