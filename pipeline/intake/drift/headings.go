package drift

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// steadyBatches is in how many earlier batches a heading must have stood, every
// time, for its absence to be told.
const steadyBatches = 2

// headingsOf are the headings of one sender's files of one table.
type headingsOf struct {
	now     []string
	batches int
	past    map[string]int // batches in which each stood
	order   []string       // the same, in order of appearance
}

func judgeHeadings(now, past []Header) []Finding {
	type of struct{ sender, table, layout string }
	all := map[of]*headingsOf{}
	var order []of
	for _, h := range now {
		key := of{h.Sender, h.Table, h.Layout}
		if all[key] == nil {
			all[key] = &headingsOf{past: map[string]int{}}
			order = append(order, key)
		}
		for _, name := range h.Headings {
			if !slices.Contains(all[key].now, name) {
				all[key].now = append(all[key].now, name)
			}
		}
	}
	type once struct {
		of
		batch int
		name  string
	}
	counted := map[once]bool{}
	for _, h := range past {
		key := of{h.Sender, h.Table, h.Layout}
		own := all[key]
		if own == nil {
			continue
		}
		if mark := (once{key, h.Batch, ""}); !counted[mark] {
			counted[mark] = true
			own.batches++
		}
		for _, name := range h.Headings {
			if mark := (once{key, h.Batch, name}); name != "" && !counted[mark] {
				counted[mark] = true
				if own.past[name]++; own.past[name] == 1 {
					own.order = append(own.order, name)
				}
			}
		}
	}
	var found []Finding
	for _, key := range order {
		found = append(found, all[key].judge(key.sender, key.table)...)
	}
	return found
}

func (h *headingsOf) judge(sender, table string) []Finding {
	if h.batches == 0 {
		return nil
	}
	gone, fresh := h.gone(), h.fresh(table)
	var found []Finding
	for _, name := range fresh {
		words := fmt.Sprintf("the heading %q is new", name)
		near := settings.Near(name, gone)
		if len(gone) == 1 && len(fresh) == 1 {
			near = gone[0]
		}
		if near != "" {
			words += fmt.Sprintf("; %q, which stood before, is gone: if they are the same, write both spellings into the layout", near)
		} else {
			words += "; add it to the layout if it is wanted"
		}
		found = append(found, Finding{sender, table, name, NewHeading, 0, words})
	}
	for _, name := range gone {
		found = append(found, Finding{sender, table, name, HeadingGone, 0, fmt.Sprintf("the heading %q, which stood in every earlier file, is gone; ask whether the export still has it", name)})
	}
	return found
}

// fresh are the headings that stood in no earlier file and that only a layout can
// make sense of.
func (h *headingsOf) fresh(table string) []string {
	return slices.DeleteFunc(slices.Clone(h.now), func(name string) bool {
		return name == "" || h.past[name] > 0 || ours(table, name)
	})
}

// ours says whether a heading is a column of the table, which needs no layout.
func ours(table, name string) bool {
	t, _ := export.Find(table)
	_, known := t.Column(name)
	return known || name == export.RowState
}

// gone are the headings that stood in every earlier batch and not now.
func (h *headingsOf) gone() []string {
	var names []string
	for _, name := range h.order {
		if name != export.RowState && h.batches >= steadyBatches && h.past[name] == h.batches && !slices.Contains(h.now, name) {
			names = append(names, name)
		}
	}
	return names
}
