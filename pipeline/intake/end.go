package intake

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// completes says whether what the file does not hold is withdrawn. A file that
// comes back from quarantine holds a few rows of a delivery, not all.
func (l *loader) completes() bool {
	by := l.file.form.layout
	return by != nil && by.Delivery.Kind == settings.Complete && !l.file.form.returned
}

// end does what a file means beyond its rows: what a complete delivery leaves
// out, for which days it speaks, and whether made keys have moved.
func (l *loader) end(ctx context.Context, tables []export.Table) error {
	by := l.file.form.layout
	if by == nil {
		return nil
	}
	to, _ := by.Delivery.Reaches(l.by.received)
	if l.completes() {
		scope := warehouse.Scope{Site: by.Delivery.Site, From: by.Delivery.From, To: to, Brake: float64(by.Delivery.BrakePercent) / 100}
		for _, t := range tables {
			if _, err := l.load.Gone(ctx, t, scope); err != nil {
				return err
			}
		}
	}
	if by.Delivery.SpeaksForAll && !to.IsZero() && !l.file.form.returned && l.file.planned.Mode != warehouse.Again {
		from := sql.NullTime{Time: by.Delivery.From, Valid: !by.Delivery.From.IsZero()}
		if err := l.load.State(ctx, warehouse.Delivery{Site: by.Delivery.Site, CompleteFrom: from, CompleteTo: to}); err != nil {
			return err
		}
	}
	for _, t := range tables {
		keys, from := layout.MadeKeys(by, t)
		if len(keys) == 0 {
			continue
		}
		if err := l.moved(ctx, t, keys, from); err != nil {
			return err
		}
	}
	return nil
}

// moved looks for rows whose made key has moved: a cell that it is made of was
// corrected at the sender, so the row stands in the store a second time.
func (l *loader) moved(ctx context.Context, t export.Table, keys, from []string) error {
	moved, err := l.load.MovedKeys(ctx, t, keys, l.completes(), from)
	if err != nil || moved.Count == 0 {
		return err
	}
	words := fmt.Sprintf("%s, made from %s, is new, and yet a row with the same cells stood under another key", strings.Join(keys, ", "), strings.Join(from, ", "))
	if l.completes() {
		words += "; the old row is withdrawn, since the delivery no longer holds it"
	} else {
		words += "; when a cell that the key is made of was corrected, withdraw the old row"
	}
	l.odd = append(l.odd, warehouse.FileFinding{Code: t.Name + ":made_keys_moved", Count: moved.Count, Lines: moved.Lines, Words: words})
	return nil
}

// findings lists what is odd about the rows that were kept, in fixed order.
func (l *loader) findings() []warehouse.FileFinding {
	var list []warehouse.FileFinding
	if l.twice.count > 0 {
		list = append(list, warehouse.FileFinding{Code: keyTwice, Count: l.twice.count, Lines: l.twice.lines, Words: "the key of the row stands in the file before; the later line holds"})
	}
	for _, s := range l.sheets {
		list = append(list, s.unread()...)
		for _, c := range s.checkers {
			list = append(list, c.findings()...)
		}
	}
	for _, column := range l.file.planned.Allowed {
		list = append(list, warehouse.FileFinding{Code: "guard_allowed", Count: 1, Words: column + " was let through as the settings allow"})
	}
	return append(list, l.odd...)
}

// unread names what a layout does not read of a sheet.
func (s *sheetReader) unread() []warehouse.FileFinding {
	switch {
	case s.nothing():
		return []warehouse.FileFinding{{Code: "sheet_passed_over", Count: 1, Words: fmt.Sprintf("no rows are made of the sheet %q; name the sheets that are to be read in the layout", shown(s.name))}}
	case s.mapping == nil || len(s.mapping.NotRead) == 0:
		return nil
	}
	var list []string
	for _, h := range s.mapping.NotRead {
		item := strconv.Quote(shown(h))
		if near := settings.Near(h, s.mapping.Spellings()); near != "" {
			item += fmt.Sprintf(" (is it %q?)", near)
		}
		list = append(list, item)
	}
	return []warehouse.FileFinding{{Code: "heading_not_read", Count: len(list), Words: "the layout neither reads nor ignores " + few(list) + "; add the spelling to a column, or the heading to ignore"}}
}

// findings are those of one table, by column.
func (c *checker) findings() []warehouse.FileFinding {
	var list []warehouse.FileFinding
	slices.SortStableFunc(c.oddities, func(a, b oddity) int { return c.place(a.column) - c.place(b.column) })
	for _, o := range c.oddities {
		t := c.odd[o]
		list = append(list, warehouse.FileFinding{Code: o.column + ":" + o.code, Count: t.count, Lines: t.lines, Words: t.words})
	}
	return list
}
