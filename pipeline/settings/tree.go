package settings

import (
	"bytes"
	"errors"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// position is a place in a file: line and character, from 1.
type position struct{ line, column int }

// value is one value of a settings file with the place where it stands. Of
// table, list and scalar one is set: scalar holds a string, int64, float64,
// bool or one of the date types of the library.
type value struct {
	at     position
	table  *table
	list   []*value
	scalar any
}

// maxBytes is more than any settings file needs.
const maxBytes = 1 << 20

// table holds its entries in the order of the file.
type table struct {
	at      position
	entries []*entry
}

type entry struct {
	name  string
	at    position
	value *value
}

func (t *table) find(name string) *entry {
	for _, e := range t.entries {
		if e.name == name {
			return e
		}
	}
	return nil
}

// readTree parses the text. What the library finds wrong, it finds one at a
// time: then that one problem is noted and no tree returned.
func readTree(text []byte, found *Problems) *table {
	if len(text) > maxBytes {
		found.add(position{1, 1}, "the file is larger than %d bytes; settings are not", maxBytes)
		return nil
	}
	var ignored map[string]any
	if err := toml.Unmarshal(text, &ignored); err != nil {
		at := position{1, 1}
		var decode *toml.DecodeError
		if errors.As(err, &decode) {
			at.line, at.column = decode.Position()
		}
		found.add(at, "not readable as TOML: %s", strings.TrimPrefix(err.Error(), "toml: "))
		return nil
	}
	r := treeReader{root: &table{at: position{1, 1}}}
	r.parser.Reset(text)
	current := r.root
	for r.parser.NextExpression() {
		e := r.parser.Expression()
		switch e.Kind {
		case unstable.Table:
			current = r.descend(r.root, e.Key(), false)
		case unstable.ArrayTable:
			current = r.descend(r.root, e.Key(), true)
		case unstable.KeyValue:
			r.keyValue(current, e)
		default: // a remark
		}
	}
	return r.root
}

// treeReader walks the library's syntax tree, which alone knows places. The
// text has been found valid before, so no case here can be an error.
type treeReader struct {
	parser unstable.Parser
	root   *table
}

func (r *treeReader) place(raw unstable.Range) position {
	before := r.parser.Data()[:raw.Offset]
	start := bytes.LastIndexByte(before, '\n') + 1
	return position{bytes.Count(before, []byte("\n")) + 1, utf8.RuneCount(before[start:]) + 1}
}

// descend follows a key to a table and makes what is not there yet; with
// another it appends one more table to the list at its end.
func (r *treeReader) descend(t *table, key unstable.Iterator, another bool) *table {
	for key.Next() {
		name, at := string(key.Node().Data), r.place(key.Node().Raw)
		e := t.find(name)
		last := key.IsLast()
		switch {
		case e == nil && last && another:
			e = &entry{name: name, at: at, value: &value{at: at, list: []*value{{at: at, table: &table{at: at}}}}}
			t.entries = append(t.entries, e)
		case e == nil:
			e = &entry{name: name, at: at, value: &value{at: at, table: &table{at: at}}}
			t.entries = append(t.entries, e)
		case last && another:
			e.value.list = append(e.value.list, &value{at: at, table: &table{at: at}})
		}
		if e.value.table != nil {
			t = e.value.table
		} else {
			t = e.value.list[len(e.value.list)-1].table
		}
	}
	return t
}

func (r *treeReader) keyValue(t *table, e *unstable.Node) {
	var names []*unstable.Node
	for key := e.Key(); key.Next(); {
		names = append(names, key.Node())
	}
	for _, n := range names[:len(names)-1] {
		name, at := string(n.Data), r.place(n.Raw)
		next := t.find(name)
		if next == nil {
			next = &entry{name: name, at: at, value: &value{at: at, table: &table{at: at}}}
			t.entries = append(t.entries, next)
		}
		t = next.value.table
	}
	last := names[len(names)-1]
	at := r.place(last.Raw)
	t.entries = append(t.entries, &entry{name: string(last.Data), at: at, value: r.value(e.Value(), at)})
}

// value reads a value; at is the place of its key, for values that the library
// gives no place.
func (r *treeReader) value(n *unstable.Node, at position) *value {
	if n.Raw.Length > 0 {
		at = r.place(n.Raw)
	}
	v := &value{at: at}
	switch n.Kind {
	case unstable.Array:
		v.list = []*value{}
		for child := n.Children(); child.Next(); {
			if child.Node().Kind != unstable.Comment {
				v.list = append(v.list, r.value(child.Node(), at))
			}
		}
	case unstable.InlineTable:
		v.table = &table{at: at}
		for child := n.Children(); child.Next(); {
			if child.Node().Kind == unstable.KeyValue {
				r.keyValue(v.table, child.Node())
			}
		}
	case unstable.String:
		v.scalar = string(n.Data)
	default:
		var one map[string]any
		if err := toml.Unmarshal(append([]byte("v = "), n.Data...), &one); err == nil {
			v.scalar = one["v"]
		}
	}
	return v
}
