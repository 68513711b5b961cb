package practice

import (
	"bytes"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"
)

// cells writes the cells of one row in the order of the table's columns. Every
// method writes exactly one cell.
type cells struct {
	buf   []byte
	fresh bool // no cell yet in this row
	rng   *rand.Rand
	clean bool // nothing goes missing
	mute  bool // dice fall as ever, and nothing is written
}

func (c *cells) row() { c.fresh = true }

func (c *cells) sep() {
	if c.mute {
		return
	}
	if c.fresh {
		c.fresh = false
		return
	}
	c.buf = append(c.buf, ',')
}

func (c *cells) empty() { c.sep() }

func (c *cells) empties(n int) {
	for range n {
		c.sep()
	}
}

func (c *cells) text(s string) {
	c.sep()
	if c.mute {
		return
	}
	if strings.ContainsAny(s, "\",\n\r") {
		c.buf = append(c.buf, '"')
		c.buf = append(c.buf, strings.ReplaceAll(s, `"`, `""`)...)
		c.buf = append(c.buf, '"')
		return
	}
	c.buf = append(c.buf, s...)
}

func (c *cells) whole(n int) {
	c.sep()
	if !c.mute {
		c.buf = strconv.AppendInt(c.buf, int64(n), 10)
	}
}

// decimal writes a number with places decimals at most, without trailing zeros.
func (c *cells) decimal(v float64, places int) {
	c.sep()
	if !c.mute {
		c.buf = appendDecimal(c.buf, v, places)
	}
}

func appendDecimal(buf []byte, v float64, places int) []byte {
	from := len(buf)
	buf = strconv.AppendFloat(buf, v, 'f', places, 64)
	if places > 0 {
		text := bytes.TrimRight(buf[from:], "0")
		text = bytes.TrimSuffix(text, []byte("."))
		buf = buf[:from+len(text)]
	}
	if string(buf[from:]) == "-0" {
		buf = append(buf[:from], '0')
	}
	return buf
}

func (c *cells) date(d day) {
	c.sep()
	if !c.mute {
		c.buf = d.time().AppendFormat(c.buf, time.DateOnly)
	}
}

func (c *cells) yes(v bool) {
	c.sep()
	if !c.mute {
		c.buf = strconv.AppendBool(c.buf, v)
	}
}

// missing says whether the next cell goes unrecorded, at the stated rate.
func (c *cells) missing(rate float64) bool {
	return c.rng.Float64() < rate && !c.clean
}

// The same cells, unrecorded at a stated rate.

func (c *cells) textOr(rate float64, s string) {
	if c.missing(rate) {
		s = ""
	}
	c.text(s)
}

func (c *cells) wholeOr(rate float64, n int) {
	if c.missing(rate) {
		c.empty()
		return
	}
	c.whole(n)
}

func (c *cells) decimalOr(rate float64, v float64, places int) {
	if c.missing(rate) {
		c.empty()
		return
	}
	c.decimal(v, places)
}

func (c *cells) dateOr(rate float64, d day) {
	if c.missing(rate) {
		c.empty()
		return
	}
	c.date(d)
}

func (c *cells) yesOr(rate float64, v bool) {
	if c.missing(rate) {
		c.empty()
		return
	}
	c.yes(v)
}
