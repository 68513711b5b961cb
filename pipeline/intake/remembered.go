package intake

import (
	"database/sql/driver"
	"strings"
)

// Most columns say the same few hundred things over and over. What was read once
// and had no fault is not read again.

// numbersSaid holds short numbers of a column, each in the one place that its
// digits lead to, where the last one that came stays.
type numbersSaid [1 << numbersBits]struct {
	text  uint64
	value driver.Value
}

const numbersBits = 9

// packedText is a text of up to seven bytes as a number that no other text has; 0 for
// a longer one.
func packedText(text string) uint64 {
	if len(text) > 7 {
		return 0
	}
	n := uint64(len(text)) << 56
	for i := range len(text) {
		n |= uint64(text[i]) << (8 * i)
	}
	return n
}

func placeOf(text uint64) uint64 { return text * 0x9e3779b97f4a7c15 >> (64 - numbersBits) }

// textsSaid holds texts of a column, of which it takes no more than so many.
type textsSaid map[string]driver.Value

const mostTexts = 1 << 16

// keep remembers what a text means. The text itself would keep the stretch of the
// file that it was cut out of.
func (t textsSaid) keep(text string, v driver.Value) driver.Value {
	text = strings.Clone(text)
	if _, same := v.(string); same {
		v = text
	}
	if len(t) < mostTexts {
		t[text] = v
	}
	return v
}
