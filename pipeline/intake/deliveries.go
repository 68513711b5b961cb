package intake

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// statesDeliveries says whether the headings are those of the side file that
// states for which days a site's rows are complete.
func statesDeliveries(headings []string) bool {
	for _, h := range headings {
		if h != "site" && h != "complete_from" && h != "complete_to" {
			return false
		}
	}
	sorted := slices.Sorted(slices.Values(headings))
	return slices.Contains(headings, "site") && slices.Contains(headings, "complete_to") && len(slices.Compact(sorted)) == len(headings)
}

// loadDeliveries takes in the side file.
func (r *run) loadDeliveries(ctx context.Context, f *file, practice *settings.Practice, load *warehouse.FileLoad) (read int, err error) {
	site := newCellReader(export.Column{Name: "site", Type: export.Code}, codesOf(export.Column{From: "sites"}, practice))
	site.own = map[string]bool{}
	for _, code := range practice.SitesOf(f.planned.Sender) {
		site.own[code] = true
	}
	date := newCellReader(export.Column{Type: export.Date}, nil)
	c := &checker{layout: &layout{width: len(f.headings)}}
	var stated []warehouse.Delivery
	for {
		rec, ok, err := f.reader.Next()
		if err != nil {
			return 0, err
		}
		if !ok {
			break
		}
		read++
		if rec.Fault != "" || len(rec.Cells) != c.width {
			c.check(rec)
			continue
		}
		d := warehouse.Delivery{Line: rec.Line}
		var wrong faults
		for i, name := range f.headings {
			column := date
			if name == "site" {
				column = site
			}
			v, _, one := column.read(rec.Cells[i], nil)
			if one == nil && v == nil && name != "complete_from" {
				one = &fault{requiredEmpty, "the cell must be filled"}
			}
			if one != nil {
				wrong.add(name, one)
				continue
			}
			switch v := v.(type) {
			case string:
				d.Site = v
			case time.Time:
				if name == "complete_to" {
					d.CompleteTo = v
				} else {
					d.CompleteFrom = sql.NullTime{Time: v, Valid: true}
				}
			}
		}
		if len(wrong.reasons) == 0 && d.CompleteFrom.Valid && d.CompleteTo.Before(d.CompleteFrom.Time) {
			wrong.add("complete_to", &fault{outOfRange, "it lies before complete_from"})
		}
		if len(wrong.reasons) > 0 {
			c.turnAway(rec, wrong.reasons, wrong.words)
			continue
		}
		stated = append(stated, d)
	}
	if err := load.Deliver(ctx, stated); err != nil {
		return 0, err
	}
	return read, load.Reject(c.reject)
}
