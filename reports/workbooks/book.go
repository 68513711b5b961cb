// Package workbooks writes spreadsheets: tables of typed cells with the charts
// of the spreadsheet itself, ready to print on A4, the same bytes in every
// process. Text is text whatever it begins with; no cell holds a formula.
package workbooks

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"
)

// Book is a whole workbook.
type Book struct {
	Title   string    // in the file's properties and at the head of each printed page
	Author  string    // in the file's properties: the practice
	Date    time.Time // in the file's properties; the report's date, never the clock
	Caution string    // at the foot of each printed page
	Sheets  []Sheet
}

// Sheet is one table with the words around it. From top to bottom: the heading,
// the sentences of Lead, the table with its headings frozen and repeated on
// each printed page, the sentences of Notes. Charts stand at the right of the
// table.
type Sheet struct {
	Name    string // on the tab: at most 31 characters, none of : \ / ? * [ ]
	Heading string
	Lead    []string
	Columns []Column
	Rows    [][]Cell // each as long as Columns, or shorter
	Notes   []string
	Charts  []LineChart
}

// Column is one column of the table.
type Column struct {
	Heading string
	Width   float64 // in characters, 1 to 120
}

// LineChart draws columns of the table as lines, over the rows From up to but
// without To.
type LineChart struct {
	Title      string // a sentence
	Alt        string // what it shows, for a reader who cannot see it
	XTitle     string
	YTitle     string
	Categories int // index of the column along the axis
	From, To   int // rows of the table
	Lines      []Line
	Percent    bool // the values are shares: the axis runs from 0 % to 100 %
	LabelEvery int  // write every so manieth category; 0 writes all
}

// Line is one line of a chart, named by the heading of its column.
type Line struct {
	Column int
	Role   Role
}

// Role says how a line is drawn.
type Role int

// The roles of lines. A spreadsheet's chart has no bands, so an interval is two
// dashed lines.
const (
	Estimate Role = iota // dark and solid
	Limit                // of an interval: lighter, dashed
	Other                // something beside the estimate: light, solid
)

// kind is what a cell holds.
type kind int

const (
	blank kind = iota
	text
	note
	number
	percent
	date
)

// Cell is one cell. The zero Cell is blank.
type Cell struct {
	kind   kind
	text   string
	value  float64
	digits int
}

// Text is a cell of words. What begins with = + - or @ stays words.
func Text(s string) Cell { return Cell{kind: text, text: s} }

// Note is a cell of words that stands where a number would: "fewer than 10".
func Note(s string) Cell { return Cell{kind: note, text: s} }

// Number is a cell with a number, shown with so many digits after the point
// and commas between thousands; all of its digits are in the cell.
func Number(v float64, digits int) Cell { return Cell{kind: number, value: v, digits: digits} }

// Percent is a share, shown as a percentage with so many digits after the point.
func Percent(share float64, digits int) Cell {
	return Cell{kind: percent, value: share, digits: digits}
}

// Date is a day; the time of day is dropped.
func Date(t time.Time) Cell {
	day := time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	return Cell{kind: date, value: math.Round(day.Sub(dayZero).Hours() / 24)}
}

// dayZero is the day that spreadsheets count from, so that days from 1 March
// 1900 on have the number that they all agree on.
var dayZero = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)

// The limits of the file format (ECMA-376, and what readers of it keep to).
const (
	maxText      = 32767
	maxSheetName = 31
	maxDigits    = 10
	maxWidth     = 120
	firstDay     = 61 // 1 March 1900
)

// check refuses what no spreadsheet could hold or a reader would trip over.
func (b Book) check() error {
	if len(b.Sheets) == 0 {
		return errors.New("a workbook needs at least one sheet")
	}
	if b.Date.IsZero() {
		return errors.New("a workbook needs its report's date")
	}
	seen := map[string]bool{}
	for _, s := range b.Sheets {
		name := strings.ToLower(s.Name)
		if seen[name] {
			return fmt.Errorf("two sheets are called %q", s.Name)
		}
		seen[name] = true
		if err := s.check(); err != nil {
			return fmt.Errorf("sheet %q: %w", s.Name, err)
		}
	}
	return nil
}

func (s Sheet) check() error {
	if s.Name == "" || utf8.RuneCountInString(s.Name) > maxSheetName || strings.ContainsAny(s.Name, `:\/?*[]`) ||
		strings.HasPrefix(s.Name, "'") || strings.HasSuffix(s.Name, "'") {
		return fmt.Errorf("the name must have 1 to %d characters, none of : \\ / ? * [ ] and no ' at its ends", maxSheetName)
	}
	if len(s.Columns) == 0 {
		return errors.New("no columns")
	}
	for _, c := range s.Columns {
		if !(c.Width >= 1 && c.Width <= maxWidth) {
			return fmt.Errorf("column %q is %g characters wide, not 1 to %d", c.Heading, c.Width, maxWidth)
		}
	}
	for i, row := range s.Rows {
		if len(row) > len(s.Columns) {
			return fmt.Errorf("row %d has %d cells for %d columns", i, len(row), len(s.Columns))
		}
		for j, c := range row {
			if err := c.check(); err != nil {
				return fmt.Errorf("row %d, column %q: %w", i, s.Columns[j].Heading, err)
			}
		}
	}
	for _, words := range append(append([]string{s.Heading}, s.Lead...), s.Notes...) {
		if utf8.RuneCountInString(words) > maxText {
			return fmt.Errorf("a text has more than %d characters", maxText)
		}
	}
	for _, c := range s.Charts {
		if err := c.check(s); err != nil {
			return fmt.Errorf("chart %q: %w", c.Title, err)
		}
	}
	return nil
}

func (c Cell) check() error {
	switch {
	case utf8.RuneCountInString(c.text) > maxText:
		return fmt.Errorf("a text has more than %d characters", maxText)
	case math.IsNaN(c.value) || math.IsInf(c.value, 0):
		return errors.New("a number is not finite")
	case c.digits < 0 || c.digits > maxDigits:
		return fmt.Errorf("%d digits after the point, not 0 to %d", c.digits, maxDigits)
	case c.kind == date && c.value < firstDay:
		return errors.New("a date lies before 1 March 1900")
	}
	return nil
}

func (c LineChart) check(s Sheet) error {
	if c.From < 0 || c.To > len(s.Rows) || c.To-c.From < 2 {
		return fmt.Errorf("rows %d to %d of %d: a line needs at least two", c.From, c.To, len(s.Rows))
	}
	if len(c.Lines) == 0 {
		return errors.New("no lines")
	}
	for _, column := range append([]int{c.Categories}, columnsOf(c.Lines)...) {
		if column < 0 || column >= len(s.Columns) {
			return fmt.Errorf("column %d of %d", column, len(s.Columns))
		}
	}
	for _, l := range c.Lines {
		if !s.hasNumbers(l.Column, c.From, c.To) {
			return fmt.Errorf("the line %q has fewer than two numbers", s.Columns[l.Column].Heading)
		}
	}
	return nil
}

func columnsOf(lines []Line) []int {
	out := make([]int, len(lines))
	for i, l := range lines {
		out[i] = l.Column
	}
	return out
}

// hasNumbers is true when at least two rows hold a number in the column.
func (s Sheet) hasNumbers(column, from, to int) bool {
	n := 0
	for _, row := range s.Rows[from:to] {
		if column < len(row) && (row[column].kind == number || row[column].kind == percent) {
			n++
		}
	}
	return n >= 2
}
