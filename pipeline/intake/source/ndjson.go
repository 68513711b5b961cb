package source

import (
	"bytes"
	"encoding/json"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// ndjsonReader reads one JSON object a line. Its headings are the names of the
// first rows in order of first appearance; a row without one of them has an
// empty cell there, as one with null has. Numbers stay as they are written.
type ndjsonReader struct {
	textLines
	decoded bool
	place   map[string]int // of each name among the headings
	ahead   []Record       // the first rows, read for the headings, in their order
}

// headingRows is how many rows the headings are gathered from.
const headingRows = 1000

func newNDJSON(src io.Reader, form Form) *ndjsonReader {
	return &ndjsonReader{textLines: newTextLines(src), decoded: form.Encoding != UTF8, place: map[string]int{}}
}

// Headings returns the names. Rows that cannot be read add none.
func (r *ndjsonReader) Headings() ([]string, error) {
	if err := r.begin(0); err != nil {
		return nil, err
	}
	var headings []string
	for len(r.ahead) < headingRows {
		line, _, long, err := r.nextLine()
		if err != nil {
			return nil, err
		}
		if line == nil {
			break
		}
		pairs, fault := r.parse(line, long)
		if fault != "" {
			r.ahead = append(r.ahead, Record{Line: r.at, Cells: []string{string(line)}, Fault: fault})
			continue
		}
		for _, p := range pairs {
			if _, known := r.place[p.name]; !known {
				r.place[p.name] = len(headings)
				headings = append(headings, p.name)
			}
		}
		if len(headings) > MaxColumns {
			return nil, checkHeadings(headings)
		}
		r.ahead = append(r.ahead, r.record(pairs))
	}
	// The rows before a name's first appearance end before its cell.
	for i, rec := range r.ahead {
		if rec.Fault == "" {
			r.ahead[i].Cells = append(rec.Cells, make([]string, len(headings)-len(rec.Cells))...)
		}
	}
	return headings, checkHeadings(headings)
}

func (r *ndjsonReader) Next() (Record, bool, error) {
	if len(r.ahead) > 0 {
		rec := r.ahead[0]
		r.ahead = r.ahead[1:]
		return rec, true, nil
	}
	line, _, long, err := r.nextLine()
	if err != nil || line == nil {
		return Record{}, false, err
	}
	pairs, fault := r.parse(line, long)
	if fault == "" && slices.ContainsFunc(pairs, func(p pair) bool { _, known := r.place[p.name]; return !known }) {
		fault = FaultUnknown
	}
	if fault != "" {
		return Record{Line: r.at, Cells: []string{string(line)}, Fault: fault}, true, nil
	}
	return r.record(pairs), true, nil
}

func (r *ndjsonReader) record(pairs []pair) Record {
	cells := make([]string, len(r.place))
	for _, p := range pairs {
		cells[r.place[p.name]] = p.value
	}
	return Record{Line: r.at, Cells: cells}
}

func (r *ndjsonReader) parse(line []byte, long bool) (pairs []pair, fault string) {
	switch {
	case long:
		return nil, FaultLong
	case r.decoded && bytes.ContainsRune(line, utf8.RuneError):
		return nil, FaultBytes
	default:
		return flatObject(line)
	}
}

// pair is a name and its value as the text of a cell.
type pair struct{ name, value string }

// flatObject takes a JSON object of plain values apart. The library first makes
// sure that the line is JSON, so what is left is to find where each value ends.
func flatObject(line []byte) (pairs []pair, fault string) {
	const blanks = " \t\r\n"
	rest := bytes.Trim(line, blanks)
	if len(rest) == 0 || rest[0] != '{' || !json.Valid(rest) {
		return nil, FaultJSON
	}
	for rest = bytes.TrimLeft(rest[1:], blanks); rest[0] != '}'; rest = bytes.TrimLeft(rest, ","+blanks) {
		name, after, ok := jsonString(rest)
		if !ok {
			return nil, FaultBytes
		}
		rest = bytes.TrimLeft(after, ":"+blanks)
		p := pair{name: name}
		switch rest[0] {
		case '{', '[':
			return nil, FaultNested
		case '"':
			if p.value, rest, ok = jsonString(rest); !ok {
				return nil, FaultBytes
			}
		default:
			end := bytes.IndexAny(rest, ",}"+blanks)
			if p.value, rest = string(rest[:end]), rest[end:]; p.value == "null" {
				p.value = ""
			}
		}
		if slices.ContainsFunc(pairs, func(q pair) bool { return q.name == name }) {
			return nil, FaultTwice
		}
		pairs = append(pairs, p)
	}
	return pairs, ""
}

// jsonString reads the string at the front. It is not ok when the string holds
// half of a letter, of which the library would make another.
func jsonString(rest []byte) (text string, after []byte, ok bool) {
	end := 1
	for rest[end] != '"' {
		if rest[end] == '\\' {
			end++
		}
		end++
	}
	raw, after := rest[1:end], rest[end+1:]
	if bytes.IndexByte(raw, '\\') < 0 {
		return string(raw), after, true
	}
	if err := json.Unmarshal(rest[:end+1], &text); err != nil || strings.ContainsRune(text, utf8.RuneError) {
		return "", nil, false
	}
	return text, after, true
}

// looksLikeLines says whether one of the first lines is a whole object.
func looksLikeLines(sample []byte) bool {
	for line := range bytes.Lines(sample) {
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] == '{' && json.Valid(line) {
			return true
		}
	}
	return false
}
