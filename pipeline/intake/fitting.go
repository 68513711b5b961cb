package intake

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// batchRules are the settings of the batch that is loaded.
type batchRules struct {
	practice *settings.Practice
	layouts  []*settings.Layout
	received time.Time
	padded   map[string]map[string]string   // of the sender of a file: see warehouse.PaddedKeys
	readBy   func(file int) (layout string) // files.layout of a file taken in before
}

// wishOf is what a layout says about how its files are written.
func wishOf(l *settings.Layout) source.Wish {
	w := source.Wish{Format: l.File.Format, Encoding: l.File.Encoding, Delimiter: l.File.Delimiter, Quote: l.File.Quote, Sheets: l.File.Sheets}
	if l.File.SkipRows != nil {
		if w.SkipRows = *l.File.SkipRows; w.SkipRows == 0 {
			w.SkipRows = -1
		}
	}
	return w
}

// form is how a file is written and what its sheets stand for.
type form struct {
	source.Form
	layout   *settings.Layout // nil: the headings are those of export tables
	returned bool             // the file is one that was in quarantine
	sheets   []sheet
}

// sheet is what one sheet of a file stands for: the tables of a mapping, one
// table whose columns are its headings, statements about deliveries, or nothing.
type sheet struct {
	name     string
	ordinal  int // its place in the workbook, from 1
	headings []string
	mapping  *layout.Mapping
	table    string // where the headings are those of an export table
	states   bool   // it holds statements about deliveries
	rekeys   bool   // it says which keys took the place of which
}

func (s sheet) nothing() bool { return s.mapping == nil && s.table == "" && !s.states && !s.rekeys }

// recognise finds out how a file is written and which layout, or which export
// tables, its headings are those of. A file that nothing fits gets a problem
// that says what keeps it from what comes nearest; its form has sheets where they
// could be read all the same. The error is the disk's.
func recognise(in source.Input, p warehouse.Planned, r batchRules) (form, warehouse.Problem, error) {
	plain, refused, err := readForm(in, source.Wish{})
	if err != nil {
		return form{}, warehouse.Problem{}, err
	}
	_, below, _ := strings.Cut(p.Path, "/")
	candidates := layout.Candidates(r.layouts, p.Sender, below, r.received)
	if comesBack(plain.sheets) {
		if plain, err = plain.withoutReasons(in); errors.As(err, &refused) {
			return form{}, warehouse.Problem{Code: refused.Code, Words: refused.Words}, nil
		} else if err != nil {
			return form{}, warehouse.Problem{}, err
		}
		candidates = layout.Candidates(everyName(r.layouts), p.Sender, below, r.received)
	}
	var fits []form
	var nearest warehouse.Problem
	for _, l := range candidates {
		if len(fits) > 0 && !l.From.Equal(fits[0].layout.From) {
			break
		}
		f, wrong := plain, refused
		if wish := wishOf(l); !plain.returned && (wish.Format != "" || wish.Encoding != "" || wish.Delimiter != "" || wish.Quote != "" || wish.SkipRows != 0 || len(wish.Sheets) > 0) {
			if f, wrong, err = readForm(in, wish); err != nil {
				return form{}, warehouse.Problem{}, err
			}
		}
		if wrong == nil {
			var misfit *layout.Misfit
			if f, misfit = f.by(l); misfit != nil {
				wrong = &source.Refusal{Code: "layout_does_not_fit", Words: misfit.Words()}
			}
		}
		switch {
		case wrong == nil:
			fits = append(fits, f)
		case nearest.Code == "":
			nearest = warehouse.Problem{Code: wrong.Code, Words: wrong.Words}
		}
	}
	if plain.returned && len(fits) > 1 {
		fits = asBefore(fits, below, r)
	}
	switch {
	case len(fits) > 1:
		return fits[0], warehouse.Problem{Code: "two_layouts_fit", Words: fmt.Sprintf("the layouts %s and %s both fit it; let them match different names, or begin on different days", fits[0].layout.Path, fits[1].layout.Path)}, nil
	case len(fits) == 1:
		return fits[0], warehouse.Problem{}, nil
	}
	var problem warehouse.Problem
	if refused == nil {
		problem = plain.byTables()
	} else {
		problem = warehouse.Problem{Code: refused.Code, Words: refused.Words}
	}
	if problem.Code != "" && problem.Code != empty && nearest.Code != "" {
		problem = nearest
	}
	return plain, problem, nil
}

// empty is the problem of a file without headings.
const empty = "empty"

// readForm finds the form of a file and reads its headings.
func readForm(in source.Input, wish source.Wish) (f form, refused *source.Refusal, err error) {
	f.Form, err = source.Detect(in, wish)
	if err == nil {
		f.sheets, err = headingsOf(in, f.Form)
	}
	if errors.As(err, &refused) {
		return form{}, refused, nil
	}
	return f, nil, err
}

func headingsOf(in source.Input, by source.Form) (sheets []sheet, err error) {
	file, err := source.Open(in, by)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	for _, s := range file.Sheets {
		headings, err := s.Headings()
		if err != nil {
			return nil, err
		}
		sheets = append(sheets, sheet{name: s.Name, ordinal: s.Ordinal, headings: headings})
	}
	return sheets, nil
}

// by reads the sheets as a layout says.
func (f form) by(l *settings.Layout) (form, *layout.Misfit) {
	var list []layout.Sheet
	for _, s := range f.sheets {
		list = append(list, layout.Sheet{Name: s.name, Headings: s.headings})
	}
	mappings, misfit := layout.Fit(l, list)
	if misfit != nil {
		return form{}, misfit
	}
	f.layout, f.sheets = l, slices.Clone(f.sheets)
	for i := range f.sheets {
		f.sheets[i].mapping = mappings[i]
	}
	return f, nil
}

// byTables reads the sheets as export tables. A file of one sheet must be one; in
// a workbook some sheet must.
func (f form) byTables() warehouse.Problem {
	problem := warehouse.Problem{Code: empty, Words: "the file is empty; send it again with its headings and rows"}
	found := false
	for i := range f.sheets {
		s := &f.sheets[i]
		if len(s.headings) == 0 {
			continue
		}
		t, ok := export.Recognise(s.headings)
		switch {
		case ok:
			s.table = t.Name
		case statesDeliveries(s.headings):
			s.states = true
		case statesRekeys(s.headings):
			s.rekeys = true
		default:
			problem = warehouse.Problem{Code: "no_table_fits", Words: noTableWords(s.headings)}
		}
		found = found || ok || s.states || s.rekeys
	}
	if found {
		return warehouse.Problem{}
	}
	return problem
}

// sentHeadings are the headings that quarantine files repeat: those of the first
// sheet that anything is made of.
func (f form) sentHeadings() []string {
	for _, s := range f.sheets {
		if !s.nothing() {
			return s.headings
		}
	}
	if len(f.sheets) > 0 {
		return f.sheets[0].headings
	}
	return nil
}

// text is what stands in files.form; nothing for a file that could not be read.
func (f form) text() string {
	if len(f.sheets) == 0 {
		return ""
	}
	return f.String()
}

// name is what stands in files.layout: the path of the layout and its version.
func (f form) name() string {
	if f.layout == nil {
		return ""
	}
	return f.layout.Path + " " + f.layout.Version
}

// archivedInput is a file of the archive, as it was sent.
func archivedInput(dir, sum string) source.Input {
	return source.Input{
		Open:    func() (io.ReadCloser, error) { return OpenArchived(dir, sum) },
		TempDir: filepath.Join(dir, archiveFolder),
	}
}
