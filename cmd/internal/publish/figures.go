package publish

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/monthly"
)

// Listing is every figure of a published report, as its readers saw it.
type Listing struct {
	Entry   warehouse.Publication
	Month   time.Time
	Figures []monthly.Listed
}

// Figures reads the newest published report, of the month where one is given;
// nil when there is none. It reads the report's own list of figures and refuses
// one that is no longer what was published.
func Figures(ctx context.Context, dir folder.Dir, engine warehouse.Engine, month time.Time) (*Listing, error) {
	var newest *Listing
	err := assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		entries, err := l.Publications(ctx, 0)
		if err != nil {
			return err
		}
		for _, e := range entries {
			of, err := time.Parse(periodForm, e.Period)
			if err != nil {
				return fmt.Errorf("publication %d: %w", e.Number, err)
			}
			if e.Report != monthlyReport || (!month.IsZero() && !of.Equal(month)) || (newest != nil && of.Before(newest.Month)) {
				continue
			}
			newest = &Listing{Entry: e, Month: of}
		}
		return nil
	})
	if err != nil || newest == nil {
		return nil, err
	}
	path := filepath.Join(string(dir), filepath.FromSlash(newest.Entry.Folder), monthly.FiguresFile)
	data, err := os.ReadFile(path) //nolint:gosec // a file of the practice folder
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, fmt.Errorf("%s is missing; run `evenlimb nightly`, which puts back what was published", path)
	case err != nil:
		return nil, fmt.Errorf("read what was published: %w", err)
	}
	i := slices.IndexFunc(newest.Entry.Files, func(f warehouse.PublishedFile) bool { return f.Name == monthly.FiguresFile })
	if i < 0 || digest(data) != newest.Entry.Files[i].SHA256 {
		return nil, fmt.Errorf("%s is not what was published; delete it and run `evenlimb nightly`, which puts it back", path)
	}
	newest.Figures, err = monthly.ReadFigures(data)
	return newest, err
}
