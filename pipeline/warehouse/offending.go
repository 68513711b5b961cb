package warehouse

import (
	"context"
	"database/sql"
	"fmt"

	"evenlimb/queries"
)

// OffendingRow is a row of a check.
type OffendingRow struct {
	Subject string // what is concerned, by sender and pseudonym
	Site    string // empty where it belongs to none
	Detail  string // what is odd about it
	Rows    int    // rows concerned
	File    int    // clean.files, 0 when it is about no row
	Line    int
}

// Offending reads the rows of the check of that name, in order of the subject.
func (w *Warehouse) Offending(ctx context.Context, check string) ([]OffendingRow, error) {
	q, ok := queries.Find("checks." + check)
	if !ok {
		return nil, fmt.Errorf("there is no check %q", check)
	}
	return collect(ctx, w.db, func(rows *sql.Rows, r *OffendingRow) error {
		return rows.Scan(&r.Subject, &r.Site, &r.Detail, &r.Rows, &r.File, &r.Line)
	}, "select subject, coalesce(site, ''), detail, rows, coalesce(_file, 0), coalesce(_line, 0) from "+q.Table()+" order by subject")
}
