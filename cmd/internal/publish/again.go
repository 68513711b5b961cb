package publish

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/warehouse"
)

// ChangedError is the error of a report that could not be made again byte for byte.
type ChangedError struct {
	Folder string
	File   string
}

func (c *ChangedError) Error() string {
	return fmt.Sprintf("%s/%s was made again and differs from what was published; another version of the program made it then. "+
		"Take the report from a backup, or publish a re-issue with `evenlimb monthly --again`", c.Folder, c.File)
}

// Restore makes again every registered report of which a file is missing, each
// from its own batch and with the register as it was before it, and returns the
// folders it filled. A file that is there is left as it is.
func Restore(ctx context.Context, dir folder.Dir, engine warehouse.Engine, steps assemble.Steps) (filled []string, err error) {
	entries, err := entriesOf(ctx, dir, engine)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		missing, err := missingFiles(dir, e)
		if err != nil {
			return filled, err
		}
		if len(missing) > 0 {
			if err := again(ctx, dir, engine, e, missing, steps); err != nil {
				return filled, err
			}
			filled = append(filled, e.Folder)
		}
		if !e.Renamed {
			if err := markRenamed(ctx, dir, engine, e.Number); err != nil {
				return filled, err
			}
		}
	}
	return filled, nil
}

func missingFiles(dir folder.Dir, e warehouse.Publication) ([]warehouse.PublishedFile, error) {
	var missing []warehouse.PublishedFile
	for _, f := range e.Files {
		_, err := os.Stat(filepath.Join(string(dir), filepath.FromSlash(e.Folder), filepath.FromSlash(f.Name)))
		switch {
		case errors.Is(err, os.ErrNotExist):
			missing = append(missing, f)
		case err != nil:
			return nil, fmt.Errorf("look at %s: %w", e.Folder, err)
		}
	}
	return missing, nil
}

func again(ctx context.Context, dir folder.Dir, engine warehouse.Engine, e warehouse.Publication, missing []warehouse.PublishedFile, steps assemble.Steps) (err error) {
	month, err := time.Parse(periodForm, e.Period)
	if err != nil {
		return fmt.Errorf("publication %d: %w", e.Number, err)
	}
	_, history, err := register(ctx, dir, engine, e.Number)
	if err != nil {
		return err
	}
	a, err := assemble.Open(ctx, dir, engine, e.Batch, steps)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	draft, err := Monthly(ctx, a, month, history)
	if err != nil {
		return err
	}
	files := map[string][]byte{}
	for _, f := range missing {
		data := draft.Files[f.Name]
		if digest(data) != f.SHA256 {
			return &ChangedError{Folder: e.Folder, File: f.Name}
		}
		files[f.Name] = data
	}
	staged, err := folder.Stage(filepath.Join(string(dir), filepath.FromSlash(e.Folder)), files)
	if err != nil {
		return err
	}
	return staged.Commit()
}

// Elsewhere writes the report of a month into a folder outside the practice's
// own reports, and leaves the register alone. History is read up to the first
// report that a later batch published.
func Elsewhere(ctx context.Context, dir folder.Dir, engine warehouse.Engine, a *assemble.AsOf, month time.Time, out string) error {
	before, err := firstAfter(ctx, dir, engine, a.Batch.Number, month)
	if err != nil {
		return err
	}
	_, history, err := register(ctx, dir, engine, before)
	if err != nil {
		return err
	}
	draft, err := Monthly(ctx, a, month, history)
	if err != nil {
		return err
	}
	staged, err := folder.Stage(out, draft.Files)
	if err != nil {
		return err
	}
	return staged.Commit()
}

// firstAfter finds the register entry from which on history does not count for
// a report of the month as of the batch: its own, or the first of a later batch.
func firstAfter(ctx context.Context, dir folder.Dir, engine warehouse.Engine, batch int, month time.Time) (int, error) {
	entries, err := entriesOf(ctx, dir, engine)
	if err != nil {
		return 0, err
	}
	for _, e := range entries {
		own := e.Batch == batch && e.Report == monthlyReport && e.Period == month.Format(periodForm)
		if own || e.Batch > batch {
			return e.Number, nil
		}
	}
	return 0, nil
}

func published(e warehouse.Publication, f warehouse.PublishedFigure) disclosure.Published {
	return disclosure.Published{
		Report: e.Report, Period: e.Period, Revision: e.Revision, Batch: e.Batch, FigureID: f.ID,
		Shown: f.Value != nil, Text: f.Shown, Value: f.Value, Low: f.Low, High: f.High, Persons: f.Persons,
		Status: result.Status(f.Status), Definition: f.DefinitionHash,
	}
}
