// Package layout turns the records of a sender's file into rows of the export
// tables, as a layout of the practice says. It knows no database and no files:
// headings and cells go in, canonical cells come out, in the notation of an
// export file, and are then checked like those of any other file. What cannot be
// turned is a fault that names the heading, the cell and the next step.
package layout

import (
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// Mapping is how the records under certain headings stand for rows. It is made
// once for a sheet and does not change.
type Mapping struct {
	Layout  *settings.Layout
	Tables  []export.Table // made of the sheet, in the order of the layout
	NotRead []string       // headings of the sheet that the layout neither reads nor ignores
	// Starts returns the first day of care of an episode of this sender; it may
	// be nil while no column counts its days from there.
	Starts func(episode string) (time.Time, bool)

	headings []string
	notWhere []where
	tables   []table
}

// Absent is a column whose heading a sheet does not have and its table needs.
type Absent struct {
	Table    string
	Column   string
	Headings []string // its spellings
}

// Row is one row of an export table.
type Row struct {
	Table  int      // index of Mapping.Tables
	Cells  []string // canonical text for each column of the table, then of row_state
	Faults []Fault  // why cells could not be turned; they are empty
	Unmade []int    // columns made of cells that have a fault of their own
	Months []int    // columns whose cell named a month and no day

	maker *maker
}

// Fault is why a cell could not be turned.
type Fault struct {
	Column int // of the table; its number of columns for row_state, -1 for none of them
	Name   string
	Reason string // a code
	Words  string // names the heading, the cell and the next step
}

// The reasons for which a cell cannot be turned.
const (
	UnknownCode  = "unknown_code"
	NotTrueFalse = "not_true_or_false"
	NotANumber   = "not_a_number"
	NotADate     = "not_a_date"
	NotDays      = "not_whole_days"
	StartUnknown = "start_unknown"
	PartMissing  = "part_missing"
	PartsUneven  = "parts_uneven"
	UnitUnknown  = "unit_unknown"
	UnitOther    = "unit_of_another_kind"
)

// table is a table of a layout, bound to the places of its headings.
type table struct {
	index    int // of Mapping.Tables
	def      export.Table
	onlyWhen []where
	distinct bool
	makers   []maker // one, or one for each wide heading that is there
}

// maker makes rows of a table out of a record.
type maker struct {
	columns []column // and parts, in the order of the layout
	wide    int      // place in columns of the one whose filled cell makes the row; -1: any record does
	// Places in columns that have a meaning of their own; -1 where not filled.
	episode, start, measure int
	unit                    int // place in the table of the unit of a measured value; -1 for other tables
}

// column is a column or part that is filled.
type column struct {
	name  string
	index int // of the table's columns; its number for row_state; -1 for a part
	spec  settings.LayoutColumn
	cell  *cell
	// Places in maker.columns of what it is made of.
	madeFrom, within    []int
	daysAfter, unitFrom int // -1: none
}

// where passes records whose cell at a place holds one of the words.
type where struct {
	at    int
	words map[string]bool
	known map[string]bool // whether cells seen before were one of the words
}

func (w where) holds(cells []string) bool {
	text := cells[w.at]
	holds, ok := w.known[text]
	if !ok {
		if holds = w.words[fold(text)]; len(w.known) < remembered {
			w.known[text] = holds
		}
	}
	return holds
}

// fold makes texts alike that differ in case and blanks only.
func fold(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

// Misfit says why a layout does not fit headings.
type Misfit struct {
	Layout  *settings.Layout
	Missing []Absent // required headings that are not there
	Twice   []string // headings that stand twice and are read
	Broken  bool     // it is of the layout, but for headings renamed or twice

	headings []string // of the sheet it comes nearest to
}

// New binds a layout to the headings of a sheet: a table is made of it when it
// has all the headings that the table cannot do without. The layout does not fit
// when no table can be made, or when headings are there that only a table uses
// that cannot: one of its headings has been renamed, and its rows would be lost.
func New(l *settings.Layout, sheet string, headings []string) (*Mapping, *Misfit) {
	b := newBinder(l, headings)
	m := &Mapping{Layout: l, headings: headings}
	var broken []brokenTable
	for _, t := range l.Tables {
		if !ofSheet(t.Sheets, sheet) || !ofSheet(l.File.Sheets, sheet) {
			continue
		}
		b.begin()
		bound := b.table(t)
		if len(b.missing) > 0 {
			broken = append(broken, brokenTable{b.missing, b.reads})
			continue
		}
		bound.index = len(m.Tables)
		m.Tables = append(m.Tables, bound.def)
		m.tables = append(m.tables, bound)
		b.keep()
	}
	b.begin()
	m.notWhere = b.wheres(l.Cells.NotWhere, false)
	b.keep()
	misfit := b.judge(broken)
	for _, at := range b.twice {
		if b.used[b.places[fold(headings[at])]] {
			misfit.Twice = append(misfit.Twice, headings[at])
		}
	}
	misfit.Broken = misfit.Broken || len(misfit.Twice) > 0
	if len(m.Tables) == 0 || misfit.Broken {
		return nil, misfit
	}
	for i, h := range headings {
		if !b.used[i] && strings.TrimSpace(h) != "" && !holdsFold(l.Cells.Ignore, h) {
			m.NotRead = append(m.NotRead, h)
		}
	}
	return m, nil
}

// brokenTable is a table that cannot be made: the headings that it misses and
// those that it has.
type brokenTable struct {
	missing []Absent
	reads   map[int]bool
}

// judge gathers what is missing of tables whose own headings are there and, when
// there are none such, of the table that has most.
func (b *binder) judge(broken []brokenTable) *Misfit {
	misfit := &Misfit{Layout: b.layout, headings: b.headings}
	most := -1
	for _, t := range broken {
		own := false
		for at := range t.reads {
			own = own || !b.used[at] && !holdsFold(b.layout.Cells.Ignore, b.headings[at])
		}
		switch {
		case own && !misfit.Broken:
			misfit.Broken, misfit.Missing = true, t.missing
		case own:
			misfit.Missing = append(misfit.Missing, t.missing...)
		case !misfit.Broken && len(t.reads) > most:
			misfit.Missing, most = t.missing, len(t.reads)
		}
	}
	return misfit
}

func ofSheet(sheets []string, sheet string) bool {
	return len(sheets) == 0 || sheet == "" || holdsFold(sheets, sheet)
}

func holdsFold(list []string, text string) bool {
	return slices.ContainsFunc(list, func(one string) bool { return fold(one) == fold(text) })
}

// NeedsStarts says whether a layout counts days from the start of episodes.
func NeedsStarts(l *settings.Layout) bool {
	for _, t := range l.Tables {
		for _, c := range slices.Concat(t.Columns, t.Parts) {
			if c.Cell.DaysAfter == settings.EpisodeStart {
				return true
			}
		}
		for _, w := range t.Wide {
			if w.Cell.DaysAfter == settings.EpisodeStart {
				return true
			}
		}
	}
	return false
}

// MadeKeys returns the columns of a table that a layout makes of others, and
// those that they are made of.
func MadeKeys(l *settings.Layout, t export.Table) (keys, from []string) {
	for _, one := range l.Tables {
		if one.Name != t.Name {
			continue
		}
		for _, c := range one.Columns {
			if len(c.MadeFrom) > 0 {
				keys, from = append(keys, c.Name), append(from, c.MadeFrom...)
			}
		}
	}
	return keys, from
}

// Numbered returns the columns of a table that hold the place of the row among
// the rows of the file.
func (m *Mapping) Numbered(table int) []int {
	var columns []int
	for _, c := range m.tables[table].makers[0].columns {
		if len(c.within) > 0 && c.index >= 0 {
			columns = append(columns, c.index)
		}
	}
	return columns
}

// Spellings lists the headings that the layout reads of the tables of the sheet.
func (m *Mapping) Spellings() []string {
	var list []string
	for _, t := range m.tables {
		for _, maker := range t.makers {
			for _, c := range maker.columns {
				list = append(list, c.spec.Heading...)
			}
		}
	}
	return list
}
