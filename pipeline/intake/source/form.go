package source

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Form says how a file is to be read. It is found once, by Detect, and kept with
// the file, so that a file is later read exactly as it was. The zero Form is
// that of a file of the practice's own kind: comma-separated text in UTF-8.
type Form struct {
	Format      string // CSV, NDJSON, Parquet or XLSX; empty: CSV
	Compression string // Plain, Gzip or Zstd
	Encoding    string // of text: UTF8, UTF16LE, UTF16BE or Windows1252; empty: UTF8
	Delimiter   string // of CSV: one letter; empty: a comma
	Quote       string // of CSV: one letter, or NoQuotes; empty: the double quote
	Backslash   bool   // of CSV: a quote inside a cell has a backslash before it instead of standing twice
	SkipRows    int    // of CSV: physical lines before the headings
	Sheets      string // of XLSX: the sheets read and the row of their headings, as 1@1 3@4
}

// The formats of files.
const (
	CSV     = "csv"
	NDJSON  = "ndjson"
	Parquet = "parquet"
	XLSX    = "xlsx"
)

// How a file may be packed.
const (
	Plain = ""
	Gzip  = "gzip"
	Zstd  = "zstd"
)

// The encodings of text.
const (
	UTF8        = "utf-8"
	UTF16LE     = "utf-16le"
	UTF16BE     = "utf-16be"
	Windows1252 = "windows-1252"
)

// NoQuotes says that quotes are letters like any other.
const NoQuotes = "none"

// Wish is what a layout says about the form of its files. What is empty is found
// out from the file.
type Wish struct {
	Format    string   // as in Form
	Encoding  string   // as in Form
	Delimiter string   // as Delimiter takes it
	Quote     string   // one letter, or NoQuotes
	SkipRows  int      // rows before the headings, in every sheet; 0: found out, -1: none
	Sheets    []string // names of sheets, or * for all; empty: those that look like tables
}

// Formats lists the formats that a Wish may ask for.
func Formats() []string { return []string{CSV, NDJSON, Parquet, XLSX} }

// Encodings lists the encodings that a Wish may ask for.
func Encodings() []string { return []string{UTF8, UTF16LE, UTF16BE, Windows1252} }

var delimiterNames = [...]struct{ letter, name string }{{",", "comma"}, {";", "semicolon"}, {"\t", "tab"}, {"|", "bar"}}

// Delimiter reads a delimiter as people write it: comma, semicolon, tab, bar, or
// the letter itself.
func Delimiter(text string) (string, error) {
	for _, d := range delimiterNames {
		if text == d.name {
			return d.letter, nil
		}
	}
	if utf8.RuneCountInString(text) != 1 || strings.ContainsAny(text, "\"'\r\n\x00\ufeff\ufffd") {
		return "", fmt.Errorf("%q is no delimiter; write comma, semicolon, tab, bar or one letter", text)
	}
	return text, nil
}

// Quote reads a quote as people write it: one letter that no word begins with,
// or none.
func Quote(text string) (string, error) {
	if text == NoQuotes || text == `"` || text == "'" || text == "`" {
		return text, nil
	}
	return "", fmt.Errorf("%q is no quote; write \", ' or none", text)
}

// filled is the Form with its empty parts written out.
func (f Form) filled() Form {
	if f.Format == "" {
		f.Format = CSV
	}
	if f.Encoding == "" && (f.Format == CSV || f.Format == NDJSON) {
		f.Encoding = UTF8
	}
	if f.Format == CSV {
		if f.Delimiter == "" {
			f.Delimiter = ","
		}
		if f.Quote == "" {
			f.Quote = `"`
		}
	}
	return f
}

// String writes the Form as one line, such as "csv, semicolon, windows-1252,
// gzip", which ParseForm reads.
func (f Form) String() string {
	f = f.filled()
	parts := []string{f.Format}
	add := func(text string, there bool) {
		if there {
			parts = append(parts, text)
		}
	}
	add(delimiterWord(f.Delimiter), f.Delimiter != "")
	add(f.Encoding, f.Encoding != "")
	add("quote "+f.Quote, f.Quote != "" && f.Quote != `"`)
	add("backslash", f.Backslash)
	add("skip "+strconv.Itoa(f.SkipRows), f.SkipRows != 0)
	add("sheets "+f.Sheets, f.Sheets != "")
	add(f.Compression, f.Compression != Plain)
	return strings.Join(parts, ", ")
}

