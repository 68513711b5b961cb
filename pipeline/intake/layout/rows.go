package layout

import (
	"crypto/md5" //nolint:gosec // tells rows apart; nobody gains by making two alike
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Pass is one reading of a sheet from its first record to its last. It remembers
// what has gone before: numbers within a group, rows that count once, and the
// starts of the episodes that it has made.
type Pass struct {
	*Mapping
	numbers []map[string]int          // by table, how many rows a group has
	seen    []map[[md5.Size]byte]bool // by table, the rows that count once
	starts  map[string]time.Time      // by episode
	rows    []Row
}

// Begin begins a reading.
func (m *Mapping) Begin() *Pass {
	p := &Pass{Mapping: m, starts: map[string]time.Time{}}
	for range m.tables {
		p.numbers = append(p.numbers, map[string]int{})
		p.seen = append(p.seen, map[[md5.Size]byte]bool{})
	}
	return p
}

// Rows turns a record into rows; none when the layout passes it over. cells are
// as many as there are headings. The rows hold until the next call.
func (p *Pass) Rows(cells []string) []Row {
	p.rows = p.rows[:0]
	for _, w := range p.notWhere {
		if w.holds(cells) {
			return nil
		}
	}
	for i := range p.tables {
		t := &p.tables[i]
		if slices.ContainsFunc(t.onlyWhen, func(w where) bool { return !w.holds(cells) }) {
			continue
		}
		for j := range t.makers {
			p.make(t, &t.makers[j], cells)
		}
	}
	return p.rows
}

// make makes the rows of one maker.
func (p *Pass) make(t *table, m *maker, cells []string) {
	if m.wide >= 0 && m.columns[m.wide].cell.empty(cells) {
		return
	}
	count, uneven := m.count(cells)
	for n := range count {
		row := p.row(t, m, cells, n)
		if uneven != nil {
			row.fault(uneven, &fault{PartsUneven, "which holds another number of values than a cell beside it; correct the cells so that they go together"}, cells)
		}
		if t.distinct && len(row.Faults) == 0 {
			sum := md5.Sum([]byte(strings.Join(row.Cells, "\x1f"))) //nolint:gosec // as above
			if p.seen[t.index][sum] {
				continue
			}
			p.seen[t.index][sum] = true
		}
		p.rows = append(p.rows, row)
	}
}

// count says how many rows a record stands for, and names a column whose cell
// does not go with the others.
func (m *maker) count(cells []string) (count int, uneven *column) {
	for i := range m.columns {
		c := &m.columns[i]
		switch n := c.cell.parts(cells); {
		case n == 0:
		case count == 0:
			count = n
		case count != n:
			return 1, c
		}
	}
	return max(count, 1), nil
}

// row fills one row in the order in which columns may depend on each other:
// cells and constants, days and units, made keys, numbers.
func (p *Pass) row(t *table, m *maker, cells []string, n int) Row {
	row := Row{Table: t.index, Cells: make([]string, len(t.def.Columns)+1), maker: m}
	values := make([]string, len(m.columns))
	units := make([]string, 0, 4)
	set := func(i int, text string) {
		if values[i] = text; m.columns[i].index >= 0 {
			row.Cells[m.columns[i].index] = text
		}
	}
	for i := range m.columns {
		c := &m.columns[i]
		if c.cell.at < 0 {
			set(i, c.spec.Constant)
			continue
		}
		r := c.cell.read(cells[c.cell.at], n)
		if r.fault != nil {
			row.fault(c, r.fault, cells)
		}
		if r.month && c.index >= 0 {
			row.Months = append(row.Months, c.index)
		}
		if r.unit != "" {
			units = append(units, c.name, r.unit)
		}
		set(i, r.text)
	}
	for i := range m.columns {
		c := &m.columns[i]
		if values[i] == "" || c.cell.at < 0 {
			continue
		}
		var text string
		var f *fault
		if c.spec.Cell.DaysAfter != "" {
			text, f = p.dayAfter(m, c, values[i], values)
		} else {
			stated := ""
			if at := slices.Index(units, c.name); at >= 0 {
				stated = units[at+1]
			}
			text, f = m.convert(c, values[i], stated, values, &row)
		}
		if f != nil {
			row.fault(c, f, cells)
		}
		if text != values[i] {
			set(i, text)
		}
	}
	for i := range m.columns {
		c := &m.columns[i]
		if len(c.madeFrom) == 0 {
			continue
		}
		set(i, made(c, values))
		if slices.ContainsFunc(row.Faults, func(f Fault) bool { return slices.Contains(c.spec.MadeFrom, f.Name) }) {
			row.Unmade = append(row.Unmade, c.index)
		}
	}
	for i := range m.columns {
		if c := &m.columns[i]; len(c.within) > 0 {
			set(i, strconv.Itoa(p.number(t, c, values)))
		}
	}
	if m.start >= 0 && m.episode >= 0 {
		if day, err := time.Parse(time.DateOnly, values[m.start]); err == nil {
			p.starts[values[m.episode]] = day
		}
	}
	return row
}

func (r *Row) fault(c *column, f *fault, cells []string) {
	r.Faults = append(r.Faults, Fault{c.index, c.name, f.reason, under(c.cell, cells) + ", " + f.words})
}

// under says where a cell stands and what it holds.
func under(c *cell, cells []string) string {
	return fmt.Sprintf("under %q stands %q", c.heading, Shown(cells[c.at]))
}

// Shown is a cell as a message may show it.
func Shown(text string) string {
	if len(text) > 40 {
		return strings.ToValidUTF8(text[:40], "?") + "..."
	}
	return strings.ToValidUTF8(text, "?")
}

// made joins the parts of a key. It is empty when one of them is.
func made(c *column, values []string) string {
	parts := make([]string, len(c.madeFrom))
	for n, i := range c.madeFrom {
		if parts[n] = values[i]; parts[n] == "" {
			return ""
		}
	}
	return strings.Join(parts, c.spec.Join)
}

// number counts the rows of a group.
func (p *Pass) number(t *table, c *column, values []string) int {
	group := c.name
	for _, i := range c.within {
		group += "\x1f" + values[i]
	}
	p.numbers[t.index][group]++
	return p.numbers[t.index][group]
}

// Origin says, for a message about a column, where in the record its text came
// from.
func (r Row) Origin(index int, cells []string) string {
	for i := range r.maker.columns {
		c := &r.maker.columns[i]
		switch {
		case c.index != index:
		case c.spec.Constant != "":
			return "a constant of the layout"
		case len(c.madeFrom) > 0:
			return "made from " + strings.Join(c.spec.MadeFrom, ", ")
		case len(c.within) > 0:
			return "numbered within " + strings.Join(c.spec.NumberWithin, ", ")
		case c.cell.at >= 0:
			return under(c.cell, cells)
		}
	}
	return ""
}
