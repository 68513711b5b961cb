package practice

import (
	"slices"
	"strings"
)

// standing is what a desk has on record of the tables that it sends whole.
type standing map[int]*stack

// stack are the rows of one table by their keys, in the order in which the keys
// came first.
type stack struct {
	keys []string
	line map[string][]byte // nil for one that was taken back
}

// whole makes the sheet of a night's changes into one of all rows that stand
// after them. A row that cannot be read goes out once, in its own night. What
// is taken back is no longer there: its items are found in the counts of the
// file, and are returned.
func (m *mail) whole(st standing, table int, changes *sheet) (all *sheet, gone []int) {
	on := st[table]
	if on == nil {
		on = &stack{line: map[string][]byte{}}
		st[table] = on
	}
	all = &sheet{planted: map[int][]int{}}
	noted := map[string][]int{}
	var broken []int
	for i, line := range changes.lines {
		items := changes.planted[i]
		key := keyText(table, line)
		switch {
		case hasState(line, table):
			on.line[key] = nil
			for _, item := range items {
				m.p.planted[item].By = countGone
			}
			gone = append(gone, items...)
			continue
		case slices.ContainsFunc(items, func(item int) bool { return m.p.planted[item].Where == InQuarantine }):
			broken = append(broken, i)
			continue
		}
		if _, known := on.line[key]; !known {
			on.keys = append(on.keys, key)
		}
		on.line[key] = line
		noted[key] = append(noted[key], items...)
	}
	for _, key := range on.keys {
		line := on.line[key]
		if line == nil {
			continue
		}
		if items := noted[key]; len(items) > 0 {
			all.planted[len(all.lines)] = items
		}
		all.lines = append(all.lines, line)
	}
	for _, i := range broken {
		all.planted[len(all.lines)] = changes.planted[i]
		all.lines = append(all.lines, changes.lines[i])
	}
	return all, gone
}

// keyText is the key of a row.
func keyText(table int, line []byte) string {
	t := tableOf(table)
	texts := cellsOf(line)
	columns := t.Key
	if len(t.FallbackKey) > 0 && texts[column(table, columns[0])] == "" {
		columns = t.FallbackKey
	}
	var parts []string
	for _, name := range columns {
		parts = append(parts, texts[column(table, name)])
	}
	return strings.Join(parts, "|")
}
