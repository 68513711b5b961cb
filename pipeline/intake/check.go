package intake

import (
	"crypto/md5" //nolint:gosec // tells contents apart; nobody gains by making two alike
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// The reasons for which a row as a whole is kept out.
const (
	wrongCells   = "wrong_number_of_cells"
	trialMissing = "trial_missing"
)

// checker checks the rows of one file, one after the other.
type checker struct {
	*layout
	twins   map[[16]byte]int // rows by key, of those that trial numbers must tell apart
	content []byte
	ends    []int // of each column in content
	rows    []warehouse.Row
	reject  []warehouse.Rejected
	unusual map[string]*tally // by column
}

// tally counts rows and keeps the first few lines.
type tally struct {
	count int
	lines []int
	words string
}

const keptLines = 20

func (t *tally) add(line int) {
	t.count++
	if len(t.lines) < keptLines {
		t.lines = append(t.lines, line)
	}
}

func newChecker(l *layout) *checker {
	return &checker{layout: l, unusual: map[string]*tally{}}
}

// check puts a record among the rows or the rejected.
func (c *checker) check(rec source.Record) {
	if rec.Fault != "" {
		c.turnAway(rec, []string{rec.Fault}, []string{rowFaults[rec.Fault]})
		return
	}
	if len(rec.Cells) != c.width {
		c.turnAway(rec, []string{wrongCells}, []string{fmt.Sprintf("the row has %d cells, the headings are %d", len(rec.Cells), c.width)})
		return
	}
	state := ""
	if c.state >= 0 {
		state = rec.Cells[c.state]
	}
	switch state {
	case "", export.Current:
		c.current(rec)
	case export.Withdrawn:
		c.withdrawal(rec)
	default:
		c.turnAway(rec, []string{export.RowState + ":" + unknownCode},
			[]string{fmt.Sprintf("%s: %q is neither %s nor %s", export.RowState, shown(state), export.Current, export.Withdrawn)})
	}
}

var rowFaults = map[string]string{
	source.FaultQuotes: "the quotes of the row do not close where a cell ends; a quote inside a cell is written twice",
	source.FaultLong:   fmt.Sprintf("the row is longer than %d bytes", source.MaxRow),
}

func (c *checker) turnAway(rec source.Record, reasons, words []string) {
	cells := make([]string, len(rec.Cells))
	for i, text := range rec.Cells {
		cells[i] = strings.ToValidUTF8(text, "\uFFFD")
	}
	c.reject = append(c.reject, warehouse.Rejected{Line: rec.Line, Reasons: reasons, Words: words, Cells: cells})
}

// faults gathers what is wrong with one row.
type faults struct{ reasons, words []string }

func (f *faults) add(column string, one *fault) {
	f.reasons = append(f.reasons, column+":"+one.reason)
	f.words = append(f.words, column+": "+one.words)
}

func (c *checker) current(rec source.Record) {
	values := make([]driver.Value, len(c.columns))
	var wrong faults
	c.content, c.ends = c.content[:0], c.ends[:0]
	for i, column := range c.columns {
		text := ""
		if c.cell[i] >= 0 {
			text = rec.Cells[c.cell[i]]
		}
		var f *fault
		values[i], c.content, f = column.read(text, c.content)
		if f == nil && text == "" && column.Required {
			f = &fault{requiredEmpty, "the cell must be filled"}
		}
		if f != nil {
			wrong.add(column.Name, f)
		}
		c.ends = append(c.ends, len(c.content))
		c.content = append(c.content, 0x1f)
	}
	if c.measures != nil && len(wrong.reasons) == 0 {
		if f := c.checkMeasure(values); f != nil {
			wrong.add("value", f)
		}
	}
	key, _ := c.keyOf(values)                                                        // a part that is missing is a required cell, and named above
	if c.trial >= 0 && values[c.trial] == nil && c.twins[md5.Sum([]byte(key))] > 1 { //nolint:gosec // as above
		wrong.reasons = append(wrong.reasons, trialMissing)
		wrong.words = append(wrong.words, "several values of one measure, side, day and rater stand in the file and nothing tells them apart; fill in trial or measurement_id")
	}
	if len(wrong.reasons) > 0 {
		c.turnAway(rec, wrong.reasons, wrong.words)
		return
	}
	c.noteUnusual(rec.Line, values)
	c.rows = append(c.rows, warehouse.Row{Line: rec.Line, Key: key, Content: md5.Sum(c.content), Cells: values}) //nolint:gosec // as above
}

// withdrawal takes a row that needs no more than its key.
func (c *checker) withdrawal(rec source.Record) {
	values, key, wrong := c.keyCells(rec)
	if len(wrong.reasons) > 0 {
		c.turnAway(rec, wrong.reasons, wrong.words)
		return
	}
	c.rows = append(c.rows, warehouse.Row{Line: rec.Line, Key: key, Withdrawn: true, Cells: values})
}

// keyCells reads the columns of the key alone.
func (c *checker) keyCells(rec source.Record) (values []driver.Value, key string, wrong faults) {
	values = make([]driver.Value, len(c.columns))
	c.content, c.ends = c.content[:0], c.ends[:0]
	columns := c.key
	if at := c.cell[c.key[0]]; len(c.fallback) > 0 && (at < 0 || rec.Cells[at] == "") {
		columns = c.fallback
	}
	for i, column := range c.columns {
		if c.cell[i] >= 0 && slices.Contains(columns, i) {
			var f *fault
			values[i], c.content, f = column.read(rec.Cells[c.cell[i]], c.content)
			if f != nil {
				wrong.add(column.Name, f)
			}
		} else if column.filled != "" {
			c.content = append(c.content, column.filled...)
		}
		c.ends = append(c.ends, len(c.content))
		c.content = append(c.content, 0x1f)
	}
	key, missing := c.keyOf(values)
	if missing != "" {
		wrong.add(missing, &fault{requiredEmpty, "the key of the row must be filled"})
	}
	return values, key, wrong
}

// keyOf makes the landing key of the row whose content was written last: id:
// and its key, or c: and its fallback key where the key is empty. missing names
// the column without which there is none.
func (c *checker) keyOf(values []driver.Value) (key, missing string) {
	columns, prefix := c.key, "id:"
	if len(c.fallback) > 0 && values[c.key[0]] == nil {
		columns, prefix = c.fallback, "c:"
	}
	var b strings.Builder
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
	return b.String(), missing
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

// noteUnusual counts the values of a good row outside their usual range.
func (c *checker) noteUnusual(line int, values []driver.Value) {
	for i, column := range c.columns {
		if !column.warn.set || values[i] == nil {
			continue
		}
		var v int64
		switch n := values[i].(type) {
		case int32:
			v = int64(n) * scale
		case int64:
			v = n
		}
		if column.warn.holds(v) {
			continue
		}
		t := c.unusual[column.Name]
		if t == nil {
			t = &tally{words: fmt.Sprintf("%s lies outside the usual %s", column.Name, column.warn)}
			c.unusual[column.Name] = t
		}
		t.add(line)
	}
}

// countTwin notes the key of a row without one of its own, before the rows are
// checked: two with the same key cannot be told apart unless both have a trial.
func (c *checker) countTwin(rec source.Record) {
	if rec.Fault != "" || len(rec.Cells) != c.width || (c.state >= 0 && rec.Cells[c.state] == export.Withdrawn) {
		return
	}
	if at := c.cell[c.key[0]]; at >= 0 && rec.Cells[at] != "" {
		return
	}
	if _, key, wrong := c.keyCells(rec); len(wrong.reasons) == 0 {
		c.twins[md5.Sum([]byte(key))]++ //nolint:gosec // as above
	}
}
