package intake

import (
	"database/sql/driver"
	"fmt"
	"time"
)

// The findings about rows that are kept, behind the name of their column.
const (
	unusual     = "unusual"       // outside its usual range
	inTheFuture = "in_the_future" // after the day of receipt
	ofMonth     = "month_only"    // a month stands for a day
)

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

// oddity is in what way a row is odd and kept.
type oddity struct{ column, code string }

// note counts a row that is odd. words are asked for once.
func (c *checker) note(o oddity, words func() string) {
	t := c.odd[o]
	if t == nil {
		t = &tally{words: words()}
		c.odd[o] = t
		c.oddities = append(c.oddities, o)
	}
	t.add(c.sent.Line)
}

// noteUnusual counts the values of a good row outside their usual range, dates
// after the day of receipt, and months that stand for days.
func (c *checker) noteUnusual(values []driver.Value) {
	for _, i := range c.watched {
		column := c.columns[i]
		var v int64
		switch n := values[i].(type) {
		case int32:
			v = int64(n) * scale
		case int64:
			v = n
		case time.Time:
			if n.After(c.received) && !column.Ahead {
				c.note(oddity{column.Name, inTheFuture}, func() string { return column.Name + " lies after the day on which the file was received" })
			}
			continue
		default:
			continue
		}
		if !column.warn.holds(v) {
			c.note(oddity{column.Name, unusual}, func() string { return fmt.Sprintf("%s lies outside the usual %s", column.Name, column.warn) })
		}
	}
	if c.made == nil {
		return
	}
	for _, i := range c.made.Months {
		name := c.columns[i].Name
		c.note(oddity{name, ofMonth}, func() string { return name + " names a month and no day; it is taken as the month's first day" })
	}
}
