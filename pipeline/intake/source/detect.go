package source

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
)

// sampleBytes is how much of a text is looked at to find its form.
const sampleBytes = 64 << 10

// Detect finds out how a file is to be read. What the layout wishes is taken as
// it says; the rest is told from the bytes, never from the name. The error is a
// *Refusal when the file cannot be read at all.
func Detect(in Input, wish Wish) (form Form, err error) {
	file, err := in.Open()
	if err != nil {
		return Form{}, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	head, err := peek(file)
	if err != nil {
		return Form{}, err
	}
	form.Compression = compression(head)
	src, err := unpack(io.MultiReader(bytes.NewReader(head), file), form.Compression)
	if err != nil {
		return Form{}, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	if form.Compression != Plain {
		if head, err = peek(src); err != nil {
			return Form{}, err
		}
	}
	if form.Format, err = formatOf(head, wish); err != nil {
		return Form{}, err
	}
	switch form.Format {
	case CSV, NDJSON:
		return detectText(form, head, src, wish)
	case XLSX:
		f := &File{}
		form, err = f.detectXLSX(in, form, wish)
		return form, errors.Join(err, f.Close())
	case Parquet:
		return form, nil
	default:
		return Form{}, refuse("unknown_format", "files of the format %s are not read", form.Format)
	}
}

// peek reads the sample at the front.
func peek(src io.Reader) ([]byte, error) {
	head := make([]byte, sampleBytes)
	n, err := io.ReadFull(src, head)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return head[:n], err
}

// strangers are files that people send instead of an export, by their first
// bytes, and what to do about them.
var strangers = []struct{ magic, code, words string }{
	{"\xd0\xcf\x11\xe0", "old_workbook", "this is a workbook of the old kind, or one with a password; save it as .xlsx without a password and send it again"},
	{"PARE", "encrypted", "this Parquet file is encrypted; send it without encryption"},
	{"%PDF", "not_a_table", "this is a PDF; send the export it was printed from, as comma-separated text"},
	{"\x89PNG", "not_a_table", "this is a picture; send the export itself, as comma-separated text"},
	{"\xff\xd8\xff", "not_a_table", "this is a picture; send the export itself, as comma-separated text"},
	{"BZh", "packed_otherwise", "it is packed in a way that is not read; send it unpacked, or as .gz or .zst"},
	{"\xfd7zXZ", "packed_otherwise", "it is packed in a way that is not read; send it unpacked, or as .gz or .zst"},
	{"7z\xbc\xaf", "packed_otherwise", "it is packed in a way that is not read; send it unpacked, or as .gz or .zst"},
	{"Rar!", "packed_otherwise", "it is packed in a way that is not read; send it unpacked, or as .gz or .zst"},
	{"\x1f\x8b", "packed_twice", "it is packed twice; send it packed once"},
	{"\x28\xb5\x2f\xfd", "packed_twice", "it is packed twice; send it packed once"},
	{"<", "markup", "this is a page or a document in markup, whatever its name says; export it as comma-separated text or .xlsx and send it again"},
}

// formatOf tells the format by the first bytes.
func formatOf(head []byte, wish Wish) (string, error) {
	var format string
	text := bytes.TrimLeft(bytes.TrimPrefix(head, bomUTF8), " \t\r\n")
	switch {
	case bytes.HasPrefix(head, []byte("PAR1")):
		format = Parquet
	case bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("PK\x05\x06")):
		format = XLSX
	default:
		for _, s := range strangers {
			if bytes.HasPrefix(text, []byte(s.magic)) {
				return "", &Refusal{s.code, s.words}
			}
		}
		format = CSV
	}
	isText := format == CSV
	switch wishText := wish.Format == CSV || wish.Format == NDJSON; {
	case wish.Format == "":
	case isText && wishText:
		return wish.Format, nil
	case wish.Format != format:
		return "", refuse("other_format", "the layout says that this is %s, but it is not; send it as %s, or correct the layout", wish.Format, wish.Format)
	}
	return format, nil
}

func detectText(form Form, head []byte, rest io.Reader, wish Wish) (Form, error) {
	var err error
	if form.Encoding = wish.Encoding; form.Encoding == "" {
		if form.Encoding, err = encodingOf(head, rest); err != nil {
			return Form{}, err
		}
	}
	sample, err := io.ReadAll(decoded(bytes.NewReader(head), form.Encoding))
	if err != nil {
		return Form{}, err
	}
	cut := len(head) == sampleBytes
	switch {
	case bytes.Count(sample, []byte{0}) > max(8, len(sample)/100):
		return Form{}, errNotText
	case bytes.IndexByte(sample, '\n') < 0 && bytes.Count(sample, []byte("\r")) > 1:
		return Form{}, refuse("old_line_ends", "its lines end with carriage returns alone; save it with the line ends of this century and send it again")
	}
	text := bytes.TrimLeft(bytes.TrimPrefix(sample, bomUTF8), " \t\r\n")
	switch opening := jsonOpening(text); {
	case form.Format == NDJSON || (wish.Format == "" && opening && text[0] == '{' && looksLikeLines(text)):
		form.Format = NDJSON
		return form, nil
	case wish.Format == "" && opening:
		return Form{}, refuse("json_not_lines", "this is JSON, but not one object a line; export it as NDJSON (JSON lines) or comma-separated text and send it again")
	default:
		return detectCSV(form, sample, cut, wish)
	}
}

// jsonOpening says whether a text begins as JSON does: an object or a list of
// objects or lists.
func jsonOpening(text []byte) bool {
	if rest, list := bytes.CutPrefix(text, []byte("[")); list {
		rest = bytes.TrimLeft(rest, " \t\r\n")
		return bytes.HasPrefix(rest, []byte("{")) || bytes.HasPrefix(rest, []byte("["))
	}
	return bytes.HasPrefix(text, []byte("{"))
}

// detectCSV finds the delimiter and quote with which most rows of the sample
// have the same number of cells, and the row of the headings.
func detectCSV(form Form, sample []byte, cut bool, wish Wish) (Form, error) {
	form.Format, form.SkipRows = CSV, max(0, wish.SkipRows)
	if cut {
		if at := bytes.LastIndexByte(sample, '\n'); at >= 0 {
			sample = sample[:at+1]
		}
	}
	delimiters, quotes := []string{",", ";", "\t", "|"}, []string{`"`, "'"}
	if wish.Delimiter != "" {
		letter, err := Delimiter(wish.Delimiter)
		if err != nil {
			return Form{}, err
		}
		delimiters = []string{letter}
	} else if letter := statedDelimiter(sample); letter != "" {
		delimiters = []string{letter}
		form.SkipRows = max(form.SkipRows, 1)
	}
	if wish.Quote != "" {
		quotes = []string{wish.Quote}
	}
	best := guess{score: -1}
	for _, delimiter := range delimiters {
		for _, quote := range quotes {
			if quote == "'" && wish.Quote == "" && !bytes.Contains(sample, []byte(delimiter+quote)) {
				continue
			}
			for _, backslash := range []bool{false, true} {
				if backslash && !bytes.Contains(sample, []byte(`\`+quote)) {
					continue
				}
				f := form
				f.Delimiter, f.Quote, f.Backslash = delimiter, quote, backslash
				if g := tryCSV(f, sample); g.score > best.score || (g.score == best.score && g.width > best.width) {
					best = g
				}
			}
		}
	}
	if wish.SkipRows == 0 {
		best.form.SkipRows = max(best.form.SkipRows, best.titles)
	}
	return best.form.filled(), nil
}

// statedDelimiter reads a first line sep=; as some spreadsheets write it.
func statedDelimiter(sample []byte) string {
	line, _, _ := bytes.Cut(bytes.TrimPrefix(sample, bomUTF8), []byte("\n"))
	text, ok := bytes.CutPrefix(bytes.TrimRight(line, "\r"), []byte("sep="))
	if !ok {
		return ""
	}
	letter, err := Delimiter(string(text))
	if err != nil {
		return ""
	}
	return letter
}

// guess is a way to read a sample, and how well it reads.
type guess struct {
	form   Form
	score  float64 // share of the rows that are as wide as the headings
	width  int
	titles int // physical lines before the headings
}

const sampleRows = 200

func tryCSV(f Form, sample []byte) guess {
	r := newCSV(bytes.NewReader(sample), f)
	if r.begin(f.SkipRows) != nil {
		return guess{form: f}
	}
	var rows []sampleRow
	faults := 0
	for len(rows) < sampleRows {
		rec, ok, err := r.Next()
		if err != nil || !ok {
			break
		}
		cells := rec.Cells
		if rec.Fault != "" {
			faults++
			cells = strings.Split(cells[0], f.Delimiter)
		}
		rows = append(rows, textRow(rec.Line, cells))
	}
	g := guess{form: f}
	if len(rows) == 0 {
		return g
	}
	at := max(0, headingRow(rows))
	g.titles = rows[at].line - 1
	width := rows[at].width
	alike := 0
	for _, row := range rows[at:] {
		if row.width == width {
			alike++
		}
	}
	if width > 1 {
		g.score, g.width = (float64(alike)-2*float64(faults))/float64(len(rows)), width
	}
	return g
}

// sampleRow is what tells headings from title rows.
type sampleRow struct {
	line   int
	width  int
	filled int // cells with something in them
}

func textRow(line int, cells []string) sampleRow {
	row := sampleRow{line: line, width: len(cells)}
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			row.filled++
		}
	}
	return row
}

// titleRows is how many rows may stand before the headings.
const titleRows = 50

// headingRow finds the row of headings below title rows: the first that fills
// more than half of what most rows fill. It is -1 when there is none.
func headingRow(rows []sampleRow) int {
	var filled []int
	for _, row := range rows {
		filled = append(filled, row.filled)
	}
	slices.Sort(filled)
	for i, row := range rows[:min(len(rows), titleRows)] {
		if row.filled >= 2 && 2*row.filled > filled[len(filled)*3/4] {
			return i
		}
	}
	return -1
}
