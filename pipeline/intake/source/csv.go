package source

import (
	"bytes"
	"errors"
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
	delimiter string // one letter
	quote     byte   // 0: none
	backslash bool   // a quote inside a cell has a backslash before it
	skip      int    // physical lines before the headings
	decoded   bool   // the text is not as it was sent, but made UTF-8

	src   io.Reader
	buf   []byte
	start int // of what is not read yet
	end   int // of what is filled
	line  int // physical line at start
	done  bool
}

const (
	readBytes = 256 << 10 // how much is asked of the source at once
	MaxRow    = 64 << 10  // a longer row is no row of an export table
)

// MaxColumns is how many columns a file may have.
const MaxColumns = 2000

// The faults of a row as a whole.
const (
	FaultQuotes = "quotes_broken"
	FaultLong   = "row_too_long"
	FaultBytes  = "not_in_its_encoding"
)

// NewCSV reads comma-separated text in UTF-8.
func NewCSV(src io.Reader) Reader { return newCSV(src, Form{}.filled()) }

func newCSV(src io.Reader, form Form) *csvReader {
	r := &csvReader{
		delimiter: form.Delimiter, quote: form.Quote[0], backslash: form.Backslash, skip: form.SkipRows, decoded: form.Encoding != UTF8,
		src: src, buf: make([]byte, readBytes+2*MaxRow), line: 1,
	}
	if form.Quote == NoQuotes {
		r.quote = 0
	}
	return r
}

func (r *csvReader) Headings() ([]string, error) {
	if err := r.begin(); err != nil {
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

// begin goes to the line of the headings.
func (r *csvReader) begin() error {
	if err := r.fill(); err != nil {
		return err
	}
	if bytes.HasPrefix(r.buf[r.start:r.end], bomUTF8) {
		r.start += len(bomUTF8)
	}
	for range r.skip {
		if err := r.skipLine(); err != nil {
			return err
		}
	}
	return nil
}

// checkHeadings refuses headings that no export can have.
func checkHeadings(headings []string) error {
	if len(headings) > MaxColumns {
		return refuse("too_many_columns", "it has %d columns, more than the %d that are read; send the columns of the export tables alone", len(headings), MaxColumns)
	}
	for _, h := range headings {
		if strings.ContainsRune(h, 0) {
			return errNotText
		}
	}
	return nil
}

func (r *csvReader) Next() (Record, bool, error) {
	for {
		if r.end-r.start <= MaxRow {
			if err := r.fill(); err != nil {
				return Record{}, false, err
			}
		}
		if r.start == r.end {
			return Record{}, false, nil
		}
		rest := r.buf[r.start:r.end]
		length := bytes.IndexByte(rest, '\n')
		if length < 0 || length > MaxRow {
			if length < 0 && len(rest) <= MaxRow {
				length = len(rest) // the last line has no line feed
			} else {
				rec, err := r.skipLong()
				return rec, true, err
			}
		}
		row := bytes.TrimSuffix(rest[:length], []byte("\r"))
		if len(row) == 0 {
			r.step(length, 1)
			continue
		}
		return r.row(rest, row, length), true, nil
	}
}

// row takes apart the row at the front of rest. line is its first physical
// line, length how far that reaches with its carriage return.
func (r *csvReader) row(rest, line []byte, length int) Record {
	if r.quote == 0 || bytes.IndexByte(line, r.quote) < 0 {
		rec := Record{Line: r.line, Cells: strings.Split(string(line), r.delimiter)}
		r.step(length, 1)
		return r.checked(rec, line)
	}
	cells, used, ok := r.quoted(rest)
	if !ok {
		rec := Record{Line: r.line, Cells: []string{string(line)}, Fault: FaultQuotes}
		r.step(length, 1)
		return rec
	}
	rec := Record{Line: r.line, Cells: cells}
	r.step(used, 1+bytes.Count(rest[:used], []byte("\n")))
	return r.checked(rec, rest[:used])
}

// checked gives a row back whole when a letter of it was lost on the way to
// UTF-8.
func (r *csvReader) checked(rec Record, text []byte) Record {
	if r.decoded && bytes.ContainsRune(text, utf8.RuneError) {
		return Record{Line: rec.Line, Cells: []string{string(text)}, Fault: FaultBytes}
	}
	return rec
}

// step passes over a row of that many bytes and the line feed behind it.
func (r *csvReader) step(length, lines int) {
	r.start = min(r.start+length+1, r.end)
	r.line += lines
}

// skipLine passes over one physical line, whatever stands in it.
func (r *csvReader) skipLine() error {
	if r.end-r.start <= MaxRow {
		if err := r.fill(); err != nil {
			return err
		}
	}
	if at := bytes.IndexByte(r.buf[r.start:r.end], '\n'); at >= 0 {
		r.step(at, 1)
		return nil
	}
	_, err := r.skipLong()
	return err
}

// skipLong passes over a line longer than any row and keeps its beginning.
func (r *csvReader) skipLong() (Record, error) {
	const keep = 200
	rec := Record{Line: r.line, Fault: FaultLong, Cells: []string{string(r.buf[r.start:min(r.start+keep, r.end)]) + "..."}}
	for {
		if at := bytes.IndexByte(r.buf[r.start:r.end], '\n'); at >= 0 {
			r.step(at, 1)
			return rec, nil
		}
		r.start = r.end
		if r.done {
			return rec, nil
		}
		if err := r.fill(); err != nil {
			return Record{}, err
		}
	}
}

// fill moves what is left to the front and reads until the buffer is full or
// the source is at its end.
func (r *csvReader) fill() error {
	if r.done {
		return nil
	}
	copy(r.buf, r.buf[r.start:r.end])
	r.end -= r.start
	r.start = 0
	for r.end < len(r.buf) {
		n, err := r.src.Read(r.buf[r.end:])
		r.end += n
		if errors.Is(err, io.EOF) {
			r.done = true
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
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
