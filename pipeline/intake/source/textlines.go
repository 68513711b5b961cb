package source

import (
	"bytes"
	"errors"
	"io"
)

// textLines reads a text line by line and counts the lines as a text editor
// does. A line feed ends a line, a carriage return before it belongs to it.
type textLines struct {
	src   io.Reader
	buf   []byte
	start int // of what is not read yet
	end   int // of what is filled
	line  int // physical line at start
	at    int // physical line that nextLine returned last
	from  int // where that line begins
	done  bool

	stretch   string // what the buffer holds from stretchAt on, as text
	stretchAt int
}

// MaxRow is how many bytes a row may have: a longer one is no row of an export
// table.
const MaxRow = 64 << 10

const (
	readBytes = 256 << 10 // how much is asked of the source at once
	keptBytes = 200       // how much is kept of a row that is too long

	stretchBytes = 16 << 10 // how much is made text at once
)

func newTextLines(src io.Reader) textLines {
	return textLines{src: src, buf: make([]byte, readBytes+2*MaxRow), line: 1}
}

// begin passes over a byte order mark and as many lines.
func (t *textLines) begin(skip int) error {
	if err := t.fill(); err != nil {
		return err
	}
	if bytes.HasPrefix(t.buf[t.start:t.end], bomUTF8) {
		t.start += len(bomUTF8)
	}
	for range skip {
		if err := t.ensure(); err != nil {
			return err
		}
		if _, _, err := t.takeLine(); err != nil {
			return err
		}
	}
	return nil
}

// nextLine returns the next line that is not empty, without its end, and all
// that is in memory from there on; no line at the end of the text. Of a line
// longer than any row it returns the beginning. What it returns holds until the
// next call.
func (t *textLines) nextLine() (line, rest []byte, long bool, err error) {
	for {
		if err := t.ensure(); err != nil {
			return nil, nil, false, err
		}
		if t.start == t.end {
			return nil, nil, false, nil
		}
		t.at, t.from, rest = t.line, t.start, t.buf[t.start:t.end]
		line, long, err = t.takeLine()
		if err != nil || long {
			return line, nil, long, err
		}
		if line = bytes.TrimSuffix(line, []byte("\r")); len(line) > 0 {
			return line, rest, false, nil
		}
	}
}

// reach makes the line that was returned last longer: it reaches that many
// bytes from its beginning to its line feed.
func (t *textLines) reach(length int) {
	t.start = min(t.from+length+1, t.end)
	t.line = t.at + 1 + bytes.Count(t.buf[t.from:t.from+length], []byte("\n"))
}

// text is as many bytes of the line that was returned last, as a text. Lines are
// cut out of longer stretches, since a text of its own for each would cost more
// than to find its end; who keeps a part of it for long makes a copy.
func (t *textLines) text(length int) string {
	at := t.from - t.stretchAt
	if at < 0 || at+length > len(t.stretch) {
		t.stretch, t.stretchAt, at = string(t.buf[t.from:min(t.from+max(length, stretchBytes), t.end)]), t.from, 0
	}
	return t.stretch[at : at+length]
}

// takeLine passes over one line, which is all in memory unless it is too long.
func (t *textLines) takeLine() (line []byte, long bool, err error) {
	rest := t.buf[t.start:t.end]
	length := bytes.IndexByte(rest, '\n')
	if length < 0 && len(rest) <= MaxRow {
		length = len(rest) // the last line has no line feed
	}
	t.line++
	if length >= 0 && length <= MaxRow {
		t.start = min(t.start+length+1, t.end)
		return rest[:length], false, nil
	}
	kept := append(bytes.Clone(rest[:keptBytes]), "..."...)
	for length < 0 {
		t.start = t.end
		if t.done {
			return kept, true, nil
		}
		if err := t.fill(); err != nil {
			return nil, false, err
		}
		length = bytes.IndexByte(t.buf[t.start:t.end], '\n')
	}
	t.start += length + 1
	return kept, true, nil
}

// ensure makes sure that a whole row is in memory, unless the text ends before.
func (t *textLines) ensure() error {
	if t.end-t.start > MaxRow {
		return nil
	}
	return t.fill()
}

// fill moves what is left to the front and reads until the buffer is full or
// the source is at its end.
func (t *textLines) fill() error {
	if t.done {
		return nil
	}
	t.stretch = ""
	copy(t.buf, t.buf[t.start:t.end])
	t.end -= t.start
	t.start = 0
	for t.end < len(t.buf) {
		n, err := t.src.Read(t.buf[t.end:])
		t.end += n
		if errors.Is(err, io.EOF) {
			t.done = true
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}
