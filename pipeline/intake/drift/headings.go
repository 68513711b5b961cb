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

// alikeShare is the share of headings, of all that stand in either of two files,
// that they must have in common to be of the same system. One sender may have
// several, and not each of them sends every night.
const alikeShare = 0.5

// headingsOf are the headings of one system's files of one table.
type headingsOf struct {
	sender, table string
	now           []string
	batches       []int          // in which it sent before
	past          map[string]int // batches in which each heading stood
	order         []string       // the same, in order of appearance
}

func judgeHeadings(now, past []Header) []Finding {
	var systems []*headingsOf
	for _, h := range now {
		at := slices.IndexFunc(systems, func(s *headingsOf) bool { return s.sends(h) })
		if at < 0 {
			at = len(systems)
			systems = append(systems, &headingsOf{sender: h.Sender, table: h.Table, past: map[string]int{}})
		}
		systems[at].now = joined(systems[at].now, h.Headings)
	}
	for _, s := range systems {
		s.remember(past)
	}
	var found []Finding
	for _, s := range systems {
		found = append(found, s.judge()...)
	}
	return found
}

// sends says whether a file is one of the system's.
func (h *headingsOf) sends(file Header) bool {
	if file.Sender != h.sender || file.Table != h.table {
		return false
	}
	all := len(joined(h.now, file.Headings))
	common := len(h.now) + len(joined(nil, file.Headings)) - all
	return float64(common) >= alikeShare*float64(all)
}

// joined adds to a list the headings that it lacks.
func joined(list, more []string) []string {
	list = slices.Clone(list)
	for _, name := range more {
		if name != "" && !slices.Contains(list, name) {
			list = append(list, name)
		}
	}
	return list
}

// remember counts, of the files before that are the system's, in how many
// batches each heading stood.
func (h *headingsOf) remember(past []Header) {
	byBatch := map[int][]string{}
	for _, file := range past {
		if !h.sends(file) {
			continue
		}
		if !slices.Contains(h.batches, file.Batch) {
			h.batches = append(h.batches, file.Batch)
		}
		byBatch[file.Batch] = joined(byBatch[file.Batch], file.Headings)
	}
	for _, batch := range h.batches {
		for _, name := range byBatch[batch] {
			if h.past[name]++; h.past[name] == 1 {
				h.order = append(h.order, name)
			}
		}
	}
}

func (h *headingsOf) judge() []Finding {
	if len(h.batches) == 0 {
		return nil
	}
	gone, fresh := h.gone(), h.fresh()
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
		found = append(found, Finding{h.sender, h.table, name, NewHeading, 0, words})
	}
	for _, name := range gone {
		found = append(found, Finding{h.sender, h.table, name, HeadingGone, 0, fmt.Sprintf("the heading %q, which stood in every earlier file, is gone; ask whether the export still has it", name)})
	}
	return found
}

// fresh are the headings that stood in no earlier file and that only a layout can
// make sense of.
func (h *headingsOf) fresh() []string {
	return slices.DeleteFunc(slices.Clone(h.now), func(name string) bool {
		return h.past[name] > 0 || ours(h.table, name)
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
		if name != export.RowState && len(h.batches) >= steadyBatches && h.past[name] == len(h.batches) && !slices.Contains(h.now, name) {
			names = append(names, name)
		}
	}
	return names
}
