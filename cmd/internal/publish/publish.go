// Package publish writes reports into the practice folder in such a way that a
// run cut off at any point leaves either the whole report or none: files under
// a temporary name, an entry in the publication register with every digest,
// then the rename. What the register holds can be made again from its batch.
package publish

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/monthly"
	"evenlimb/reports/words"
)

// The report that this package writes, as the register calls it.
const monthlyReport = "monthly"

const periodForm = "2006-01"

// Draft is a report that lies ready in memory.
type Draft struct {
	Files    map[string][]byte
	Released *disclosure.Released
}

// Monthly drafts the report of a month from a practice as of a batch. history
// is what was published before it.
func Monthly(ctx context.Context, a *assemble.AsOf, month time.Time, history []disclosure.Published) (Draft, error) {
	figures, err := a.Month(ctx, month)
	if err != nil {
		return Draft{}, err
	}
	about, err := a.Context(ctx, month)
	if err != nil {
		return Draft{}, err
	}
	floors := a.Practice.SmallCounts
	released, err := disclosure.Release(disclosure.Input{
		Figures: figures, Context: about, Audience: disclosure.Circulating, History: history,
		Floors: disclosure.Floors{
			Circulating: floors.Circulating, Site: floors.Site, Curve: floors.Curve, Inside: floors.Inside, Strict: floors.Mode == "strict",
		},
	})
	if err != nil {
		return Draft{}, fmt.Errorf("release the figures of %s: %w", month.Format(periodForm), err)
	}
	files, err := monthly.Compose(released)
	if err != nil {
		return Draft{}, fmt.Errorf("write the report of %s: %w", month.Format(periodForm), err)
	}
	return Draft{Files: files, Released: released}, nil
}

// Publish drafts, registers and puts in place the next revision of a month's
// report, and returns its entry.
func Publish(ctx context.Context, dir folder.Dir, engine warehouse.Engine, a *assemble.AsOf, month time.Time) (warehouse.Publication, error) {
	entries, history, err := register(ctx, dir, engine, 0)
	if err != nil {
		return warehouse.Publication{}, err
	}
	draft, err := Monthly(ctx, a, month, history)
	if err != nil {
		return warehouse.Publication{}, err
	}
	entry := warehouse.Publication{
		Report: monthlyReport, Period: month.Format(periodForm), Revision: 1 + revisions(entries, month),
		Batch: a.Batch.Number, Audience: disclosure.Circulating.String(),
		Files: digests(draft.Files), Figures: shown(draft.Released),
	}
	entry.Folder = place(entry)
	entry.ManifestSHA256 = digest(draft.Files["manifest.json"])
	staged, err := folder.Stage(filepath.Join(string(dir), entry.Folder), draft.Files)
	if err != nil {
		return warehouse.Publication{}, err
	}
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		entry.Number, err = l.Register(ctx, entry)
		return err
	})
	if err != nil {
		return warehouse.Publication{}, staged.Discard(err)
	}
	if err := staged.Commit(); err != nil {
		return warehouse.Publication{}, err
	}
	return entry, markRenamed(ctx, dir, engine, entry.Number)
}

func markRenamed(ctx context.Context, dir folder.Dir, engine warehouse.Engine, number int) error {
	return assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error { return l.MarkRenamed(ctx, number) })
}

// place is the folder of a report: reports/2026-03, and reports/2026-03/r2 for
// a re-issue.
func place(p warehouse.Publication) string {
	if p.Revision == 1 {
		return path.Join("reports", p.Period)
	}
	return path.Join("reports", p.Period, fmt.Sprintf("r%d", p.Revision))
}

func revisions(entries []warehouse.Publication, month time.Time) int {
	n := 0
	for _, e := range entries {
		if e.Report == monthlyReport && e.Period == month.Format(periodForm) {
			n = max(n, e.Revision)
		}
	}
	return n
}

// entriesOf reads the entries of the register without what they showed.
func entriesOf(ctx context.Context, dir folder.Dir, engine warehouse.Engine) (entries []warehouse.Publication, err error) {
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		entries, err = l.Publications(ctx, 0)
		return err
	})
	return entries, err
}

// register reads the entries before the given one (0: all) and what they showed.
func register(ctx context.Context, dir folder.Dir, engine warehouse.Engine, before int) (entries []warehouse.Publication, history []disclosure.Published, err error) {
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		if entries, err = l.Publications(ctx, before); err != nil {
			return err
		}
		for _, e := range entries {
			figures, err := l.FiguresOf(ctx, e.Number)
			if err != nil {
				return err
			}
			for _, f := range figures {
				history = append(history, published(e, f))
			}
		}
		return nil
	})
	return entries, history, err
}

// Months returns the months that have been published, each once.
func Months(entries []warehouse.Publication) ([]time.Time, error) {
	var months []time.Time
	for _, e := range entries {
		if e.Report != monthlyReport || e.Revision != 1 {
			continue
		}
		month, err := time.Parse(periodForm, e.Period)
		if err != nil {
			return nil, fmt.Errorf("publication %d: %w", e.Number, err)
		}
		months = append(months, month)
	}
	return months, nil
}

func digests(files map[string][]byte) []warehouse.PublishedFile {
	var list []warehouse.PublishedFile
	for name, data := range files {
		list = append(list, warehouse.PublishedFile{Name: name, SHA256: digest(data)})
	}
	slices.SortFunc(list, func(a, b warehouse.PublishedFile) int { return strings.Compare(a.Name, b.Name) })
	return list
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func shown(r *disclosure.Released) []warehouse.PublishedFigure {
	var list []warehouse.PublishedFigure
	for _, f := range r.Figures() {
		list = append(list, warehouse.PublishedFigure{
			ID: f.ID, Shown: words.Value(f), Value: f.Value, Low: f.Low, High: f.High, Persons: f.Persons,
			Status: string(f.Status), DefinitionHash: f.Definition,
		})
	}
	sort.Slice(list, func(i, j int) bool { return list[i].ID < list[j].ID })
	return list
}

// Due returns the months whose report is due, as of the practice's newest batch.
func Due(ctx context.Context, dir folder.Dir, engine warehouse.Engine, a *assemble.AsOf) ([]time.Time, error) {
	entries, err := entriesOf(ctx, dir, engine)
	if err != nil {
		return nil, err
	}
	months, err := Months(entries)
	if err != nil {
		return nil, err
	}
	return a.Due(ctx, months)
}

// Newest returns the newest revision of a month's report; nil when there is none.
func Newest(ctx context.Context, dir folder.Dir, engine warehouse.Engine, month time.Time) (*warehouse.Publication, error) {
	entries, err := entriesOf(ctx, dir, engine)
	if err != nil {
		return nil, err
	}
	var newest *warehouse.Publication
	for i, e := range entries {
		if e.Report == monthlyReport && e.Period == month.Format(periodForm) {
			newest = &entries[i]
		}
	}
	return newest, nil
}
