// Package awkward takes practices that a program may stumble over the whole way,
// from files to the report, and reads what the report says of them.
package awkward

import (
	"context"
	"flag"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/cmd/internal/publish"
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/pages"
)

// With -keep every practice is taken in by itself and its whole report, with
// plots and workbook, is written to a folder to be looked at.
var keep = flag.String("keep", "", "a `folder` for the whole reports")

// yearsApart is how far practices lie apart in the folder that they share: further
// than a report looks back.
const yearsApart = 4

// TestReports reads the pages of all practices. They lie in one folder, one after
// the other in time and each at sites of its own, as taking files in and building
// the warehouse is most of the work.
func TestReports(t *testing.T) {
	dir := folder.Dir(t.TempDir())
	all := make([]*made, len(practices))
	var sites []string
	var comes time.Time
	for i, p := range practices {
		all[i] = p.make(t)
		all[i].back(yearsApart * i)
		all[i].drop(t, dir)
		sites = append(sites, all[i].sites...)
		if all[i].comes.After(comes) {
			comes = all[i].comes
		}
	}
	as := takeIn(t, dir, "All of them", sites, comes)
	for i, p := range practices {
		t.Run(p.name, func(t *testing.T) {
			page := pageOf(t, only(as, all[i]), all[i].month)
			read(t, page)
			for _, text := range p.says {
				if !strings.Contains(page, text) {
					t.Errorf("the page does not say %q", text)
				}
			}
			for _, text := range p.never {
				if strings.Contains(page, text) {
					t.Errorf("the page says %q", text)
				}
			}
			if t.Failed() {
				t.Log(inWords(page))
			}
		})
	}
}

// only is the practice as if it were alone in its folder.
func only(as *assemble.AsOf, m *made) *assemble.AsOf {
	one, practice := *as, *as.Practice
	practice.Sites = slices.DeleteFunc(slices.Clone(practice.Sites), func(s settings.Site) bool { return !slices.Contains(m.sites, s.Code) })
	one.Practice, one.Batch.ReceivedOn = &practice, m.comes
	one.Files = slices.DeleteFunc(slices.Clone(as.Files), func(f warehouse.FileRecord) bool { return !slices.Contains(m.sites, f.Sender) })
	return &one
}

// pageOf is the page of a month, without plots.
func pageOf(t *testing.T, as *assemble.AsOf, month time.Time) string {
	t.Helper()
	set, err := as.Month(t.Context(), month)
	if err != nil {
		t.Fatal(err)
	}
	about, err := as.Context(t.Context(), month)
	if err != nil {
		t.Fatal(err)
	}
	floors := as.Practice.SmallCounts
	released, err := disclosure.Release(disclosure.Input{
		Figures: set, Context: about, Audience: disclosure.Circulating,
		Floors: disclosure.Floors{Circulating: floors.Circulating, Site: floors.Site, Curve: floors.Curve, Inside: floors.Inside},
	})
	if err != nil {
		t.Fatal(err)
	}
	page, err := pages.Monthly(released, pages.Pictures{})
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// takeIn runs a night's intake over a folder and builds its warehouse.
func takeIn(t *testing.T, dir folder.Dir, name string, sites []string, comes time.Time) *assemble.AsOf {
	t.Helper()
	if err := folder.WriteFile(dir.Settings(), settingsText(name, sites)); err != nil {
		t.Fatal(err)
	}
	ctx, engine := context.WithoutCancel(t.Context()), warehouse.Engine{}
	err := assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		report, err := intake.Run(ctx, intake.Input{Dir: string(dir), Landing: l, Now: comes.Add(3 * time.Hour)})
		for _, f := range report.Files {
			if f.Counts.Quarantined > 0 || f.Problem.Code != "" {
				t.Errorf("%s: %d rows in quarantine, %v", f.Path, f.Counts.Quarantined, f.Problem)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	as, err := assemble.Open(ctx, dir, engine, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := as.Close(); err != nil {
			t.Error(err)
		}
	})
	return as
}

// TestKeep writes the reports with all that belongs to them, each practice taken
// in by itself.
func TestKeep(t *testing.T) {
	if *keep == "" {
		t.Skip("nothing is kept without -keep FOLDER")
	}
	for _, p := range practices {
		t.Run(p.name, func(t *testing.T) {
			m := p.make(t)
			dir := folder.Dir(t.TempDir())
			m.drop(t, dir)
			as := takeIn(t, dir, p.name, m.sites, m.comes)
			draft, err := publish.Monthly(t.Context(), as, m.month, nil)
			if err != nil {
				t.Fatal(err)
			}
			for name, data := range draft.Files {
				if err := folder.WriteFile(filepath.Join(*keep, strings.ReplaceAll(p.name, " ", "_"), filepath.FromSlash(name)), data); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}
