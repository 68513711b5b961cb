package source

import (
	"bytes"
	"errors"
	"io"
	"strconv"
	"unicode/utf8"
)

// markup reads the XML of a workbook piece by piece. It exists because sheets
// are nearly all markup, and encoding/xml spends most of the time of reading a
// workbook on them; FuzzMarkup holds it against that package. It knows what
// workbooks use: tags, attributes, text, the five named entities. A document type
// is refused, so nothing can be defined that unfolds. Whether tags match is left
// to the reader.
type markup struct {
	src  io.Reader
	buf  []byte
	pos  int // of what is not read yet
	end  int // of what is filled
	done bool

	name       []byte // of a tag, without its prefix; holds until the next piece
	attributes []byte // of a tag, as they stand
	text       []byte // of a text
	closes     bool   // the tag read last closes itself, and its end is to come
}

// piece is what markup found.
type piece int

const (
	tagStart piece = iota
	tagEnd
	someText
)

var errMarkup = errors.New("not XML")

func newMarkup(src io.Reader) *markup { return &markup{src: src, buf: make([]byte, 64<<10)} }

// next finds the next piece; the error is io.EOF at the end.
func (m *markup) next() (piece, error) {
	if m.closes {
		m.closes = false
		return tagEnd, nil
	}
	for {
		at, err := m.find(0, '<')
		switch {
		case err != nil:
			return 0, err
		case at < 0 && m.pos == m.end:
			return 0, io.EOF
		case at != 0:
			if at < 0 {
				at = m.end - m.pos
			}
			m.text, err = unescape(m.take(at))
			return someText, err
		}
		kind, found, err := m.tag()
		if err != nil || found {
			return kind, err
		}
	}
}

// tag reads what begins with an angle bracket: a tag, a marked stretch of text,
// or something passed over.
func (m *markup) tag() (kind piece, found bool, err error) {
	if err := m.want(9); err != nil {
		return 0, false, err
	}
	rest := m.buf[m.pos:m.end]
	switch {
	case bytes.HasPrefix(rest, []byte("<!--")):
		_, err := m.through("<!--", "-->")
		return 0, false, err
	case bytes.HasPrefix(rest, []byte("<![CDATA[")):
		m.text, err = m.through("<![CDATA[", "]]>")
		return someText, true, err
	case bytes.HasPrefix(rest, []byte("<?")):
		inside, err := m.through("<?", "?>")
		if err == nil && otherEncoding(inside) {
			err = errMarkup
		}
		return 0, false, err
	case len(rest) < 3 || rest[1] == '!':
		return 0, false, errMarkup
	case rest[1] == '/':
		inside, err := m.through("</", ">")
		if err != nil {
			return 0, false, err
		}
		m.name, m.attributes = localName(bytes.TrimRight(inside, blanks)), nil
		if len(m.name) == 0 || bytes.ContainsAny(m.name, blanks+"/<\"'=") {
			return 0, false, errMarkup
		}
		return tagEnd, true, nil
	default:
		return tagStart, true, m.startTag()
	}
}

const blanks = " \t\r\n"

// startTag reads a tag up to the bracket that is in no quotes.
func (m *markup) startTag() error {
	length, open := 1, byte(0)
	for {
		at, err := m.find(length, '>')
		if err != nil {
			return err
		}
		if at < 0 {
			return errMarkup
		}
		if open = openQuote(m.buf[m.pos+length:m.pos+at], open); open == 0 {
			return m.split(m.take(at + 1)[1:at])
		}
		length = at + 1
	}
}

// openQuote returns the quote that is open behind a stretch of a tag, 0 when
// none is.
func openQuote(stretch []byte, open byte) byte {
	for _, c := range stretch {
		switch {
		case open == 0 && (c == '"' || c == '\''):
			open = c
		case c == open:
			open = 0
		}
	}
	return open
}

func (m *markup) split(inside []byte) error {
	if before, ok := bytes.CutSuffix(inside, []byte("/")); ok {
		inside, m.closes = before, true
	}
	end := bytes.IndexAny(inside, blanks)
	if end < 0 {
		end = len(inside)
	}
	m.name, m.attributes = localName(inside[:end]), inside[end:]
	if len(m.name) == 0 || bytes.ContainsAny(m.name, "/<\"'=") {
		return errMarkup
	}
	return nil
}

func localName(name []byte) []byte { return name[bytes.IndexByte(name, ':')+1:] }

