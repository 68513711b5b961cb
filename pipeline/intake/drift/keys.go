package drift

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// When the keys of a sender count as all changed: nearly all new ones have shapes
// that it never sent; or the episodes that its rows belong to, most of them known
// on other nights, are nearly all unknown; or its new episodes are, but for the
// key, those it had sent before. By chance alone none of the three happens: where
// half of the keys are known on other nights, none of twenty is once in a million.
const (
	keysLeast    = 20   // keys or rows
	shapesNew    = 0.95 // share with shapes never sent
	parentsKnown = 0.5  // share of parents known on other nights
	parentsNow   = 0.02 // and now
	twinsNow     = 0.5  // share of new episodes that are known but for the key
	twinsBefore  = 0.05 // and on other nights
)

// keys judges whether all keys of a column were exchanged.
func (h *history) keys() []Finding {
	var found []Finding
	tell := func(column, why string) {
		if why == "" || slices.ContainsFunc(found, func(f Finding) bool { return f.Column == column }) {
			return
		}
		found = append(found, h.finding(column, KeysChanged, h.now.rows(), why+fmt.Sprintf(
			". Rows under new keys would count persons twice: drop a file rekey.csv with the headings table,old_key,new_key into inbox/%s, which says which key of %s took the place of which",
			h.sender, KeysOf(h.table, column))))
	}
	shapes := shapesOf(h.now)
	for _, column := range slices.Sorted(maps.Keys(shapes)) {
		tell(column, h.newShapes(column, shapes[column]))
	}
	tell("episode_id", h.unknownParents())
	tell("episode_id", h.twins())
	return found
}

// KeysOf returns the table, or people, whose keys stand in a column of a table.
func KeysOf(table, column string) string {
	switch column {
	case "episode_id", "recurrence_of":
		return "episodes"
	case "session_id":
		return "sessions"
	case "person_id":
		return "people"
	default:
		return table
	}
}

func (h *history) newShapes(column string, now map[string]int) string {
	total, unseen := 0, 0
	known := map[string]bool{}
	for _, s := range h.past {
		for shape := range shapesOf(s)[column] {
			known[shape] = true
		}
	}
	for shape, n := range now {
		total += n
		if !known[shape] {
			unseen += n
		}
	}
	if len(known) == 0 || total < keysLeast || float64(unseen) < shapesNew*float64(total) {
		return ""
	}
	return fmt.Sprintf("%d of the %d new values of %s are written unlike any before", unseen, total, column)
}

// shapesOf counts rows by column and shape of the key.
func shapesOf(s sent) map[string]map[string]int {
	all := map[string]map[string]int{}
	for at, p := range s.of {
		if shape, ok := strings.CutPrefix(at.part, Shape); ok {
			if all[at.column] == nil {
				all[at.column] = map[string]int{}
			}
			all[at.column][shape] += p.Filled
		}
	}
	return all
}

func (h *history) unknownParents() string {
	for at, now := range h.now.of {
		if at.part != Known || now.Rows < keysLeast {
			continue
		}
		var nights, known, keys int
		for i, s := range h.past {
			if p := s.of[at]; i > 0 && p.Rows > 0 { // on the first, nothing was known yet
				nights, known, keys = nights+1, known+p.Filled, keys+p.Rows
			}
		}
		if nights >= 2 && keys >= keysLeast && float64(known) >= parentsKnown*float64(keys) && float64(now.Filled) <= parentsNow*float64(now.Rows) {
			return fmt.Sprintf("%d of the %d episodes that the new rows of %s belong to were never heard of, where %d in 100 were known before",
				now.Rows-now.Filled, now.Rows, h.table, 100*known/keys)
		}
	}
	return ""
}

func (h *history) twins() string {
	at := place{"", Twins}
	now := h.now.of[at]
	if now.Rows < keysLeast || float64(now.Filled) < twinsNow*float64(now.Rows) {
		return ""
	}
	var twins, rows int
	for _, s := range h.past {
		twins, rows = twins+s.of[at].Filled, rows+s.of[at].Rows
	}
	if float64(twins) > twinsBefore*float64(rows) {
		return ""
	}
	return fmt.Sprintf("%d of the %d new rows of %s stand already in the store under another key", now.Filled, now.Rows, h.table)
}
