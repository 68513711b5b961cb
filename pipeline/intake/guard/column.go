package guard

import (
	"strings"

	"evenlimb/pipeline/export"
)

// form is how the cells of a column are looked at.
type form int

const (
	asUnknown form = iota // a heading that is none of ours
	asNumber
	asDate
	asBoolean
	asCode
	asReps
	asKey
	asText
)

// column is what the guard knows of one column.
type column struct {
	form      form
	plainly   memo // texts that were found plain
	index     int
	heading   string
	folded    []string
	canonical bool // a heading of an export table
	own       bool // a column that the program itself wrote into a file that came back
	allowed   bool
	things    bool            // the heading says that its cells name things, not persons
	ages      bool            // the heading says that its cells are ages
	seen      map[string]bool // texts that were looked at and passed
	years     *years
	sample    sample
	long      sample // long texts
	longs     int    // how many there were, repeats among them
}

// ownColumns stand first in the files under quarantine/, which may come back.
var ownColumns = map[string]bool{"_line": true, "_reasons": true, "_words": true}

// canonical are the columns of all export tables and of the side files, by
// heading.
var canonical = func() map[string]form {
	forms := map[string]form{export.RowState: asCode, "complete_from": asDate, "complete_to": asDate, "table": asCode, "old_key": asKey, "new_key": asKey}
	for _, t := range export.Tables() {
		for _, c := range t.Columns {
			forms[c.Name] = formOf(c.Type)
			if day, ok := strings.CutSuffix(c.Name, "_date"); ok {
				forms[day+"_day"] = asNumber
			}
		}
	}
	return forms
}()

func formOf(t export.Type) form {
	switch t {
	case export.Integer, export.Decimal:
		return asNumber
	case export.Date:
		return asDate
	case export.Boolean:
		return asBoolean
	case export.Code, export.CodeSet:
		return asCode
	case export.Reps:
		return asReps
	case export.Key:
		return asKey
	default:
		return asText
	}
}

func newColumn(index int, heading string) column {
	c := column{index: index, heading: heading, folded: fold(heading), own: ownColumns[heading]}
	c.form, c.canonical = canonical[heading]
	c.ages = namesAges(c.folded)
	c.things = c.form == asCode || (!c.canonical && namesThings(c.folded))
	if !c.canonical && namesKeys(c.folded) {
		c.form = asKey
	}
	return c
}

// Classes of bytes.
const (
	digit byte = 1 << iota
	lower
	upper
	joint // - _ . : / that join the parts of a key
	other
)

var class = func() (table [256]byte) {
	for i := range table {
		switch c := byte(i); {
		case c >= '0' && c <= '9':
			table[i] = digit
		case c >= 'a' && c <= 'z':
			table[i] = lower
		case c >= 'A' && c <= 'Z':
			table[i] = upper
		case c == '-' || c == '_':
			table[i] = joint
		default:
			table[i] = other
		}
	}
	return table
}()

func classes(text string) (mask byte) {
	for i := range len(text) {
		mask |= class[text[i]]
	}
	return mask
}

// memo remembers a few texts, each in a place of its own length and letters.
type memo [16]string

func (m *memo) slot(text string) *string {
	n := len(text)
	return &m[(n+int(text[0])*3+int(text[n-1])*5+int(text[n/2]))%len(m)]
}

// longestPlain is how many digits a number may have that nobody looks at: the
// shortest numbers of persons have nine.
const longestPlain = 8

// plain says, at the cost of one look at its bytes, that a cell is what its
// column has and can hold no identifier.
func (c *column) plain(line int, text string) bool {
	switch c.form {
	case asNumber:
		return plainNumber(text) && !c.ages
	case asDate:
		return c.plainDate(line, text)
	case asBoolean:
		return text == "true" || text == "false"
	case asCode:
		return *c.plainly.slot(text) == text || c.plainCode(text)
	case asReps:
		return *c.plainly.slot(text) == text || c.plainReps(text)
	case asKey:
		return c.plainKey(line, text)
	case asText:
		return *c.plainly.slot(text) == text
	default:
		return c.own || (plainNumber(text) && !c.ages)
	}
}

