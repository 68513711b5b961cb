package propose

import (
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/opc"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// The sheets of a draft that is a workbook.
const (
	fileSheet    = "File"
	columnsSheet = "Columns"
	codesSheet   = "Codes"
	listsSheet   = "Lists"
)

var (
	fileHeads    = []string{"What", "Value", "Why"}
	columnsHeads = []string{"Table", "Sheet", "Heading", "Such as", "Column", "Unit", "Split at", "Take part", "Measure", "Side", "Trial", "Why"}
	codesHeads   = []string{"Table", "Column", "Word", "Code", "Why"}
)

// The words of the first column of the sheet about the file.
const (
	saySender  = "sender"
	sayMatch   = "match"
	sayFrom    = "from"
	sayDecimal = "decimal"
	sayDate    = "date"
	sayMissing = "missing"
)

// Workbook writes the draft as a workbook: what was guessed can be chosen anew
// from lists, and ReadWorkbook turns it into a draft again.
func (d Draft) Workbook(practice *settings.Practice) (data []byte, err error) {
	b := &book{file: excelize.NewFile(), lists: map[string]string{}}
	defer func() { err = errors.Join(err, b.file.Close()) }()
	b.sheet(fileSheet, fileHeads, []float64{12, 40, 80})
	for _, row := range d.fileRows() {
		b.row(row)
	}
	b.sheet(columnsSheet, columnsHeads, []float64{16, 14, 34, 44, 26, 10, 9, 10, 32, 8, 7, 70})
	for _, t := range d.Tables {
		b.columns(t)
	}
	b.sheet(codesSheet, codesHeads, []float64{16, 26, 34, 34, 50})
	for _, t := range d.Tables {
		b.codes(t, matcher{practice: practice, sender: d.Sender, def: tableNamed(t.Name)})
	}
	if b.err != nil {
		return nil, fmt.Errorf("write the draft as a workbook: %w", b.err)
	}
	var out bytes.Buffer
	if err := opc.Write(&out, b.file, flate.BestCompression); err != nil {
		return nil, fmt.Errorf("write the draft as a workbook: %w", err)
	}
	return out.Bytes(), nil
}

func tableNamed(name string) export.Table {
	t, _ := export.Find(name)
	return t
}

func (d Draft) fileRows() [][]string {
	rows := [][]string{
		{saySender, d.Sender, "the folder under inbox/"},
		{sayMatch, d.Match, "the names of the files, with * for anything"},
		{sayFrom, d.From, "the first day of receipt on which the layout holds; " + NotYet + " is no day yet"},
		{sayDecimal, d.Decimal, "a point or a comma"},
	}
	for _, g := range d.Dates {
		rows = append(rows, []string{sayDate, g.Text, g.Why})
	}
	for _, g := range d.Missing {
		rows = append(rows, []string{sayMissing, g.Text, g.Why})
	}
	return rows
}

// book is a workbook being written; the first error ends it.
type book struct {
	file  *excelize.File
	name  string // of the sheet
	at    int    // last row written
	lists map[string]string
	err   error
}

func (b *book) do(err error) {
	if b.err == nil {
		b.err = err
	}
}

func (b *book) sheet(name string, heads []string, widths []float64) {
	if b.name == "" {
		b.do(b.file.SetSheetName(b.file.GetSheetName(0), name))
	} else {
		_, err := b.file.NewSheet(name)
		b.do(err)
	}
	b.name, b.at = name, 0
	for i, w := range widths {
		column, err := excelize.ColumnNumberToName(i + 1)
		b.do(err)
		b.do(b.file.SetColWidth(name, column, column, w))
	}
	b.row(heads)
	bold, err := b.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	b.do(err)
	b.do(b.file.SetRowStyle(name, 1, 1, bold))
	b.do(b.file.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
}

func (b *book) row(cells []string) {
	b.at++
	for i, text := range cells {
		if text == "" {
			continue
		}
		cell, err := excelize.CoordinatesToCellName(i+1, b.at)
		b.do(err)
		b.do(b.file.SetCellStr(b.name, cell, text))
	}
}

// choose lets the cell of a column in the row written last be chosen from a
// list.
func (b *book) choose(column string, list []string) {
	if len(list) == 0 {
		return
	}
	v := excelize.NewDataValidation(true)
	v.SetSqref(column + strconv.Itoa(b.at))
	v.SetSqrefDropList(b.list(list))
	b.do(b.file.AddDataValidation(b.name, v))
}

// list keeps a list of choices on a sheet of its own and returns its place.
func (b *book) list(list []string) string {
	key := strings.Join(list, "\x1f")
	if place, ok := b.lists[key]; ok {
		return place
	}
	if len(b.lists) == 0 {
		_, err := b.file.NewSheet(listsSheet)
		b.do(err)
		b.do(b.file.SetSheetVisible(listsSheet, false))
	}
	column, err := excelize.ColumnNumberToName(len(b.lists) + 1)
	b.do(err)
	for i, text := range list {
		b.do(b.file.SetCellStr(listsSheet, column+strconv.Itoa(i+1), text))
	}
	b.lists[key] = fmt.Sprintf("%s!$%s$1:$%s$%d", listsSheet, column, column, len(list))
	return b.lists[key]
}

func (b *book) columns(t Table) {
	def := tableNamed(t.Name)
	var names []string
	for _, c := range def.Columns {
		names = append(names, c.Name)
	}
	names = append(names, export.RowState)
	all := slices.Concat(t.Columns, t.Unread)
	for _, name := range t.Absent {
		all = append(all, Column{Heading: NoHeading, Column: name, Why: "the table needs it and no heading was found: write its heading"})
	}
	for _, c := range all {
		take := ""
		if c.Take > 0 {
			take = strconv.Itoa(c.Take)
		}
		b.row([]string{t.Name, t.Sheet, c.Heading, strings.Join(c.Examples, " | "), c.Column, c.Unit, c.Split, take, c.Measure, c.Side, c.Trial, c.Why})
		b.choose("E", names)
		b.choose("F", notation.UnitNames())
		if t.Name == "measurements" {
			b.choose("I", reference.Codes("measures"))
			b.choose("J", []string{"left", "right", "none"})
		}
	}
}

func (b *book) codes(t Table, m matcher) {
	for _, c := range t.Columns {
		def, ok := m.def.Column(c.Column)
		if !ok {
			continue
		}
		for _, code := range c.Codes {
			b.row([]string{t.Name, c.Column, code.Word, code.Code, code.Why})
			b.choose("D", m.known(def).codes)
		}
	}
}

// ErrNoDraft says that a workbook is no draft of a layout.
var ErrNoDraft = errors.New("the workbook is no draft of a layout")

// ReadWorkbook turns a workbook that Workbook wrote, and a person went over,
// into a draft again. The error is ErrNoDraft for any other workbook.
func ReadWorkbook(src io.Reader) (d Draft, err error) {
	file, err := excelize.OpenReader(src)
	if err != nil {
		return Draft{}, fmt.Errorf("%w: %w", ErrNoDraft, err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	about, err := rowsOf(file, fileSheet, fileHeads)
	if err != nil {
		return Draft{}, err
	}
	columns, err := rowsOf(file, columnsSheet, columnsHeads)
	if err != nil {
		return Draft{}, err
	}
	codes, err := rowsOf(file, codesSheet, codesHeads)
	if err != nil {
		return Draft{}, err
	}
	for _, row := range about {
		switch g := (Guess{row[1], row[2]}); row[0] {
		case saySender:
			d.Sender = g.Text
		case sayMatch:
			d.Match = g.Text
		case sayFrom:
			d.From = g.Text
		case sayDecimal:
			d.Decimal = g.Text
		case sayDate:
			d.Dates = append(d.Dates, g)
		case sayMissing:
			d.Missing = append(d.Missing, g)
		}
	}
	for _, row := range columns {
		d.take(row)
	}
	for _, row := range codes {
		d.takeCode(row)
	}
	return d, nil
}

// rowsOf returns the rows of a sheet under its headings, each as long as they.
func rowsOf(file *excelize.File, sheet string, heads []string) ([][]string, error) {
	rows, err := file.GetRows(sheet)
	if err != nil || len(rows) == 0 || !slices.Equal(rows[0], heads) {
		return nil, fmt.Errorf("%w: it has no sheet %q with the headings of one", ErrNoDraft, sheet)
	}
	rows = rows[1:]
	for i := range rows {
		rows[i] = append(rows[i], make([]string, max(0, len(heads)-len(rows[i])))...)
	}
	return rows, nil
}

// take adds a column to its table.
func (d *Draft) take(row []string) {
	if row[0] == "" || row[2] == "" {
		return
	}
	at := slices.IndexFunc(d.Tables, func(t Table) bool { return t.Name == row[0] && t.Sheet == row[1] })
	if at < 0 {
		d.Tables = append(d.Tables, Table{Name: row[0], Sheet: row[1], Why: "from the workbook"})
		at = len(d.Tables) - 1
	}
	t := &d.Tables[at]
	c := Column{Heading: row[2], Column: row[4], Unit: row[5], Split: row[6], Measure: row[8], Side: row[9], Trial: row[10], Why: row[11]}
	if row[3] != "" {
		c.Examples = strings.Split(row[3], " | ")
	}
	if n, err := strconv.Atoi(row[7]); err == nil {
		c.Take = n
	}
	switch {
	case c.Column == "":
		t.Unread = append(t.Unread, c)
	case c.Heading == NoHeading:
		t.Absent = append(t.Absent, c.Column)
	default:
		t.Columns = append(t.Columns, c)
	}
}

func (d *Draft) takeCode(row []string) {
	for i := range d.Tables {
		for j := range d.Tables[i].Columns {
			if c := &d.Tables[i].Columns[j]; d.Tables[i].Name == row[0] && c.Column == row[1] && row[2] != "" {
				c.Codes = append(c.Codes, Code{row[2], row[3], row[4]})
			}
		}
	}
}
