package publish

import (
	"context"
	"fmt"
	"slices"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// Released is one report of the register with the figures of one picture.
type Released struct {
	Entry   warehouse.Publication
	Month   time.Time
	Figures []warehouse.PublishedFigure
}

// Figure returns the figure of that id.
func (r *Released) Figure(id string) (warehouse.PublishedFigure, bool) {
	i := slices.IndexFunc(r.Figures, func(f warehouse.PublishedFigure) bool { return f.ID == id })
	if i < 0 {
		return warehouse.PublishedFigure{}, false
	}
	return r.Figures[i], true
}

// Find returns the newest release that holds figures of a picture, of the month
// where one is given; nil when there is none.
func Find(ctx context.Context, dir folder.Dir, engine warehouse.Engine, picture string, month time.Time) (found *Released, err error) {
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		entries, err := l.Publications(ctx, 0)
		if err != nil {
			return err
		}
		for _, e := range slices.Backward(entries) {
			if !month.IsZero() && e.Period != month.Format(periodForm) {
				continue
			}
			r := &Released{Entry: e}
			if r.Month, err = time.Parse(periodForm, e.Period); err != nil {
				return fmt.Errorf("publication %d: %w", e.Number, err)
			}
			all, err := l.FiguresOf(ctx, e.Number)
			if err != nil {
				return err
			}
			for _, f := range all {
				if (result.Figure{ID: f.ID}).Picture() == picture {
					r.Figures = append(r.Figures, f)
				}
			}
			if len(r.Figures) > 0 {
				found = r
				return nil
			}
		}
		return nil
	})
	return found, err
}
