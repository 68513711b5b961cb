package source

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
)

// workbook is an XLSX file, open: Office Open XML, ECMA-376. Only what stands in
// its cells is read; a workbook that can run something, or that takes values
// from elsewhere, is refused.
type workbook struct {
	src      *randomFile
	parts    map[string]*zip.File // by name in small letters, without the slash
	budget   budget
	sheets   []sheetPart
	epoch    epoch
	styles   []numberKind // by style index
	texts    []string     // the shared strings
	ready    bool         // styles and shared strings are read
	stylesAt string
	textsAt  string
}

// sheetPart is a sheet as the workbook lists it.
type sheetPart struct {
	name   string
	hidden bool
	part   string // empty: not a sheet of cells
}

// Limits of a workbook, counted while it is unpacked. What its own directory
// says of sizes counts for nothing.
const (
	maxParts       = 10_000
	maxWorkbook    = 4 << 30   // bytes of all parts read
	maxTexts       = 256 << 20 // bytes of the shared strings, which stand in memory
	maxToken       = 16 << 20  // bytes of one piece of text
	freeBookRatio  = 16 << 20  // bytes that may be unpacked whatever the ratio
	maxBookRatio   = 200
	brokenWorkbook = "workbook_broken"
)

// budget counts what is unpacked of a workbook.
type budget struct {
	packed   int64
	unpacked int64
}

func (b *budget) spend(n int) error {
	b.unpacked += int64(n)
	if b.unpacked > maxWorkbook || (b.unpacked > freeBookRatio && b.unpacked/maxBookRatio > b.packed) {
		return refuse("unpacks_too_large", "it unpacks to more than a workbook of exports can hold (%d MB from %d kB); send it as comma-separated text", b.unpacked>>20, b.packed>>10)
	}
	return nil
}

func openWorkbook(src *randomFile) (*workbook, error) {
	archive, err := zip.NewReader(src, src.size)
	if src.err != nil {
		return nil, src.err
	}
	if err != nil {
		return nil, refuse(brokenWorkbook, "the workbook is damaged or cut short; save it and send it again")
	}
	w := &workbook{src: src, parts: map[string]*zip.File{}, budget: budget{packed: src.size}}
	if len(archive.File) > maxParts {
		return nil, refuse(brokenWorkbook, "it holds %d files, more than a workbook can; send it as comma-separated text", len(archive.File))
	}
	for _, part := range archive.File {
		name := partName(part.Name)
		if _, twice := w.parts[name]; twice {
			return nil, refuse(brokenWorkbook, "the workbook holds two files of one name; save it anew and send it again")
		}
		w.parts[name] = part
	}
	if err := w.refuseActive(); err != nil {
		return nil, err
	}
	if err := w.readBook(); err != nil {
		return nil, w.words(err)
	}
	return w, nil
}

