package intake

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/source"
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

// deliveries takes in a sheet of statements.
func (l *loader) deliveries(ctx context.Context, s *sheetReader, reader source.Reader) error {
	site := newCellReader(export.Column{Name: "site", Type: export.Code}, codesOf(export.Column{From: "sites"}, l.by.practice))
	site.own = map[string]bool{}
	for _, code := range l.by.practice.SitesOf(l.file.planned.Sender) {
		site.own[code] = true
	}
	date := newCellReader(export.Column{Type: export.Date}, nil)
	var stated []warehouse.Delivery
	var reject []warehouse.Rejected
	err := each(ctx, reader, func(rec source.Record) {
		rec = s.sent(rec)
		l.read++
		var wrong faults
		d := warehouse.Delivery{Line: rec.Line}
		if reason, words := faultOf(rec, s.width); reason != "" {
			wrong = faults{[]string{reason}, []string{words}}
		} else {
			wrong = readDelivery(&d, s.headings, rec.Cells, site, date)
		}
		if len(wrong.reasons) > 0 {
			reject = append(reject, warehouse.Rejected{Line: rec.Line, Reasons: wrong.reasons, Words: wrong.words, Cells: readable(rec.Cells), Table: warehouse.DeliveriesTable})
			return
		}
		stated = append(stated, d)
	})
	if err != nil {
		return err
	}
	if err := l.load.Deliver(ctx, stated); err != nil {
		return err
	}
	return l.load.Reject(reject)
}

// readDelivery reads the cells of one statement.
func readDelivery(d *warehouse.Delivery, headings, cells []string, site, date *cellReader) (wrong faults) {
	for i, name := range headings {
		column := date
		if name == "site" {
			column = site
		}
		v, _, one := column.read(cells[i], nil)
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
	return wrong
}
