package layout

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/settings"
)

// Candidates returns the layouts that may hold for a file of a sender, by its
// path below the sender's folder and its day of receipt, the newest first.
func Candidates(all []*settings.Layout, sender, below string, received time.Time) []*settings.Layout {
	var list []*settings.Layout
	for _, l := range all {
		if l.Sender == sender && !l.From.After(received) && matches(l.File.Match, below) {
			list = append(list, l)
		}
	}
	slices.SortStableFunc(list, func(a, b *settings.Layout) int {
		return cmp.Or(b.From.Compare(a.From), cmp.Compare(a.Path, b.Path))
	})
	return list
}

func matches(patterns []string, name string) bool {
	return len(patterns) == 0 || slices.ContainsFunc(patterns, func(p string) bool {
		return wildcard(strings.ToLower(p), strings.ToLower(name))
	})
}

// wildcard says whether a name is like a pattern in which * stands for anything.
func wildcard(pattern, name string) bool {
	pieces := strings.Split(pattern, "*")
	last := len(pieces) - 1
	rest, ok := strings.CutPrefix(name, pieces[0])
	if !ok || last == 0 {
		return ok && rest == ""
	}
	for _, piece := range pieces[1:last] {
		at := strings.Index(rest, piece)
		if at < 0 {
			return false
		}
		rest = rest[at+len(piece):]
	}
	return strings.HasSuffix(rest, pieces[last])
}

// Sheet is what is known of a sheet before its records are read. Files that are
// no workbooks have one without a name.
type Sheet struct {
	Name     string
	Headings []string
}

// Fit binds a layout to the sheets of a file: a mapping for each, nil for one of
// which nothing is made. It fits when it fits a sheet and none is broken.
func Fit(l *settings.Layout, sheets []Sheet) ([]*Mapping, *Misfit) {
	mappings := make([]*Mapping, len(sheets))
	fits := false
	var nearest *Misfit
	for i, s := range sheets {
		m, misfit := New(l, s.Name, s.Headings)
		switch mappings[i] = m; {
		case m != nil:
			fits = true
		case misfit.Broken:
			return nil, misfit
		case nearest == nil || len(misfit.Missing) < len(nearest.Missing):
			nearest = misfit
		}
	}
	if !fits {
		return nil, nearest
	}
	return mappings, nil
}

// Words says why the layout does not fit, with the nearest headings that are
// there and the next step.
func (m *Misfit) Words() string {
	words := fmt.Sprintf("the layout %s, version %s, does not fit it", m.Layout.Path, m.Layout.Version)
	if len(m.Twice) > 0 {
		words += ": a heading stands twice: " + few(quoted(m.Twice))
	}
	if len(m.Missing) > 0 {
		var list []string
		for _, a := range m.Missing {
			item := fmt.Sprintf("%s for %s of %s", strings.Join(quoted(a.Headings), " or "), a.Column, a.Table)
			for _, h := range a.Headings {
				if near := settings.Near(h, m.headings); near != "" {
					item += fmt.Sprintf(" (is it %q?)", near)
					break
				}
			}
			list = append(list, item)
		}
		words += ": there is no heading " + few(list)
	}
	return words + "; add the new spellings to the layout, or a new version of it with its from"
}

func quoted(list []string) []string {
	out := make([]string, len(list))
	for i, text := range list {
		out[i] = strconv.Quote(Shown(text))
	}
	return out
}

// few joins a list and cuts it short.
func few(list []string) string {
	const most = 6
	if len(list) > most {
		return strings.Join(list[:most], ", ") + fmt.Sprintf(" and %d more", len(list)-most)
	}
	return strings.Join(list, ", ")
}