// partName is a name in the package as parts refer to each other: without a
// leading slash, and the same however it is capitalised.
func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(path.Clean("/"+strings.ReplaceAll(name, `\`, "/")), "/"))
}

// refuseActive refuses what can run, and what takes values from elsewhere.
func (w *workbook) refuseActive() error {
	for name := range w.parts {
		base, dir := path.Base(name), path.Dir(name)
		switch {
		case strings.HasPrefix(base, "vbaproject") || strings.HasPrefix(base, "vbadata") || strings.Contains(dir, "macrosheets") || strings.Contains(dir, "activex"):
			return refuse("macros", "the workbook holds macros, and files with programs in them are not opened; save it as .xlsx without macros and send it again")
		case strings.Contains(dir, "externallinks") || strings.Contains(dir, "querytables") || base == "connections.xml":
			return refuse("external_links", "the workbook takes values from other files or places; break its links, save it and send it again")
		}
	}
	if _, there := w.parts["[content_types].xml"]; !there {
		if _, sheets := w.parts["content.xml"]; sheets {
			return refuse("other_workbook", "this is an OpenDocument spreadsheet; save it as .xlsx and send it again")
		}
		return refuse("zip", "this is a ZIP archive and no workbook; unpack it and send the files in it")
	}
	return nil
}

// words puts what went wrong inside a workbook into words.
func (w *workbook) words(err error) error {
	var refusal *Refusal
	switch {
	case w.src.err != nil:
		return w.src.err
	case errors.As(err, &refusal):
		return refusal
	default:
		return refuse(brokenWorkbook, "the workbook is damaged and cannot be read; save it anew and send it again")
	}
}

// open opens a part. Its bytes are counted.
func (w *workbook) open(name string) (io.ReadCloser, error) {
	part, ok := w.parts[partName(name)]
	if !ok {
		return nil, fmt.Errorf("no part %s", name)
	}
	src, err := part.Open()
	if err != nil {
		return nil, err
	}
	return &partReader{src, &w.budget}, nil
}

// partReader reads a part, until the parts are larger than any workbook.
type partReader struct {
	io.ReadCloser
	budget *budget
}

func (p *partReader) Read(buf []byte) (int, error) {
	n, err := p.ReadCloser.Read(buf)
	if over := p.budget.spend(n); over != nil {
		return 0, over
	}
	return n, err
}

// Close closes the part. What is wrong with it was said when it was read.
func (p *partReader) Close() error {
	_ = p.ReadCloser.Close()
	return nil
}

// walk hands every piece of a part to see, until it returns false.
func (w *workbook) walk(name string, see func(*markup, piece) (bool, error)) error {
	part, err := w.open(name)
	if err != nil {
		return err
	}
	defer part.Close() //nolint:errcheck // it returns none
	m := newMarkup(part)
	for {
		kind, err := m.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if more, err := see(m, kind); err != nil || !more {
			return err
		}
	}
}

// readBook reads the list of sheets and where each stands.
func (w *workbook) readBook() error {
	book := "xl/workbook.xml"
	root, err := w.links("")
	if err != nil {
		return err
	}
	for _, l := range root {
		if strings.HasSuffix(l.kind, "/officeDocument") {
			book = l.target
		}
	}
	links, err := w.links(book)
	if err != nil {
		return err
	}
	for _, l := range links {
		switch {
		case strings.HasSuffix(l.kind, "/styles"):
			w.stylesAt = l.target
		case strings.HasSuffix(l.kind, "/sharedStrings"):
			w.textsAt = l.target
		}
	}
	return w.walk(book, func(m *markup, kind piece) (bool, error) {
		switch {
		case kind != tagStart:
		case string(m.name) == "workbookPr":
			v, err := m.attribute("date1904")
			if v == "1" || v == "true" || v == "on" {
				w.epoch = epoch1904
			}
			return true, err
		case string(m.name) == "sheet":
			return true, w.addSheet(m, links)
		}
		return true, nil
	})
}

func (w *workbook) addSheet(m *markup, links map[string]link) error {
	name, err1 := m.attribute("name")
	state, err2 := m.attribute("state")
	id, err3 := m.attribute("id") // r:id; sheetId is another thing
	s := sheetPart{name: name, hidden: state == "hidden" || state == "veryHidden"}
	if l := links[id]; strings.HasSuffix(l.kind, "/worksheet") {
		s.part = l.target
	}
	if w.sheets = append(w.sheets, s); len(w.sheets) > maxSheets {
		return refuse("too_many_sheets", "the workbook has more than %d sheets; send it in several files", maxSheets)
	}
	return errors.Join(err1, err2, err3)
}

// link is a relationship of one part to another.
type link struct{ kind, target string }

// links reads the relationships of a part; those of the package for "".
func (w *workbook) links(of string) (map[string]link, error) {
	all := map[string]link{}
	name := path.Join(path.Dir("/"+of), "_rels", path.Base("/"+of)+".rels")
	if of == "" {
		name = "_rels/.rels"
	}
	if _, there := w.parts[partName(name)]; !there {
		return all, nil
	}
	err := w.walk(name, func(m *markup, kind piece) (bool, error) {
		if kind != tagStart || string(m.name) != "Relationship" {
			return true, nil
		}
		id, err1 := m.attribute("Id")
		target, err2 := m.attribute("Target")
		relation, err3 := m.attribute("Type")
		mode, err4 := m.attribute("TargetMode")
		if !strings.HasPrefix(target, "/") {
			target = path.Join(path.Dir("/"+of), target)
		}
		if mode != "External" {
			all[id] = link{relation, target}
		}
		return true, errors.Join(err1, err2, err3, err4)
	})
	return all, err
}

// wished returns the sheets that a layout names, or those that may be tables.
func (w *workbook) wished(wish Wish) ([]int, error) {
	var places []int
	for i, s := range w.sheets {
		all, named := slices.Contains(wish.Sheets, "*"), slices.Contains(wish.Sheets, s.name)
		if s.part != "" && (named || all || (len(wish.Sheets) == 0 && !s.hidden)) {
			places = append(places, i)
		}
	}
	for _, name := range wish.Sheets {
		if name != "*" && !slices.ContainsFunc(w.sheets, func(s sheetPart) bool { return s.name == name && s.part != "" }) {
			var names []string
			for _, s := range w.sheets[:min(len(w.sheets), 8)] {
				names = append(names, quoteName(s.name))
			}
			return nil, refuse("no_such_sheet", "the layout reads the sheet %s, and the workbook has only %s; name the sheet as before, or correct the layout", quoteName(name), strings.Join(names, ", "))
		}
	}
	return places, nil
}

// quoteName is the name of a sheet as a message may show it.
func quoteName(name string) string {
	if letters := []rune(name); len(letters) > 31 {
		name = string(letters[:31]) + "..."
	}
	return strconv.Quote(name)
}
