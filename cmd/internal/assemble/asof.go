// Package assemble puts the stages together: a warehouse as of one batch, and
// from it the figures of one month and what reports say around them. The same
// code serves the night, a report made again, and whoever asks in between.
package assemble

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// AsOf is the practice as it was known in one batch.
type AsOf struct {
	Batch     warehouse.Batch
	Practice  *settings.Practice // the settings of that batch
	Files     []warehouse.FileRecord
	Warehouse *warehouse.Warehouse

	odd     map[int][]warehouse.FileFinding // about the rows of the files
	kept    map[time.Time]result.Set        // figures known, by the month's first day
	reach   []warehouse.SiteReach           // how far the data of each site reach, once read
	making  *warehouse.Making               // the warehouse while it is built
	scratch string                          // a folder to take away with it; empty when the warehouse stays
}

// Steps is told how far a build is.
type Steps func(what string, done, of int)

// Make begins a warehouse of a batch at path. It can be asked at once: what has
// not been made yet is waited for. It ends with Finish or GiveUp.
func Make(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, path string, steps Steps) (*AsOf, error) {
	a, err := read(ctx, dir, engine, batch)
	if err != nil {
		return nil, err
	}
	a.making, err = warehouse.Make(ctx, warehouse.BuildInput{
		Landing: dir.Landing(), Out: path, Batch: batch, Settings: a.Practice, Engine: engine, Progress: steps,
	})
	if err != nil {
		return nil, err
	}
	a.Warehouse = a.making.Warehouse
	return a, nil
}

// Finish writes figures and findings into a warehouse that was begun with Make,
// and closes it whole.
func (a *AsOf) Finish(ctx context.Context, figures result.Set, findings []warehouse.Finding) error {
	a.Warehouse = nil
	return a.making.Finish(ctx, figures, findings)
}

// GiveUp ends a warehouse that was begun with Make because of an error, and
// returns it, or that of the build where it was the cause.
func (a *AsOf) GiveUp(err error) error { return a.making.GiveUp(err) }

// Reopen opens the warehouse that Finish closed, where it now lies.
func (a *AsOf) Reopen(ctx context.Context, engine warehouse.Engine, path string) (err error) {
	a.Warehouse, err = warehouse.Open(ctx, path, engine)
	return err
}

// Build makes a warehouse of a batch at path and leaves it closed.
func Build(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, path string, steps Steps) error {
	a, err := Make(ctx, dir, engine, batch, path, steps)
	if err != nil {
		return err
	}
	return a.Finish(ctx, result.Set{}, nil)
}

// OpenBuilt opens a warehouse that was built for a batch.
func OpenBuilt(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, path string) (*AsOf, error) {
	a, err := read(ctx, dir, engine, batch)
	if err != nil {
		return nil, err
	}
	a.Warehouse, err = warehouse.Open(ctx, path, engine)
	return a, err
}

// Open builds a warehouse of a batch for passing use; Close takes it away.
func Open(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, steps Steps) (*AsOf, error) {
	none := func(*AsOf) (result.Set, error) { return result.Set{}, nil }
	return inPassing(ctx, dir, engine, batch, none, steps)
}

// OpenMonth is Open with the figures of a month written into the warehouse.
func OpenMonth(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, month time.Time, steps Steps) (*AsOf, error) {
	figures := func(a *AsOf) (result.Set, error) { return a.Month(ctx, month) }
	return inPassing(ctx, dir, engine, batch, figures, steps)
}

// inPassing builds a warehouse with figures in a folder that Close takes away.
func inPassing(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, figures func(*AsOf) (result.Set, error), steps Steps) (a *AsOf, err error) {
	scratch, err := os.MkdirTemp(string(dir), ".as-of-*")
	if err != nil {
		return nil, fmt.Errorf("make room for a warehouse as of batch %d: %w", batch, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(scratch))
		}
	}()
	path := filepath.Join(scratch, "warehouse.duckdb")
	if a, err = Make(ctx, dir, engine, batch, path, steps); err != nil {
		return nil, err
	}
	set, err := figures(a)
	if err != nil {
		return nil, a.GiveUp(err)
	}
	if err := a.Finish(ctx, set, nil); err != nil {
		return nil, err
	}
	a.scratch = scratch
	return a, a.Reopen(ctx, engine, path)
}

// Close closes the warehouse, and takes it away if it was built in passing.
func (a *AsOf) Close() error {
	err := a.Warehouse.Close()
	if a.scratch != "" {
		err = errors.Join(err, os.RemoveAll(a.scratch))
	}
	return err
}

// read reads what the landing store knows about a batch.
func read(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int) (a *AsOf, err error) {
	err = WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		a = &AsOf{}
		if a.Batch, err = l.Batch(ctx, batch); err != nil {
			return err
		}
		if a.Practice, err = l.PracticeAt(ctx, batch); err != nil {
			return err
		}
		if a.Files, err = l.Files(ctx, batch); err != nil {
			return err
		}
		a.odd, err = l.FileFindingsUpTo(ctx, batch)
		return err
	})
	return a, err
}

// WithLanding opens the landing store, hands it over, and closes it again, so
// that no build ever meets it open.
func WithLanding(ctx context.Context, dir folder.Dir, engine warehouse.Engine, use func(*warehouse.Landing) error) (err error) {
	landing, err := warehouse.OpenLanding(ctx, dir.Landing(), engine)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, landing.Close()) }() //nolint:contextcheck // closing writes the log back and must finish
	return use(landing)
}
