package source

import (
	"bytes"
	"errors"
	"io"
	"strings"
)

// csvReader reads comma-separated text as RFC 4180 has it: cells may stand in
// quotes, a quote inside them is doubled, rows end at a line feed with or
// without a carriage return before it. Blank lines are passed over.
//
// A row that breaks these rules is given back whole with its fault, and reading
// goes on at the next physical line: one open quote costs one row, not the rest
// of the file.
type csvReader struct {
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

// The faults of a row as a whole.
const (
	FaultQuotes = "quotes_broken"
	FaultLong   = "row_too_long"
)

func NewCSV(src io.Reader) *csvReader {
	return &csvReader{src: src, buf: make([]byte, readBytes+2*MaxRow), line: 1}
}

func (r *csvReader) Headings() ([]string, error) {
	if err := r.fill(); err != nil {
		return nil, err
	}
	if bom := []byte("\xef\xbb\xbf"); bytes.HasPrefix(r.buf[r.start:r.end], bom) {
		r.start += len(bom)
	}
	first, ok, err := r.Next()
	if err != nil || !ok {
		return nil, err
	}
	if first.Fault != "" {
		return nil, ErrHeadings
	}
	return first.Cells, nil
}

// ErrHeadings says that the first row is not a row at all.
var ErrHeadings = errors.New("the headings cannot be taken apart")

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
		rec := Record{Line: r.line}
		if bytes.IndexByte(row, '"') < 0 {
			rec.Cells = strings.Split(string(row), ",")
			r.step(length, 1)
			return rec, true, nil
		}
		cells, used, ok := quoted(rest)
		if !ok {
			rec.Cells, rec.Fault = []string{string(row)}, FaultQuotes
			r.step(length, 1)
			return rec, true, nil
		}
		rec.Cells = cells
		r.step(used, 1+bytes.Count(rest[:used], []byte("\n")))
		return rec, true, nil
	}
}

// step passes over a row of that many bytes and the line feed behind it.
func (r *csvReader) step(length, lines int) {
	r.start = min(r.start+length+1, r.end)
	r.line += lines
}

// skipLong passes over a line longer than any row and keeps its beginning.
func (r *csvReader) skipLong() (Record, error) {
	const keep = 200
	rec := Record{Line: r.line, Fault: FaultLong, Cells: []string{string(r.buf[r.start:r.start+keep]) + "..."}}
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
func quoted(rest []byte) (cells []string, length int, ok bool) {
	limit := min(len(rest), MaxRow)
	for i := 0; ; {
		if i < limit && rest[i] == '"' {
			text, after, closed := quotedCell(rest[:limit], i+1)
			if !closed {
				return nil, 0, false
			}
			cells, i = append(cells, text), after
		} else {
			from := i
			for i < limit && rest[i] != ',' && rest[i] != '\n' {
				if rest[i] == '"' {
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
		case i < limit && rest[i] == ',':
			i++
		case i == len(rest) || rest[i] == '\n':
			return cells, i, true
		case rest[i] == '\r' && (i+1 == len(rest) || rest[i+1] == '\n'):
			return cells, i + 1, true
		default:
			return nil, 0, false
		}
	}
}

// endOf returns the carriage return that belongs to a line end at i, or nothing.
func endOf(rest []byte, i int) []byte {
	if i == len(rest) || rest[i] == '\n' {
		return []byte("\r")
	}
	return nil
}

// quotedCell reads from behind an opening quote to behind the closing one.
func quotedCell(rest []byte, i int) (text string, after int, closed bool) {
	from, doubled := i, false
	for {
		at := bytes.IndexByte(rest[i:], '"')
		if at < 0 {
			return "", 0, false
		}
		i += at + 1
		if i == len(rest) || rest[i] != '"' {
			break
		}
		doubled = true
		i++
	}
	text = string(rest[from : i-1])
	if doubled {
		text = strings.ReplaceAll(text, `""`, `"`)
	}
	if strings.Contains(text, "\r\n") {
		text = strings.ReplaceAll(text, "\r\n", "\n")
	}
	return text, i, true
}
