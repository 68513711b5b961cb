package main

import (
	"context"
	"flag"
	"fmt"
	"path/filepath"
	"time"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/words"
	"evenlimb/seeds/practice"
)

func demoCommand() command {
	scenario := practice.Default()
	scenario.OwnFormats = true
	return command{
		name:  "demo",
		args:  "DIR",
		about: "makes up a practice and does everything a night and a month-end do",
		long: `Makes up a practice with several sites in the folder DIR: its settings, the messy
exports its sites would send, each as its own system writes them, and the layouts by
which they are read. Then it lives through the practice's nights one by one: it takes
the files in, computes the results, publishes the months that come due, and checks
that everything planted in the data was found and that the curves agree with the
truth the practice was drawn from. Nobody in it exists.`,
		flags: func(set *flag.FlagSet) {
			set.IntVar(&scenario.Sites, "sites", scenario.Sites, "the `number` of sites")
			set.IntVar(&scenario.Episodes, "episodes", scenario.Episodes, "the `number` of people who begin care")
			set.IntVar(&scenario.Months, "months", scenario.Months, "the `number` of months")
			set.BoolFunc("canonical", "let all sites send comma-separated text under the headings of the export tables", func(string) error {
				scenario.OwnFormats = false
				return nil
			})
			set.Uint64Var(&scenario.Seed, "seed", scenario.Seed, "the `seed` of all draws")
		},
		run: func(ctx context.Context, c *call) (exit, error) { return runDemo(ctx, c, scenario) },
	}
}

// demoStart is when the demo's nights run, from midnight of their delivery.
const demoStart = 2 * time.Hour

func runDemo(ctx context.Context, c *call, scenario practice.Scenario) (exit, error) {
	dir := folder.Dir(c.args[0])
	if err := emptyFolder(string(dir)); err != nil {
		return exitUsage, err
	}
	bar := newProgress(c)
	defer bar.End()
	bar.Stage("Making up a practice")
	p, err := practice.Draw(scenario)
	if err != nil {
		return exitUsage, &usageError{err.Error()}
	}
	if err := writeDemo(dir, p); err != nil {
		return exitFailed, err
	}
	nights, engine, err := liveThrough(ctx, c, bar, dir, p)
	if err != nil {
		return exitOf(err), err
	}
	bar.Stage("Checking that everything planted was found")
	verdict, err := checkDemo(ctx, dir, engine, p, nights[len(nights)-1].Batch)
	if err != nil {
		return exitOf(err), err
	}
	bar.End()
	return sayDemo(c, dir, p.Sends(), nights, verdict)
}

// writeDemo writes the settings, the layouts and, where no stage looks, what was
// planted.
func writeDemo(dir folder.Dir, p *practice.Practice) error {
	// A demo drops whole files, so there is nothing to wait for.
	settings := append(p.Settings(), "\n[intake]\nsettle_seconds = 0\n"...)
	if err := folder.WriteFile(dir.Settings(), settings); err != nil {
		return err
	}
	for _, l := range p.Layouts() {
		if err := folder.WriteFile(filepath.Join(dir.Layouts(), l.Name), l.Data); err != nil {
			return err
		}
	}
	planted, err := plantedCSV(p.Planted())
	if err != nil {
		return err
	}
	return folder.WriteFile(filepath.Join(string(dir), "made_up", "planted.csv"), planted)
}

// demoNight is one night of the demo and how it ended.
type demoNight struct {
	ReceivedOn string   `json:"received_on"`
	Batch      int      `json:"batch"`
	Files      int      `json:"files"`
	ExitCode   int      `json:"exit_code"`
	Published  []string `json:"published,omitempty"`
}

// liveThrough drops each delivery and runs its night.
func liveThrough(ctx context.Context, c *call, bar *progress, dir folder.Dir, p *practice.Practice) (lived []demoNight, engine warehouse.Engine, err error) {
	deliveries := p.Deliveries()
	for i, d := range deliveries {
		for _, f := range d.Files {
			if err := folder.WriteFile(filepath.Join(dir.InboxOf(f.Sender), f.Name), f.Data); err != nil {
				return nil, engine, err
			}
		}
		bar.Stage(fmt.Sprintf("Night %d of %d, %s", i+1, len(deliveries), d.ReceivedOn.Format(time.DateOnly)))
		at := d.ReceivedOn.Add(demoStart)
		night := &call{dir: dir, quiet: true, now: func() time.Time { return at }, stdout: c.stdout, stderr: c.stderr}
		outcome, n, err := runNight(ctx, night, "nightly", nightStages)
		if err != nil {
			return nil, engine, fmt.Errorf("night of %s: %w", d.ReceivedOn.Format(time.DateOnly), err)
		}
		one := demoNight{
			ReceivedOn: d.ReceivedOn.Format(time.DateOnly), Batch: outcome.Batch, Files: len(d.Files),
			ExitCode: int(exitOfRun(outcome.Attention(), nil)),
		}
		for _, w := range n.written {
			one.Published = append(one.Published, w.Folder)
		}
		lived, engine = append(lived, one), n.engine
	}
	return lived, engine, nil
}

// sayDemo says what the demo did, what was found, and where to look.
func sayDemo(c *call, dir folder.Dir, sends []practice.Sending, nights []demoNight, v verdict) (exit, error) {
	code := exitDone
	if !v.good() {
		code = exitFailed
	}
	index := filepath.Join(dir.Reports(), "index.html")
	if c.json {
		return code, writeJSON(c.stdout, map[string]any{
			"practice": string(dir), "sends": sends, "files": v.Files, "files_refused": v.Refused, "nights": nights, "planted": v.Planted, "missed": v.Missed, "curves": v.Curves, "curves_off": v.CurvesOff, "reports": index,
		})
	}
	w := c.stdout
	fmt.Fprintf(w, "%s: a made-up practice in %s. Nobody in it exists.\n\n", practice.Name, dir)
	fmt.Fprintln(w, "What its sites send:")
	for _, one := range sends {
		fmt.Fprintf(w, "  %-14s %s\n", one.Site, one.About)
	}
	fmt.Fprintln(w)
	for _, n := range nights {
		fmt.Fprintf(w, "  night of %s  batch %2d  %2d files  would have ended with %d", n.ReceivedOn, n.Batch, n.Files, n.ExitCode)
		if len(n.Published) > 0 {
			fmt.Fprintf(w, "  published %s", words.Join(n.Published))
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "\n%d of %d files were taken in, of every site; the others were to be refused.\n", v.Files-v.Refused, v.Files)
	fmt.Fprintf(w, "%d of %d planted items were found; they are listed in %s.\n", v.Planted-len(v.Missed), v.Planted, filepath.Join(string(dir), "made_up", "planted.csv"))
	for _, m := range v.Missed {
		fmt.Fprintf(w, "  not found: %s\n", m)
	}
	fmt.Fprintf(w, "%d of %d points of the return curves agree with the truth they were drawn from.\n", v.Curves-len(v.CurvesOff), v.Curves)
	for _, m := range v.CurvesOff {
		fmt.Fprintf(w, "  off: %s\n", m)
	}
	_, err := fmt.Fprintf(w, "\nOpen %s in a browser, or look around with\n  evenlimb status --practice %s\n  evenlimb trace return.calf_strain.24m/share@w12 --practice %s\n\n%s\n", index, dir, dir, words.CautionInBrief)
	return code, err
}
