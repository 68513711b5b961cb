// Package drift notices when what a sender sends changes by itself: a column
// that empties, a unit that becomes another, one value in nearly every row, a
// heading that was renamed, keys that were all exchanged. It knows profiles, which
// say of a column how many rows it has and what they were like, and holds those
// of a batch against those of the same sender's batches before.
//
// Nothing here is wrong by itself: a finding asks a person to look. How rarely
// chance alone makes one is said at chance.
package drift

import (
	"cmp"
	"maps"
	"slices"
)

// Profile says what one column of the rows that a sender sent for a table in one
// batch was like, or one part of it.
//
// Part is empty for a column as a whole. It is a code for the share of that code,
// a measure for the values of that measure, and one of the parts that begin with
// @ for what is told of keys. Column is empty in the one profile that counts the
// rows of a table.
type Profile struct {
	Batch       int
	Sender      string
	Table       string
	Column      string
	Part        string
	Rows        int     // of which the others are counted
	Filled      int     // rows with a value, with the code, with the shape
	Measured    bool    // the quartiles are known
	Low         float64 // quartiles of numbers
	Middle      float64
	High        float64
	Common      string // the commonest value; empty where none is told
	CommonCount int
}

// The parts that tell of keys.
const (
	Shape = "@shape " // and the shape: rows whose key has it, digits as 9 and letters as a
	Known = "@known"  // keys of the parent among Rows different ones that an earlier batch brought
	Twins = "@twins"  // rows whose every fact but the key stands in a row of an earlier batch
)

// Header is the headings of one file.
type Header struct {
	Batch    int
	Sender   string
	Table    string
	Headings []string
}

// The codes of findings.
const (
	FillFalls   = "fill_falls"
	UnitJumps   = "unit_jumps"
	ValueJumps  = "value_jumps"
	ShareMoves  = "share_moves"
	NewCode     = "new_code"
	OneValue    = "one_value"
	NewHeading  = "new_heading"
	HeadingGone = "heading_gone"
	KeysChanged = "keys_changed"
)

// Finding is something that moved.
type Finding struct {
	Sender string
	Table  string
	Column string // or the heading, or the column of the keys
	Code   string
	Rows   int    // rows of the batch it is about
	Words  string // a sentence without its full stop, with what to do
}

// Judge holds the profiles and headings of one batch against those of earlier
// ones, of any senders and tables, and returns what moved, by sender, table,
// column and code.
func Judge(now, past []Profile, headers, pastHeaders []Header) []Finding {
	var found []Finding
	for _, h := range histories(now, past) {
		found = append(found, h.judge()...)
	}
	found = append(found, judgeHeadings(headers, pastHeaders)...)
	slices.SortFunc(found, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Sender, b.Sender), cmp.Compare(a.Table, b.Table), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Words, b.Words))
	})
	return found
}

// history is what one sender sent for one table: now, and in each of the batches
// before, oldest first.
type history struct {
	sender, table string
	now           sent
	past          []sent
}

// sent are the profiles of one batch by column and part.
type sent struct {
	batch int
	of    map[place]Profile
}

type place struct{ column, part string }

func (s sent) rows() int { return s.of[place{}].Rows }

// longest is how many earlier batches are looked at: what a site did long ago
// is no measure of what it does now.
const longest = 12

func histories(now, past []Profile) []*history {
	type of struct{ sender, table string }
	all := map[of]*history{}
	var order []of
	for _, p := range now {
		key := of{p.Sender, p.Table}
		if all[key] == nil {
			all[key] = &history{sender: p.Sender, table: p.Table, now: sent{p.Batch, map[place]Profile{}}}
			order = append(order, key)
		}
		all[key].now.of[place{p.Column, p.Part}] = p
	}
	sorted := slices.Clone(past)
	slices.SortStableFunc(sorted, func(a, b Profile) int { return cmp.Compare(a.Batch, b.Batch) })
	for _, p := range sorted {
		h := all[of{p.Sender, p.Table}]
		if h == nil || p.Batch >= h.now.batch {
			continue
		}
		if n := len(h.past); n == 0 || h.past[n-1].batch != p.Batch {
			h.past = append(h.past, sent{p.Batch, map[place]Profile{}})
		}
		h.past[len(h.past)-1].of[place{p.Column, p.Part}] = p
	}
	var list []*history
	for _, key := range order {
		h := all[key]
		h.past = h.past[max(0, len(h.past)-longest):]
		list = append(list, h)
	}
	return list
}

func (h *history) judge() []Finding {
	if len(h.past) == 0 {
		return nil // the first batch is what later ones are held against
	}
	if found := h.keys(); len(found) > 0 {
		return found // until that is answered the rest says little
	}
	var found []Finding
	for _, at := range slices.SortedFunc(maps.Keys(h.now.of), func(a, b place) int {
		return cmp.Or(cmp.Compare(a.column, b.column), cmp.Compare(a.part, b.part))
	}) {
		p := h.now.of[at]
		switch {
		case at.column == "":
		case at.part == "":
			found = append(found, h.whole(p)...)
		case p.Measured:
			found = append(found, h.values(p)...)
		default:
			found = append(found, h.code(p)...)
		}
	}
	return append(found, h.gone()...)
}

func (h *history) finding(column, code string, rows int, words string) Finding {
	return Finding{h.sender, h.table, column, code, rows, words}
}
