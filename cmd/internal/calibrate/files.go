package calibrate

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/seeds/practice"
)

// FromFiles takes a practice the long way: one canonical file of each table from
// each sender, dropped into the folder dir, taken in, built into a warehouse and
// read from what the queries publish.
func FromFiles(ctx context.Context, dir string, p *practice.Practice) (*Published, error) {
	rules, err := settings.Parse(p.Settings(), settings.PracticeFile)
	if err != nil {
		return nil, fmt.Errorf("settings of the made-up practice: %w", err)
	}
	place := folder.Dir(dir)
	now, err := drop(place, p, rules)
	if err != nil {
		return nil, err
	}
	var batch int
	err = assemble.WithLanding(ctx, place, warehouse.Engine{}, func(l *warehouse.Landing) error {
		report, err := intake.Run(ctx, intake.Input{Dir: dir, Landing: l, Now: now, Program: "calibrate"})
		batch = report.Batch.Number
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("take in the made-up practice: %w", err)
	}
	a, err := assemble.Open(ctx, place, warehouse.Engine{}, batch, nil)
	if err != nil {
		return nil, fmt.Errorf("build the made-up practice: %w", err)
	}
	for _, f := range a.Files {
		if f.Counts.Quarantined > 0 || f.Problem.Code != "" {
			return nil, fmt.Errorf("made-up practice: %s: %d rows in quarantine, %s; every drawn row is one that the intake takes", f.Path, f.Counts.Quarantined, f.Problem.Words)
		}
	}
	out, err := read(ctx, a.Warehouse)
	if closed := a.Close(); err == nil {
		err = closed
	}
	return out, err
}

// drop writes the settings and the files, and returns the day after all of them.
func drop(dir folder.Dir, p *practice.Practice, rules *settings.Practice) (time.Time, error) {
	if err := folder.WriteFile(dir.Settings(), p.Settings()); err != nil {
		return time.Time{}, err
	}
	senders, sites := map[string]string{}, map[string]string{}
	for _, s := range rules.Sites {
		senders[s.Code] = s.Senders[0]
	}
	now := time.Time{}
	reach := p.Reach()
	files := map[string][][]string{}
	for _, s := range rules.Sites {
		statement := filepath.Join(dir.InboxOf(senders[s.Code]), "delivery.csv")
		files[statement] = append(files[statement], []string{s.Code, p.Scenario.Start.Format(time.DateOnly), reach[s.Code].Format(time.DateOnly)})
		if reach[s.Code].After(now) {
			now = reach[s.Code]
		}
	}
	tables, err := practice.Tables(p)
	if err != nil {
		return now, err
	}
	owners := map[string]string{} // sender of an episode, and of a session
	for _, t := range export.Tables() {
		at := slices.IndexFunc(t.Columns, func(c export.Column) bool {
			return c.Name == "episode_id" || t.Name == "bouts" && c.Name == "session_id"
		})
		for _, row := range tables[t.Name] {
			switch t.Name {
			case "episodes":
				sites[row[at]] = row[slices.IndexFunc(t.Columns, func(c export.Column) bool { return c.Name == "site" })]
				owners[row[at]] = senders[sites[row[at]]]
			case "sessions":
				owners[row[0]] = owners[row[at]]
			}
			path := filepath.Join(dir.InboxOf(owners[row[at]]), t.Name+".csv")
			files[path] = append(files[path], row)
		}
	}
	for path, rows := range files {
		heading := []string{"site", "complete_from", "complete_to"}
		if t, ok := export.Find(filepath.Base(path[:len(path)-len(".csv")])); ok {
			heading = nil
			for _, c := range t.Columns {
				heading = append(heading, c.Name)
			}
		}
		var text bytes.Buffer
		if err := csv.NewWriter(&text).WriteAll(append([][]string{heading}, rows...)); err != nil {
			return now, err
		}
		if err := folder.WriteFile(path, text.Bytes()); err != nil {
			return now, err
		}
	}
	return now.AddDate(0, 0, 1), nil
}

func read(ctx context.Context, wh *warehouse.Warehouse) (*Published, error) {
	out := &Published{}
	var err error
	for _, table := range []func() error{
		func() error { out.Return, err = wh.ReturnEpisodes(ctx, ""); return err },
		func() error { out.Gaps, err = wh.ContactGaps(ctx, ""); return err },
		func() error { out.Reach, err = wh.SiteReaches(ctx); return err },
		func() error { out.Symmetry, err = wh.SymmetryEpisodes(ctx, ""); return err },
		func() error { out.Pairs, err = wh.SidePairs(ctx, ""); return err },
		func() error { out.Changes, err = wh.LimbChanges(ctx, ""); return err },
		func() error { out.Dose, err = wh.DoseEpisodes(ctx, ""); return err },
		func() error { out.Sessions, err = wh.SafetySessions(ctx, ""); return err },
		func() error { out.Events, err = wh.SafetyEvents(ctx, ""); return err },
	} {
		if err := table(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Differences says in which rows two derivations of one practice differ, a line
// for each table with the first such row; none when they are the same to the
// last digit.
func Differences(inMemory, fromFiles *Published) []string {
	a, b := inMemory, fromFiles
	var list []string
	for _, d := range []string{
		differ("return_episodes", a.Return, b.Return), differ("contact_gaps", a.Gaps, b.Gaps), differ("site_reach", a.Reach, b.Reach),
		differ("symmetry_episodes", a.Symmetry, b.Symmetry), differ("side_pairs", a.Pairs, b.Pairs), differ("limb_changes", a.Changes, b.Changes),
		differ("dose_episodes", a.Dose, b.Dose), differ("safety_sessions", a.Sessions, b.Sessions), differ("safety_events", a.Events, b.Events),
	} {
		if d != "" {
			list = append(list, d)
		}
	}
	return list
}

func differ[R any](table string, a, b []R) string {
	different, first := 0, ""
	for i := range min(len(a), len(b)) {
		x, y := line(a[i]), line(b[i])
		if x == y {
			continue
		}
		if different == 0 {
			first = fmt.Sprintf("; in memory %s, from files %s", x, y)
		}
		different++
	}
	if different == 0 && len(a) == len(b) {
		return ""
	}
	return fmt.Sprintf("published.%s: %d rows in memory, %d from files, %d of them different%s", table, len(a), len(b), different, first)
}

// line writes a row with what its pointers point to.
func line(row any) string {
	text, err := json.Marshal(row)
	if err != nil {
		return err.Error() // NaN and infinity alone cannot be written
	}
	return string(text)
}