func delimiterWord(letter string) string {
	for _, d := range delimiterNames {
		if letter == d.letter {
			return d.name
		}
	}
	r, _ := utf8.DecodeRuneInString(letter)
	return fmt.Sprintf("delimiter U+%04X", r)
}

// ParseForm reads what String wrote. Empty text is the zero Form.
func ParseForm(text string) (Form, error) {
	if text == "" {
		return Form{}.filled(), nil
	}
	var f Form
	for i, part := range strings.Split(text, ", ") {
		word, value, _ := strings.Cut(part, " ")
		if err := f.set(i, word, value); err != nil {
			return Form{}, fmt.Errorf("the form %q of a file cannot be read: %w", text, err)
		}
	}
	if back := f.String(); back != text {
		return Form{}, fmt.Errorf("the form %q of a file cannot be read: it would be written %q", text, back)
	}
	return f.filled(), nil
}

func (f *Form) set(i int, word, value string) (err error) {
	switch word {
	case CSV, NDJSON, Parquet, XLSX:
		if i != 0 {
			return fmt.Errorf("%q does not stand first", word)
		}
		f.Format = word
	case UTF8, UTF16LE, UTF16BE, Windows1252:
		f.Encoding = word
	case Gzip, Zstd:
		f.Compression = word
	case "backslash":
		f.Backslash = true
	case "quote":
		f.Quote, err = Quote(value)
	case "skip":
		f.SkipRows, err = strconv.Atoi(value)
		if err == nil && f.SkipRows < 1 {
			err = fmt.Errorf("%d rows cannot be skipped", f.SkipRows)
		}
	case "sheets":
		_, err = parseSheets(value)
		f.Sheets = value
	case "delimiter":
		var r int64
		r, err = strconv.ParseInt(strings.TrimPrefix(value, "U+"), 16, 32)
		f.Delimiter = string(rune(r))
	default:
		f.Delimiter, err = Delimiter(word)
		if err == nil && len(word) == 1 {
			err = fmt.Errorf("%q is not known", word)
		}
	}
	return err
}

// sheetAt is a sheet that is read: its place in the workbook and the row of its
// headings, both from 1.
type sheetAt struct{ ordinal, headings int }

func parseSheets(text string) ([]sheetAt, error) {
	var list []sheetAt
	for item := range strings.FieldsSeq(text) {
		sheet, row, _ := strings.Cut(item, "@")
		ordinal, err := strconv.Atoi(sheet)
		if err != nil {
			return nil, err
		}
		headings, err := strconv.Atoi(row)
		if err != nil {
			return nil, err
		}
		if ordinal < 1 || ordinal > maxSheets || headings < 1 || headings >= sheetLines || (len(list) > 0 && list[len(list)-1].ordinal >= ordinal) {
			return nil, fmt.Errorf("%q names no sheet", item)
		}
		list = append(list, sheetAt{ordinal, headings})
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("%q names no sheet", text)
	}
	return list, nil
}

func formatSheets(list []sheetAt) string {
	items := make([]string, len(list))
	for i, s := range list {
		items[i] = fmt.Sprintf("%d@%d", s.ordinal, s.headings)
	}
	return strings.Join(items, " ")
}

const (
	// sheetLines is how far the line numbers of one sheet and the next lie apart:
	// more than a sheet can have rows.
	sheetLines = 2_000_000
	maxSheets  = 200
)

// Place says in words where a row with that line number stands: "line 17" of
// text, "row 17" of Parquet, "sheet 2, row 17" of a workbook.
func (f Form) Place(line int) string {
	switch f.Format {
	case XLSX:
		return fmt.Sprintf("sheet %d, row %d", line/sheetLines+1, line%sheetLines)
	case Parquet:
		return fmt.Sprintf("row %d", line)
	default:
		return fmt.Sprintf("line %d", line)
	}
}
