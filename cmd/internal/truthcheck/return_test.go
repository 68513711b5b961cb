package truthcheck

import (
	"bytes"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// fedTables are the tables that reach the return question; the others are left
// out of the delivery to save time.
var fedTables = []string{"episodes", "sessions", "measurements", "milestones", "followups"}

// TestCurvesHoldTheTruth takes the way of a night, from files to figures, for
// five practices, and holds every curve of a type with 100 episodes against the
// committed truth at weeks 6, 12 and 26.
func TestCurvesHoldTheTruth(t *testing.T) {
	truth := committedTruth(t)
	for seed := uint64(1); seed <= 5; seed++ {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			t.Parallel()
			s := practice.Default()
			s.Seed, s.Clean = seed, true
			points := curvesOf(t, s, truth)
			if len(points) < 15 {
				t.Errorf("only %d points were compared", len(points))
			}
			for _, p := range points {
				if !p.Agrees() {
					t.Error(p)
				}
			}
		})
	}
}

// TestCurvesAtHalfTheHazardAreOff draws people who recover half as fast and
// leaves the truth file as it is: the same comparison must fail.
func TestCurvesAtHalfTheHazardAreOff(t *testing.T) {
	s := practice.Default()
	s.Clean, s.HazardFactor = true, s.HazardFactor/2
	off := 0
	points := curvesOf(t, s, committedTruth(t))
	for _, p := range points {
		if !p.Agrees() {
			off++
		}
	}
	if off*2 < len(points) {
		t.Errorf("only %d of %d points are off though people recover half as fast", off, len(points))
	}
}

// curvesOf delivers a practice as it stands on its last day, all sites by one
// sender, takes it in, builds the warehouse and compares the curves of its last
// month.
func curvesOf(t *testing.T, s practice.Scenario, truth *practice.Truth) []Point {
	t.Helper()
	p, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	tables, err := practice.Tables(p)
	if err != nil {
		t.Fatal(err)
	}
	dir := folder.Dir(t.TempDir())
	settings := regexp.MustCompile(`(?m)^senders = .*$`).ReplaceAll(p.Settings(), []byte(`senders = ["all"]`))
	if err := folder.WriteFile(dir.Settings(), settings); err != nil {
		t.Fatal(err)
	}
	for _, name := range fedTables {
		table, ok := export.Find(name)
		if !ok {
			t.Fatalf("no table %s", name)
		}
		var text bytes.Buffer
		for i, c := range table.Columns {
			text.WriteString(strings.Repeat(",", min(i, 1)) + c.Name)
		}
		for _, row := range tables[name] {
			text.WriteString("\n" + strings.Join(row, ","))
		}
		if err := folder.WriteFile(filepath.Join(dir.InboxOf("all"), name+".csv"), text.Bytes()); err != nil {
			t.Fatal(err)
		}
	}
	deliveries := p.Deliveries()
	now := deliveries[len(deliveries)-1].ReceivedOn
	engine := warehouse.Engine{}
	var batch int
	err = assemble.WithLanding(t.Context(), dir, engine, func(l *warehouse.Landing) error {
		report, err := intake.Run(t.Context(), intake.Input{Dir: string(dir), Landing: l, Now: now, Program: "test"})
		batch = report.Batch.Number
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	a, err := assemble.Open(t.Context(), dir, engine, batch, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	}()
	month, err := a.NewestMonth(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	set, err := a.Month(t.Context(), month)
	if err != nil {
		t.Fatal(err)
	}
	points, err := CompareCurves(truth, set.Figures)
	if err != nil {
		t.Fatal(err)
	}
	return points
}
