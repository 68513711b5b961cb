package whole

import (
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/testkit"
	"evenlimb/pipeline/warehouse"
)

// settingsText is the practice's practice.toml: its sites, and the defaults.
const settingsText = `[practice]
name = "Five sites"
code = "five"
made_up = true

[[sites]]
code = "harbour"
label = "Harbour Lane"
senders = ["harbour"]

[[sites]]
code = "millrace"
label = "Millrace"
senders = ["millrace"]

[[sites]]
code = "quarry"
label = "Quarry Hill"
senders = ["quarry"]

[[sites]]
code = "saltmarsh"
label = "Saltmarsh"
senders = ["eastern"]

[[sites]]
code = "ropewalk"
label = "Ropewalk"
senders = ["eastern"]

[[ways]]
code = "steady_cuff"
label = "Cuff kept inflated through all sets"

[[ways]]
code = "released_cuff"
label = "Cuff released between sets"

[[ways]]
code = "without_cuff"
label = "Heavier loads without the cuff"
`

// nights are the days on which the two lots of files came, and month is the
// month reported. The script in R has the same dates.
var (
	nights = []string{"2025-12-23", "2026-01-22"}
	month  = time.Date(2025, time.November, 1, 0, 0, 0, 0, time.UTC)
)

// practiceNow is what the pipeline made of the files.
type practiceNow struct {
	returns  []warehouse.ReturnEpisode
	gaps     []warehouse.ContactGap
	reaches  []warehouse.SiteReach
	episodes []warehouse.SymmetryEpisode
	pairs    []warehouse.SidePair
	changes  []warehouse.LimbChange
	both     []warehouse.BilateralChange
	doses    []warehouse.DoseEpisode

	covariates []warehouse.DoseCovariates
	records    []warehouse.DoseRecords
	responses  []warehouse.DoseResponse
	figures    map[string]result.Figure
}

var (
	once sync.Once
	now  practiceNow
)

// built takes the files in as two nights would, and computes the month.
func built(t *testing.T) practiceNow {
	t.Helper()
	once.Do(func() {
		dir := folder.Dir(t.TempDir())
		if err := os.WriteFile(dir.Settings(), []byte(settingsText), folder.FileMode); err != nil {
			t.Fatal(err)
		}
		for night := range nights {
			takeIn(t, dir, night)
		}
		read(t, dir)
	})
	if now.figures == nil {
		t.Fatal("the practice could not be built: see the first test that failed")
	}
	return now
}

// takeIn drops a night's files and runs the intake.
func takeIn(t *testing.T, dir folder.Dir, night int) {
	t.Helper()
	packed, err := filepath.Glob(filepath.Join(testkit.ModuleRoot(t), dataDir, fmt.Sprintf("%d_*.csv.gz", night+1)))
	if err != nil || len(packed) == 0 {
		t.Fatalf("no files of night %d: %v", night+1, err)
	}
	for _, path := range packed {
		parts := strings.SplitN(strings.TrimSuffix(filepath.Base(path), ".gz"), "_", 3)
		unpack(t, path, filepath.Join(dir.InboxOf(parts[1]), nights[night]+"_"+parts[2]))
	}
	ctx, engine := t.Context(), warehouse.Engine{}
	err = assemble.WithLanding(ctx, dir, engine, func(l *warehouse.Landing) error {
		report, err := intake.Run(ctx, intake.Input{Dir: string(dir), Landing: l, Now: parse(nights[night]).Add(3 * time.Hour)})
		if err != nil {
			return err
		}
		if len(report.Files) != len(packed) || len(report.Trouble)+len(report.Waiting) > 0 {
			t.Errorf("night %d: %d files taken in, %d dropped; left: %v %v", night+1, len(report.Files), len(packed), report.Trouble, report.Waiting)
		}
		for _, f := range report.Files {
			if f.Counts.Quarantined > 0 || f.Problem.Code != "" {
				t.Errorf("%s: %d rows in quarantine, %v: R read rows that the pipeline did not", f.Path, f.Counts.Quarantined, f.Problem)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func unpack(t *testing.T, from, to string) {
	t.Helper()
	in, err := os.Open(from) //nolint:gosec // a file of testdata
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close() //nolint:errcheck // opened for reading only
	z, err := gzip.NewReader(in)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	if err := folder.WriteFile(to, text); err != nil {
		t.Fatal(err)
	}
}

// read builds the warehouse and keeps its published rows and the month's figures.
func read(t *testing.T, dir folder.Dir) {
	t.Helper()
	ctx := context.WithoutCancel(t.Context())
	as, err := assemble.Open(ctx, dir, warehouse.Engine{}, len(nights), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := as.Close(); err != nil {
			t.Error(err)
		}
	}()
	wh := as.Warehouse
	now.returns = rows(t, wh.ReturnEpisodes)
	now.gaps = rows(t, wh.ContactGaps)
	now.episodes = rows(t, wh.SymmetryEpisodes)
	now.pairs = rows(t, wh.SidePairs)
	now.changes = rows(t, wh.LimbChanges)
	now.both = rows(t, wh.BilateralChanges)
	now.doses = rows(t, wh.DoseEpisodes)
	now.covariates = rows(t, wh.DoseCovariates)
	now.records = rows(t, wh.DoseRecords)
	now.responses = rows(t, wh.DoseResponses)
	if now.reaches, err = wh.SiteReaches(ctx); err != nil {
		t.Fatal(err)
	}
	set, err := as.Month(ctx, month)
	if err != nil {
		t.Fatal(err)
	}
	now.figures = map[string]result.Figure{}
	for _, f := range set.Figures {
		now.figures[f.ID] = f
	}
}

func rows[T any](t *testing.T, of func(context.Context, string) ([]T, error)) []T {
	t.Helper()
	all, err := of(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	return all
}