var numeric = [256]bool{'0': true, '1': true, '2': true, '3': true, '4': true, '5': true, '6': true, '7': true, '8': true, '9': true, '.': true, '-': true}

func plainNumber(text string) bool {
	if len(text) > longestPlain {
		return false
	}
	for i := range len(text) {
		if !numeric[text[i]] {
			return false
		}
	}
	return true
}

func (c *column) plainCode(text string) bool {
	for i := range len(text) {
		if b := text[i]; b-'a' > 'z'-'a' && b != '_' && b-'0' > 9 && b != ';' {
			return false
		}
	}
	if c.ages || len(text) > longText {
		return false
	}
	*c.plainly.slot(text) = strings.Clone(text) // the text itself would keep its row
	return true
}

// plainDate counts an ISO date by its year.
func (c *column) plainDate(line int, text string) bool {
	if len(text) != 10 || text[4] != '-' || text[7] != '-' {
		return false
	}
	year := 0
	for i := range 4 {
		d := text[i] - '0'
		if d > 9 {
			return false
		}
		year = year*10 + int(d)
	}
	if text[5]-'0' > 1 || text[6]-'0' > 9 || text[8]-'0' > 3 || text[9]-'0' > 9 {
		return false
	}
	c.countYear(year, line)
	return true
}

// plainKey says that a key has letters and digits and nothing else, which is
// the shape of a pseudonym. The first different ones are kept to be judged
// together.
func (c *column) plainKey(line int, text string) bool {
	if !c.sample.full() {
		c.sample.add(line, text)
	}
	if *c.plainly.slot(text) == text {
		return true
	}
	switch mask, words := keyParts(text); {
	case mask&other != 0:
		return false
	case words >= 2:
		return false // it may be a name
	case mask&(lower|upper) == 0:
		return len(text) <= longestPlain
	default:
		return mask&(lower|joint) != 0 || len(text) < shortestUpper
	}
}

// keyParts returns the classes of a key's letters, and how many words of three
// letters or more stand in it.
func keyParts(text string) (mask byte, words int) {
	run := 0
	for i := range len(text) {
		is := class[text[i]]
		mask |= is
		if is&(lower|upper) == 0 {
			run = 0
		} else if run++; run == 3 {
			words++
		}
	}
	return mask, words
}

// shortestUpper is the length from which capitals and digits alone may be a
// number of an account or a licence.
const shortestUpper = 15

// plainReps says whether a text is digits and slashes, as repetitions are.
func (c *column) plainReps(text string) bool {
	if len(text) >= 48 || strings.Trim(text, "0123456789/") != "" {
		return false
	}
	*c.plainly.slot(text) = strings.Clone(text)
	return true
}

// mostSeen is how many different texts of a column are remembered.
const mostSeen = 4096

// look is the second, slower look at a cell.
func (g *Guard) look(c *column, line int, text string) {
	if len(text) > longText && isLong(text) {
		c.longs++
		c.long.add(line, text)
	}
	if year := yearOf(text); year > 0 && !c.ages {
		c.countYear(year, line)
		return
	}
	if c.seen[text] {
		return
	}
	if kind := c.kindOf(text); kind != "" {
		g.suspect(c, line, kind)
		return
	}
	c.sample.add(line, text)
	if c.seen == nil {
		c.seen = map[string]bool{}
	}
	if len(c.seen) < mostSeen {
		c.seen[strings.Clone(text)] = true
	}
	if len(text) <= longText { // long ones are counted again and again
		*c.plainly.slot(text) = strings.Clone(text)
	}
}

func (c *column) kindOf(text string) Kind {
	if c.ages {
		if overEightyNine(text) {
			return Age
		}
		return ""
	}
	return valueKind(text, place{things: c.things, key: c.form == asKey})
}
