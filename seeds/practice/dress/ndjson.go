package dress

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"strconv"

	"evenlimb/pipeline/export"
)

// ndjson is one JSON object a line, compressed. A cell that is not recorded is
// left out of its object, but for the first, which names all that there is.
type ndjson struct {
	script  *script
	layouts []layoutFile
	about   string
}

// Files writes one file for each table.
func (x *ndjson) Files(d Drop) ([]File, error) {
	var files []File
	for n, s := range d.Sheets {
		name := d.stem(s) + ".ndjson.gz"
		p := x.script.pen(s.Table)
		var data []byte
		for i, row := range s.Rows {
			r, err := parse(s.Table, row)
			if err != nil {
				return nil, err
			}
			d.Note(n, i, name, i+1)
			if data, err = appendObject(data, p, p.cells(i, r), r.harm, i == 0); err != nil {
				return nil, err
			}
		}
		packed, err := packed(data)
		if err != nil {
			return nil, err
		}
		files = append(files, File{name, packed})
	}
	return files, nil
}

func packed(data []byte) ([]byte, error) {
	var out bytes.Buffer
	w := gzip.NewWriter(&out) // without a name or a time: the same bytes again
	if _, err := w.Write(data); err != nil {
		return nil, fmt.Errorf("compress a made-up file: %w", err)
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("compress a made-up file: %w", err)
	}
	return out.Bytes(), nil
}

func appendObject(data []byte, p *pen, cells []string, h Harm, all bool) ([]byte, error) {
	if h == Unclosed {
		data = append(data, '"')
	}
	data = append(data, '{')
	first := true
	for n, cell := range cells {
		if cell == "" && !all {
			continue
		}
		if !first {
			data = append(data, ',')
		}
		first = false
		data = append(strconv.AppendQuote(data, p.heads[n]), ':')
		switch kind := p.parts[n][0].kind; {
		case cell == "":
			data = append(data, "null"...)
		case (kind == export.Integer || kind == export.Decimal) && json.Valid([]byte(cell)),
			kind == export.Boolean && (cell == "true" || cell == "false"):
			data = append(data, cell...)
		default:
			text, err := json.Marshal(cell)
			if err != nil {
				return nil, fmt.Errorf("write a made-up cell as JSON: %w", err)
			}
			data = append(data, text...)
		}
	}
	return append(data, '}', '\n'), nil
}

// Holds is true: an object holds everything.
func (*ndjson) Holds(export.Table, string, string) bool { return true }

// Breaks names the reason of the reader of JSON.
func (*ndjson) Breaks(h Harm) string {
	if h == Unclosed {
		return "not_an_object"
	}
	return ""
}

// Layouts are the desk's layout files.
func (x *ndjson) Layouts(nights []string) []File { return layoutsOf(x.layouts, nights) }

// About says what the desk sends.
func (x *ndjson) About() string { return x.about }