// attribute returns the value of an attribute by its local name; nothing when
// the tag does not have it.
func (m *markup) attribute(name string) (string, error) {
	for rest := bytes.TrimLeft(m.attributes, blanks); len(rest) > 0; rest = bytes.TrimLeft(rest, blanks) {
		key, after, ok := bytes.Cut(rest, []byte("="))
		after = bytes.TrimLeft(after, blanks)
		if !ok || len(after) == 0 || (after[0] != '"' && after[0] != '\'') {
			return "", errMarkup
		}
		end := bytes.IndexByte(after[1:], after[0])
		if end < 0 {
			return "", errMarkup
		}
		if string(localName(bytes.TrimRight(key, blanks))) == name {
			value, err := unescape(after[1 : end+1])
			return string(value), err
		}
		rest = after[end+2:]
	}
	return "", nil
}

// through reads from an opening to a closing mark and returns what is between.
func (m *markup) through(open, shut string) ([]byte, error) {
	from := len(open)
	for {
		at, err := m.find(from, shut[len(shut)-1])
		if err != nil {
			return nil, err
		}
		if at < 0 {
			return nil, errMarkup
		}
		if all := m.buf[m.pos : m.pos+at+1]; len(all) >= len(open)+len(shut) && bytes.HasSuffix(all, []byte(shut)) {
			m.take(len(all))
			return all[len(open) : len(all)-len(shut)], nil
		}
		from = at + 1
	}
}

// take passes over bytes that are in memory and returns them.
func (m *markup) take(length int) []byte {
	m.pos += length
	return m.buf[m.pos-length : m.pos]
}

// find returns how far the next such byte is, looking from a distance on; -1
// when there is none. What is before it is in memory then.
func (m *markup) find(from int, c byte) (int, error) {
	for {
		if m.pos+from < m.end {
			if at := bytes.IndexByte(m.buf[m.pos+from:m.end], c); at >= 0 {
				return from + at, nil
			}
			from = m.end - m.pos
		}
		if m.done {
			return -1, nil
		}
		if err := m.fill(); err != nil {
			return 0, err
		}
	}
}

// want makes sure that so many bytes are in memory, unless the text ends.
func (m *markup) want(bytes int) error {
	for m.end-m.pos < bytes && !m.done {
		if err := m.fill(); err != nil {
			return err
		}
	}
	return nil
}

// fill reads more. A piece may be as long as the longest text that is read.
func (m *markup) fill() error {
	if m.pos > 0 {
		m.end = copy(m.buf, m.buf[m.pos:m.end])
		m.pos = 0
	}
	if m.end == len(m.buf) {
		if len(m.buf) >= maxToken {
			return refuse("cell_too_large", "a cell of the workbook holds more than %d MB; take its text out and send it again", maxToken>>20)
		}
		m.buf = append(m.buf, make([]byte, len(m.buf))...)
	}
	n, err := m.src.Read(m.buf[m.end:])
	m.end += n
	if errors.Is(err, io.EOF) {
		m.done = true
		return nil
	}
	return err
}

// otherEncoding says whether an XML declaration names an encoding that is not
// read. Workbooks are written in UTF-8.
func otherEncoding(declaration []byte) bool {
	_, named, ok := bytes.Cut(bytes.ToLower(declaration), []byte("encoding"))
	return bytes.HasPrefix(declaration, []byte("xml")) && ok && !bytes.Contains(named, []byte("utf-8")) && !bytes.Contains(named, []byte("ascii"))
}

// unescape writes out entities and makes every line break a line feed.
func unescape(text []byte) ([]byte, error) {
	if bytes.IndexByte(text, '\r') >= 0 {
		text = bytes.ReplaceAll(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	}
	if bytes.IndexByte(text, '&') < 0 {
		return text, nil
	}
	var out []byte
	for {
		at := bytes.IndexByte(text, '&')
		if at < 0 {
			return append(out, text...), nil
		}
		name, rest, ok := bytes.Cut(text[at+1:], []byte(";"))
		letter, known := entity(string(name[:min(len(name), 12)]))
		if !ok || !known {
			return nil, errMarkup
		}
		out, text = utf8.AppendRune(append(out, text[:at]...), letter), rest
	}
}

func entity(name string) (rune, bool) {
	switch name {
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "amp":
		return '&', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	if len(name) < 2 || name[0] != '#' {
		return 0, false
	}
	digits, base := name[1:], 10
	if digits[0] == 'x' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseUint(digits, base, 21)
	return rune(n), err == nil && utf8.ValidRune(rune(n))
}
