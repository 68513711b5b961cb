package intake

import (
	"crypto/md5" //nolint:gosec // tells contents apart; nobody gains by making two alike
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/rowcheck"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// The reasons for which a row as a whole is kept out.
const (
	wrongCells    = "wrong_number_of_cells"
	trialMissing  = "trial_missing"
	keyTwiceInRow = "key_twice_in_row"
)

// checker checks the rows of one table of one sheet, one after the other.
type checker struct {
	*shape
	cross    *rowcheck.Checker
	received time.Time
	twins    map[[16]byte]int // rows by key, of those that trial numbers must tell apart
	content  []byte
	ends     []int           // of each column in content
	keyText  strings.Builder // keys of this row and those before it
	*page
	used     chan *page // pages whose rows are stored
	reject   []warehouse.Rejected
	odd      map[oddity]*tally
	oddities []oddity // in the order in which they came

	// The row at hand.
	sent  source.Record // as it was sent
	made  *layout.Row   // what the layout made of it; nil where its cells are the columns
	wrong faults
	bad   []bool   // by column, and row_state behind them: it has its fault
	keys  []string // of the rows that were made of this record
}

func newChecker(l *shape, received time.Time) *checker {
	return &checker{
		shape: l, cross: rowcheck.For(l.table), received: received, odd: map[oddity]*tally{}, bad: make([]bool, len(l.columns)+1),
		page: &page{}, used: make(chan *page, pages),
	}
}

// check puts a record, whose cells are columns, among the rows or the rejected.
func (c *checker) check(rec source.Record) {
	c.sent, c.made = rec, nil
	if reason, words := faultOf(rec, c.width); reason != "" {
		c.wrong = faults{[]string{reason}, []string{words}}
		c.turnAway("")
		return
	}
	c.judge(rec.Cells)
}

// checkMade puts a row that a layout made of a record among the rows or the
// rejected.
func (c *checker) checkMade(rec source.Record, row layout.Row) {
	c.sent, c.made = rec, &row
	c.judge(row.Cells)
}

// faultOf says why a record cannot be read as a row of that many cells.
func faultOf(rec source.Record, width int) (reason, words string) {
	switch {
	case rec.Fault != "":
		return rec.Fault, source.FaultWords(rec.Fault)
	case len(rec.Cells) != width:
		return wrongCells, fmt.Sprintf("the row has %d cells, the headings are %d", len(rec.Cells), width)
	default:
		return "", ""
	}
}

func (c *checker) judge(cells []string) {
	c.wrong = faults{}
	state := ""
	if c.state >= 0 {
		state = cells[c.state]
	}
	switch state {
	case "", export.Current:
		c.current(cells)
	case export.Withdrawn:
		c.withdrawal(cells)
	default:
		c.wrong.add(export.RowState, &fault{unknownCode, fmt.Sprintf("%q is neither %s nor %s", shown(state), export.Current, export.Withdrawn)})
		c.turnAway("")
	}
}

// turnAway rejects the row at hand. The key is that of the row, where it could be
// read.
func (c *checker) turnAway(key string) {
	c.reject = append(c.reject, warehouse.Rejected{
		Line: c.sent.Line, Reasons: c.wrong.reasons, Words: c.wrong.words, Cells: readable(c.sent.Cells), Table: c.table.Name, Key: key,
	})
}

// readable replaces what is not UTF-8.
func readable(cells []string) []string {
	out := make([]string, len(cells))
	for i, text := range cells {
		out[i] = strings.ToValidUTF8(text, "\uFFFD")
	}
	return out
}

// faults gathers what is wrong with one row.
type faults struct{ reasons, words []string }

func (f *faults) add(column string, one *fault) {
	f.reasons = append(f.reasons, column+":"+one.reason)
	f.words = append(f.words, column+": "+one.words)
}

// fault notes what is wrong with a column of the row at hand and, where a layout
// made its text, what that was made of.
func (c *checker) fault(column int, f *fault) {
	if c.bad[column] = true; c.made != nil {
		if origin := c.made.Origin(column, c.sent.Cells); origin != "" {
			f = &fault{f.reason, f.words + " (" + origin + ")"}
		}
	}
	c.wrong.add(c.columns[column].Name, f)
}

// unmade notes what the layout could not make of the record. only, where given,
// are the columns that matter.
func (c *checker) unmade(only []int) {
	for i := range c.bad {
		c.bad[i] = false
	}
	if c.made == nil {
		return
	}
	for _, f := range c.made.Faults {
		if only != nil && !slices.Contains(only, f.Column) {
			continue
		}
		if f.Column >= 0 {
			c.bad[f.Column] = true
		}
		c.wrong.add(f.Name, &fault{f.Reason, f.Words})
	}
	for _, i := range c.made.Unmade {
		if i >= 0 {
			c.bad[i] = true
		}
	}
}

func (c *checker) current(cells []string) {
	values := c.cells(len(c.columns))
	c.unmade(nil)
	c.content, c.ends = c.content[:0], c.ends[:0]
	for i, column := range c.columns {
		text := ""
		if c.cell[i] >= 0 {
			text = cells[c.cell[i]]
		}
		var f *fault
		values[i], c.content, f = column.read(text, c.content)
		if f == nil && text == "" && column.Required {
			f = &fault{requiredEmpty, "the cell must be filled"}
		}
		if f != nil && !c.bad[i] {
			c.fault(i, f)
		}
		c.ends = append(c.ends, len(c.content))
		c.content = append(c.content, 0x1f)
	}
	if c.measures != nil && len(c.wrong.reasons) == 0 {
		if f := c.checkMeasure(values); f != nil {
			c.fault(c.value, f)
		}
	}
	cross := c.cross.Check(values)
	for _, f := range cross {
		if i := c.place(f.Column); f.Reject && !c.bad[i] {
			c.fault(i, &fault{f.Code, f.Words})
		}
	}
	key, missing := c.keyOf(values) // a part that is missing is a required cell, and named above
	if missing != "" || c.keyIsBad(values) {
		key = ""
	}
	if c.trial >= 0 && values[c.trial] == nil && c.twins[md5.Sum([]byte(key))] > 1 { //nolint:gosec // as above
		c.wrong.reasons = append(c.wrong.reasons, trialMissing)
		c.wrong.words = append(c.wrong.words, "several values of one measure, side, day and rater stand in the file and nothing tells them apart; fill in trial or measurement_id")
	}
	c.madeTwice(key)
	if len(c.wrong.reasons) > 0 {
		c.turnAway(key)
		return
	}
	for _, f := range cross {
		c.note(oddity{f.Column, f.Code}, func() string { return f.About })
	}
	c.noteUnusual(values)
	c.rows = append(c.rows, warehouse.Row{Line: c.sent.Line, Key: key, Content: md5.Sum(c.content), Cells: values}) //nolint:gosec // as above
}

// madeTwice notes that a layout makes two rows with one key of one record: one
// of them would be lost.
func (c *checker) madeTwice(key string) {
	if c.made == nil || key == "" {
		return
	}
	if slices.Contains(c.keys, key) {
		c.wrong.reasons = append(c.wrong.reasons, keyTwiceInRow)
		c.wrong.words = append(c.wrong.words, fmt.Sprintf("the layout makes two rows of %s with the same key of this one; let it fill in what tells them apart", c.table.Name))
		return
	}
	c.keys = append(c.keys, key)
}

// keyIsBad says whether a column of the key has its fault.
func (c *checker) keyIsBad(values []driver.Value) bool {
	columns := c.key
	if len(c.fallback) > 0 && values[c.key[0]] == nil && !c.bad[c.key[0]] {
		columns = c.fallback
	}
	return slices.ContainsFunc(columns, func(i int) bool { return c.bad[i] })
}

// withdrawal takes a row that needs no more than its key.
func (c *checker) withdrawal(cells []string) {
	values, key := c.keyCells(cells)
	if c.madeTwice(key); len(c.wrong.reasons) > 0 {
		c.turnAway(key)
		return
	}
	c.rows = append(c.rows, warehouse.Row{Line: c.sent.Line, Key: key, Withdrawn: true, Cells: values})
}

// keyCells reads the columns of the key alone. The key is empty when something
// is wrong with them.
func (c *checker) keyCells(cells []string) (values []driver.Value, key string) {
	values = c.cells(len(c.columns))
	clear(values)
	c.content, c.ends = c.content[:0], c.ends[:0]
	columns := c.key
	if at := c.cell[c.key[0]]; len(c.fallback) > 0 && (at < 0 || cells[at] == "") {
		columns = c.fallback
	}
	c.unmade(columns)
	for i, column := range c.columns {
		if c.cell[i] >= 0 && slices.Contains(columns, i) {
			var f *fault
			values[i], c.content, f = column.read(cells[c.cell[i]], c.content)
			if f != nil && !c.bad[i] {
				c.fault(i, f)
			}
		} else if column.filled != "" {
			c.content = append(c.content, column.filled...)
		}
		c.ends = append(c.ends, len(c.content))
		c.content = append(c.content, 0x1f)
	}
	key, missing := c.keyOf(values)
	if i := c.place(missing); i >= 0 && !c.bad[i] {
		c.fault(i, &fault{requiredEmpty, "the key of the row must be filled"})
	}
	if len(c.wrong.reasons) > 0 {
		key = ""
	}
	return values, key
}

// keyOf makes the landing key of the row whose content was written last: id:
// and its key, or c: and its fallback key where the key is empty. missing names
// the column without which there is none.
func (c *checker) keyOf(values []driver.Value) (key, missing string) {
	columns, prefix := c.key, "id:"
	if len(c.fallback) > 0 && values[c.key[0]] == nil {
		columns, prefix = c.fallback, "c:"
	}
	b := c.keyRoom()
	before := b.Len()
	b.WriteString(prefix)
	for n, i := range columns {
		from := 0
		if i > 0 {
			from = c.ends[i-1] + 1
		}
		part := c.content[from:c.ends[i]]
		if len(part) == 0 && c.columns[i].Required {
			missing = c.columns[i].Name
		}
		if n > 0 {
			b.WriteByte('|')
		}
		for _, letter := range part {
			if letter == '|' || letter == '\\' {
				b.WriteByte('\\')
			}
			b.WriteByte(letter)
		}
	}
	return b.String()[before:], missing
}

// keyRoom is where the next key is written: many share one piece of memory.
func (c *checker) keyRoom() *strings.Builder {
	const piece, longest = 32 << 10, 4 * export.MaxKey
	if c.keyText.Cap()-c.keyText.Len() < longest {
		c.keyText = strings.Builder{}
		c.keyText.Grow(piece)
	}
	return &c.keyText
}

// checkMeasure holds a value against the plausible range of its measure. A
// value in another unit is let through: the check of units names it.
func (c *checker) checkMeasure(values []driver.Value) *fault {
	code, _ := values[c.measure].(string)
	m := c.measures[code]
	if unit, given := values[c.unit].(string); given && unit != m.unit {
		return nil
	}
	v, _ := values[c.value].(int64)
	if m.reject.holds(v) {
		return nil
	}
	return &fault{outOfRange, fmt.Sprintf("%s %s lies outside %s for %s and can only be a slip", number(v), m.unit, m.reject, code)}
}

// countTwin notes the key of a row without one of its own, before the rows are
// checked: two with the same key cannot be told apart unless both have a trial.
func (c *checker) countTwin(cells []string) {
	if c.state >= 0 && cells[c.state] == export.Withdrawn {
		return
	}
	if at := c.cell[c.key[0]]; at >= 0 && cells[at] != "" {
		return
	}
	c.made, c.wrong = nil, faults{}
	if _, key := c.keyCells(cells); key != "" {
		c.twins[md5.Sum([]byte(key))]++ //nolint:gosec // as above
	}
}
