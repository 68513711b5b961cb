// Package dress writes the rows of a made-up practice as the systems of its
// sites would: as spreadsheets, with semicolons and decimal commas, as JSON, as
// columns, in inches and pounds. It changes how a row looks and nothing of what
// it says: read with the layouts beside it, every file comes to the rows that
// were put in.
package dress

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"

	"evenlimb/pipeline/export"
)

// Dress is how the files of one desk look. A desk is one system that writes
// files for a sender.
type Dress interface {
	// Files writes a drop.
	Files(d Drop) ([]File, error)
	// Holds says whether the desk's files can hold a text in a column. A date
	// that does not exist cannot stand where dates are numbers.
	Holds(t export.Table, column, text string) bool
	// Breaks names the reason for which a row with the harm is kept out; empty
	// where a file of this kind cannot be harmed that way.
	Breaks(h Harm) string
	// Layouts are the layout files by which the desk's files are read, for a
	// practice whose nights have these dates.
	Layouts(nights []string) []File
	// About says in a few words what the desk sends.
	About() string
}

// Renamed is the Dress of a desk one of whose headings changes.
type Renamed interface {
	// Renames is the table of the heading, the night from which on it is another,
	// and the layout that is right from then on.
	Renames() (table string, night int, layout string)
}

// Drop is what a desk drops before one night.
type Drop struct {
	Night  int    // 0 for the history
	Date   string // of the night, ISO 8601
	Sheets []Sheet
	// Note is told where the row i of a sheet stands: the file, and the line
	// as the intake counts lines.
	Note func(sheet, i int, file string, line int)
}

// Sheet is rows of one table.
type Sheet struct {
	Table export.Table
	Name  string   // of the file, without its kind; empty: the date and the table
	Rows  [][]byte // each a CSV row in the table's columns, perhaps with a row_state behind them, perhaps harmed
}

// stem is the name of the sheet's file without its kind.
func (d Drop) stem(s Sheet) string {
	if s.Name != "" {
		return s.Name
	}
	return d.Date + "_" + s.Table.Name
}

// File is one file.
type File struct {
	Name string
	Data []byte
}

// Harm is what can be wrong with a row as a whole.
type Harm int

// The harms.
const (
	None      Harm = iota
	Unclosed       // a quote before the first cell that nothing closes
	MoreCells      // two empty cells behind the last
)

// Spoil does a harm to a row.
func Spoil(row []byte, h Harm) []byte {
	switch h {
	case Unclosed:
		return append([]byte(`"`), row...)
	case MoreCells:
		return append(bytes.Clone(row), ",,"...)
	default:
		return row
	}
}

// record is a row taken apart.
type record struct {
	cells []string // one for each column
	state string   // row_state
	harm  Harm
}

func parse(t export.Table, row []byte) (record, error) {
	var r record
	if bytes.HasPrefix(row, []byte(`"`)) && bytes.Count(row, []byte(`"`)) == 1 {
		r.harm, row = Unclosed, row[1:]
	}
	cells, err := Split(row)
	if err != nil {
		return r, fmt.Errorf("a made-up row of %s: %w", t.Name, err)
	}
	n := len(t.Columns)
	switch len(cells) {
	case n:
	case n + 1:
		r.state = cells[n]
	case n + 2:
		r.harm = MoreCells
	default:
		return r, fmt.Errorf("a made-up row of %s has %d cells for %d columns", t.Name, len(cells), n)
	}
	r.cells = cells[:n]
	return r, nil
}

// Split takes a CSV row apart.
func Split(row []byte) ([]string, error) {
	if bytes.IndexByte(row, '"') < 0 {
		return strings.Split(string(row), ","), nil
	}
	return csv.NewReader(bytes.NewReader(row)).Read()
}

// stated says whether any row of a sheet carries a row_state.
func stated(s Sheet) bool {
	for _, row := range s.Rows {
		if Stated(s.Table, row) {
			return true
		}
	}
	return false
}

// Stated says whether a row carries a row_state behind its cells.
func Stated(t export.Table, row []byte) bool {
	if !bytes.HasSuffix(row, []byte(","+export.Withdrawn)) {
		return false
	}
	cells, err := Split(row)
	return err == nil && len(cells) > len(t.Columns)
}
