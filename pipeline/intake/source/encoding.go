package source

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

var (
	bomUTF8    = []byte("\xef\xbb\xbf")
	bomUTF16LE = []byte("\xff\xfe")
	bomUTF16BE = []byte("\xfe\xff")
)

// decoded returns a text in UTF-8. What is no letter in its encoding comes out
// as the replacement character.
func decoded(src io.Reader, encoding string) io.Reader {
	switch encoding {
	case UTF16LE:
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder().Reader(src)
	case UTF16BE:
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder().Reader(src)
	case Windows1252:
		return charmap.Windows1252.NewDecoder().Reader(src)
	default:
		return src
	}
}

// encodingOf tells the encoding of a text. UTF-16 shows in its first bytes. For
// the rest all of the text counts: UTF-8 unless the lines that cannot be UTF-8
// outnumber those with letters that can, so that a damaged line does not change
// how every other is read. A line that is no text in either has no vote.
func encodingOf(head []byte, rest io.Reader) (string, error) {
	switch {
	case bytes.HasPrefix(head, bomUTF8):
		return UTF8, nil
	case bytes.HasPrefix(head, bomUTF16LE):
		return UTF16LE, nil
	case bytes.HasPrefix(head, bomUTF16BE):
		return UTF16BE, nil
	}
	if wide := wideEncoding(head); wide != "" {
		return wide, nil
	}
	var tally letters
	tally.count(head)
	buf := make([]byte, 256<<10)
	for {
		n, err := rest.Read(buf[tally.hold(buf):])
		tally.count(buf[:tally.held+n])
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return "", err
		}
	}
	tally.isBroken = tally.isBroken || tally.held > 0
	if tally.endLine(); tally.broken > tally.whole {
		return Windows1252, nil
	}
	return UTF8, nil
}

// wideEncoding recognises UTF-16 without a mark: headings are mostly ASCII, so
// every other byte is zero.
func wideEncoding(head []byte) string {
	head = head[:min(len(head), 512)&^1]
	var zeros [2]int
	for i, c := range head {
		if c == 0 {
			zeros[i&1]++
		}
	}
	switch most := len(head) * 3 / 8; {
	case len(head) < 4 || zeros[0]+zeros[1] == 0:
		return ""
	case zeros[1] > most && zeros[0] == 0:
		return UTF16LE
	case zeros[0] > most && zeros[1] == 0:
		return UTF16BE
	default:
		return ""
	}
}

// letters counts the lines of a text that have letters longer than a byte.
type letters struct {
	whole    int // lines with letters of UTF-8 alone
	broken   int // lines with bytes that cannot be UTF-8
	hasWhole bool
	isBroken bool
	rubbish  bool // the line is no text in Windows-1252 either
	held     int  // bytes at the end of the last stretch that may begin a letter
	tail     [utf8.UTFMax]byte
}

func (l *letters) endLine() {
	switch {
	case l.isBroken && !l.rubbish:
		l.broken++
	case l.hasWhole && !l.isBroken:
		l.whole++
	}
	l.hasWhole, l.isBroken, l.rubbish = false, false, false
}

// hold puts the bytes that were held back at the front of the next stretch.
func (l *letters) hold(buf []byte) int { return copy(buf, l.tail[:l.held]) }

func (l *letters) count(text []byte) {
	l.held = 0
	for len(text) > 0 {
		plain := asciiPrefix(text)
		if l.hasWhole || l.isBroken {
			line, _, ends := bytes.Cut(text[:plain], []byte("\n"))
			l.rubbish = l.rubbish || bytes.ContainsFunc(line, hidden)
			if ends {
				l.endLine()
			}
		}
		text = text[plain:]
		if len(text) == 0 {
			return
		}
		if !utf8.FullRune(text) {
			l.held = copy(l.tail[:], text)
			return
		}
		r, size := utf8.DecodeRune(text)
		if r == utf8.RuneError && size == 1 {
			l.isBroken = true
			l.rubbish = l.rubbish || charmap.Windows1252.DecodeByte(text[0]) == utf8.RuneError
		} else {
			l.hasWhole = true
		}
		text = text[size:]
	}
}

// asciiPrefix returns how many bytes from the front are ASCII.
func asciiPrefix(text []byte) int {
	i := 0
	for ; i+8 <= len(text); i += 8 {
		eight := binary.LittleEndian.Uint64(text[i:])
		if eight&0x8080808080808080 != 0 {
			break
		}
	}
	for i < len(text) && text[i] < utf8.RuneSelf {
		i++
	}
	return i
}
