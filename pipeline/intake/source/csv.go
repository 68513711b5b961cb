package source

import (
	"bytes"
	"io"
	"strings"
	"unicode/utf8"
)

// csvReader reads separated text as RFC 4180 has it, with any delimiter and
// quote: cells may stand in quotes, a quote inside them is doubled, rows end at
// a line feed with or without a carriage return before it. Blank lines are
// passed over.
//
// A row that breaks these rules is given back whole with its fault, and reading
// goes on at the next physical line: one open quote costs one row, not the rest
// of the file.
type csvReader struct {
	delimiter string   // one letter
	quote     byte     // 0: none
	backslash bool     // a quote inside a cell has a backslash before it
	skip      int      // physical lines before the headings
	decoded   bool     // the text is not as it was sent, but made UTF-8
	room      []string // for the cells of some rows to come

	textLines
}

// NewCSV reads comma-separated text in UTF-8.
func NewCSV(src io.Reader) Reader { return newCSV(src, Form{}.filled()) }

func newCSV(src io.Reader, form Form) *csvReader {
	r := &csvReader{
		delimiter: form.Delimiter, quote: form.Quote[0], backslash: form.Backslash, skip: form.SkipRows,
		decoded: form.Encoding != UTF8, textLines: newTextLines(src),
	}
	if form.Quote == NoQuotes {
		r.quote = 0
	}
	return r
}

func (r *csvReader) Headings() ([]string, error) {
	if err := r.begin(r.skip); err != nil {
		return nil, err
	}
	first, ok, err := r.Next()
	if err != nil || !ok {
		return nil, err
	}
	if first.Fault != "" {
		return nil, ErrHeadings
	}
	return first.Cells, checkHeadings(first.Cells)
}

// MaxColumns is how many columns a file may have.
const MaxColumns = 2000

// checkHeadings refuses headings that no export can have.
func checkHeadings(headings []string) error {
	if len(headings) > MaxColumns {
		return refuse("too_many_columns", "it has %d columns, more than the %d that are read; send the columns of the export tables alone", len(headings), MaxColumns)
	}
	for _, h := range headings {
		if !utf8.ValidString(h) || strings.ContainsFunc(h, hidden) {
			return errNotText
		}
	}
	return nil
}

// hidden says whether a letter can be seen neither on a screen nor on paper.
func hidden(r rune) bool {
	return (r < ' ' && r != '\n' && r != '\t' && r != '\r') || r == 0x7f
}

func (r *csvReader) Next() (Record, bool, error) {
	line, rest, long, err := r.nextLine()
	if err != nil || line == nil {
		return Record{}, false, err
	}
	if long {
		return Record{Line: r.at, Cells: []string{string(line)}, Fault: FaultLong}, true, nil
	}
	return r.row(rest, line), true, nil
}

// row takes apart the row at the front of rest. line is its first physical line
// without its end.
func (r *csvReader) row(rest, line []byte) Record {
	if r.quote == 0 || bytes.IndexByte(line, r.quote) < 0 {
		return r.checked(r.split(r.text(len(line))), line)
	}
	cells, used, ok := r.quoted(rest)
	if !ok {
		return Record{Line: r.at, Cells: []string{string(line)}, Fault: FaultQuotes}
	}
	r.reach(used)
	return r.checked(cells, rest[:used])
}

// roomFor is for how many cells room is made at once.
const roomFor = 4096

// split cuts a text at its delimiters.
func (r *csvReader) split(text string) []string {
	n := strings.Count(text, r.delimiter) + 1
	if cap(r.room)-len(r.room) < n {
		r.room = make([]string, 0, max(n, roomFor))
	}
	from := len(r.room)
	for n > 1 {
		at := strings.Index(text, r.delimiter)
		r.room = append(r.room, text[:at])
		text = text[at+len(r.delimiter):]
		n--
	}
	r.room = append(r.room, text)
	return r.room[from:len(r.room):len(r.room)]
}

// checked gives a row back whole when a letter of it was lost on the way to
// UTF-8.
func (r *csvReader) checked(cells []string, text []byte) Record {
	if r.decoded && bytes.ContainsRune(text, utf8.RuneError) {
		return Record{Line: r.at, Cells: []string{string(text)}, Fault: FaultBytes}
	}
	return Record{Line: r.at, Cells: cells}
}

// quoted takes apart a row that holds quotes. It returns its cells and its
// length without the line feed; ok is false when the quotes do not close where
// a cell ends, or the row is longer than any.
func (r *csvReader) quoted(rest []byte) (cells []string, length int, ok bool) {
	limit := min(len(rest), MaxRow)
	for i := 0; ; {
		if i < limit && rest[i] == r.quote {
			text, after, closed := r.quotedCell(rest[:limit], i+1)
			if !closed {
				return nil, 0, false
			}
			cells, i = append(cells, text), after
		} else {
			from := i
			for i < limit && rest[i] != '\n' && !r.delimiterAt(rest, i) {
				if rest[i] == r.quote {
					return nil, 0, false
				}
				i++
			}
			if i == limit && limit < len(rest) {
				return nil, 0, false
			}
			cells = append(cells, string(bytes.TrimSuffix(rest[from:i], endOf(rest, i))))
		}
		switch {
		case i < limit && r.delimiterAt(rest, i):
			i += len(r.delimiter)
		case i == len(rest) || rest[i] == '\n':
			return cells, i, true
		case rest[i] == '\r' && (i+1 == len(rest) || rest[i+1] == '\n'):
			return cells, i + 1, true
		default:
			return nil, 0, false
		}
	}
}

func (r *csvReader) delimiterAt(rest []byte, i int) bool {
	return rest[i] == r.delimiter[0] && (len(r.delimiter) == 1 || bytes.HasPrefix(rest[i:], []byte(r.delimiter)))
}

// endOf returns the carriage return that belongs to a line end at i, or nothing.
func endOf(rest []byte, i int) []byte {
	if i == len(rest) || rest[i] == '\n' {
		return []byte("\r")
	}
	return nil
}

// quotedCell reads from behind an opening quote to behind the closing one.
func (r *csvReader) quotedCell(rest []byte, i int) (text string, after int, closed bool) {
	from, escaped := i, false
	for {
		at := bytes.IndexByte(rest[i:], r.quote)
		if at < 0 {
			return "", 0, false
		}
		i += at + 1
		if r.backslash {
			if slashes := trailingSlashes(rest[from : i-1]); slashes%2 == 0 {
				break
			}
		} else if i == len(rest) || rest[i] != r.quote {
			break
		} else {
			i++
		}
		escaped = true
	}
	text = string(rest[from : i-1])
	switch quote := string(r.quote); {
	case r.backslash && strings.ContainsRune(text, '\\'):
		text = strings.NewReplacer(`\\`, `\`, `\`+quote, quote).Replace(text)
	case escaped:
		text = strings.ReplaceAll(text, quote+quote, quote)
	}
	if strings.Contains(text, "\r\n") {
		text = strings.ReplaceAll(text, "\r\n", "\n")
	}
	return text, i, true
}

func trailingSlashes(text []byte) int {
	return len(text) - len(bytes.TrimRight(text, `\`))
}
