package publish

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/pages"
)

// Index brings reports/index.html up to date with the register. A file that
// says the same already is left alone.
func Index(ctx context.Context, dir folder.Dir, engine warehouse.Engine, practice *settings.Practice) error {
	var issues []pages.Issue
	err := assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		entries, err := l.Publications(ctx, 0)
		if err != nil {
			return err
		}
		for _, e := range entries {
			batch, err := l.Batch(ctx, e.Batch)
			if err != nil {
				return err
			}
			month, err := time.Parse(periodForm, e.Period)
			if err != nil {
				return fmt.Errorf("publication %d: %w", e.Number, err)
			}
			issues = append(issues, pages.Issue{
				Folder: strings.TrimPrefix(e.Folder, "reports/"), Month: month, Revision: e.Revision, Batch: e.Batch, ReceivedOn: batch.ReceivedOn,
			})
		}
		return nil
	})
	if err != nil {
		return err
	}
	text, err := pages.Index(practice.Name, practice.MadeUp, issues)
	if err != nil {
		return err
	}
	path := filepath.Join(dir.Reports(), "index.html")
	standing, err := os.ReadFile(path) //nolint:gosec // a file of the practice folder
	if err == nil && bytes.Equal(standing, text) {
		return nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("read the index of the reports: %w", err)
	}
	return folder.WriteFile(path, text)
}
