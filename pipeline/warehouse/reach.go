package warehouse

import (
	"context"
	"database/sql"
	"time"
)

// SiteReach is a row of published.site_reach. Dates are midnight UTC, the zero
// time where there is none.
type SiteReach struct {
	Site        string
	DataThrough time.Time
	Stated      bool
	FirstStart  time.Time
}

// SiteReaches reads published.site_reach in order of its key.
func (w *Warehouse) SiteReaches(ctx context.Context) ([]SiteReach, error) {
	return collect(ctx, w.db, func(rows *sql.Rows, s *SiteReach) error {
		var through, first sql.NullTime
		err := rows.Scan(&s.Site, &through, &s.Stated, &first)
		s.DataThrough, s.FirstStart = through.Time, first.Time
		return err
	}, "select site, data_through, stated, first_start from published.site_reach order by site")
}
