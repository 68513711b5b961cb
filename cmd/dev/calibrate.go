package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"evenlimb/cmd/internal/calibrate"
	"evenlimb/seeds/practice"
)

// calibrationDir holds the truths, the results and the table.
const calibrationDir = "testdata/calibration"

// calibration is what the command line asks for.
type calibration struct {
	conditions, figures string
	seeds               int
	workers             int
	dir                 string
	truth, files, table bool
	stdout, stderr      io.Writer
}

// runCalibrate is `dev calibrate`: it draws practices of which the truth is
// known, analyses them, and says whether the intervals hold it. It exits 1 when
// a figure fails by the rule in the base condition.
func runCalibrate(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	c := calibration{stdout: stdout, stderr: stderr}
	flags := flag.NewFlagSet("dev calibrate", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.StringVar(&c.conditions, "condition", "", "conditions to run, separated by commas; all without it")
	flags.StringVar(&c.figures, "figures", "", "figures or analyses to run, separated by commas; all without it")
	flags.IntVar(&c.seeds, "seeds", 0, fmt.Sprintf("run seeds 1 to this number, in steps of %d; those of the condition without it", calibrate.ChunkSeeds))
	flags.IntVar(&c.workers, "workers", 0, "replicates at a time; one a core without it")
	flags.StringVar(&c.dir, "dir", calibrationDir, "where truths and results lie")
	flags.BoolVar(&c.truth, "truth", false, "compute the truths that are missing or of another generator, and stop")
	flags.BoolVar(&c.files, "files", false, "take the first 20 seeds through files, intake and warehouse instead, and compare what is published")
	flags.BoolVar(&c.table, "table", false, "run nothing; judge what is there")
	if flags.Parse(args) != nil || flags.NArg() > 0 || c.seeds < 0 {
		flags.Usage()
		return 64
	}
	code, err := c.run(ctx)
	if err != nil {
		fmt.Fprintln(stderr, "dev calibrate:", err)
	}
	return code
}

func (c *calibration) run(ctx context.Context) (int, error) {
	conditions, err := c.chosen()
	if err != nil {
		return 64, err
	}
	analyses, err := c.analyses()
	if err != nil {
		return 64, err
	}
	switch {
	case c.truth:
		err = c.truths(conditions)
	case c.files:
		err = c.throughFiles(ctx, conditions)
	default:
		return c.calibrate(ctx, conditions, analyses)
	}
	if err != nil {
		return 1, err
	}
	return 0, nil
}

// chosen returns the conditions named.
func (c *calibration) chosen() ([]calibrate.Condition, error) {
	if c.conditions == "" {
		return calibrate.Conditions, nil
	}
	var list []calibrate.Condition
	var known []string
	for _, one := range calibrate.Conditions {
		known = append(known, one.Name)
	}
	for name := range strings.SplitSeq(c.conditions, ",") {
		at := slices.Index(known, name)
		if at < 0 {
			return nil, fmt.Errorf("no condition %q; there are %s", name, strings.Join(known, ", "))
		}
		list = append(list, calibrate.Conditions[at])
	}
	return list, nil
}

// analyses returns those that make the figures named.
func (c *calibration) analyses() ([]string, error) {
	var all, list []string
	for _, a := range calibrate.Analyses {
		all = append(all, a.Name)
	}
	if c.figures == "" {
		return all, nil
	}
	for name := range strings.SplitSeq(c.figures, ",") {
		var known []string
		for _, f := range calibrate.Figures {
			if f.Name == name || f.Analysis == name {
				list = append(list, f.Analysis)
			}
			known = append(known, f.Name)
		}
		if !slices.ContainsFunc(calibrate.Figures, func(f calibrate.Figure) bool { return f.Name == name || f.Analysis == name }) {
			return nil, fmt.Errorf("no figure and no analysis %q; there are %s of %s", name, strings.Join(known, ", "), strings.Join(all, ", "))
		}
	}
	return slices.DeleteFunc(all, func(a string) bool { return !slices.Contains(list, a) }), nil
}

func (c *calibration) truths(conditions []calibrate.Condition) error {
	if err := os.MkdirAll(c.dir, 0o755); err != nil {
		return err
	}
	base, err := calibrate.ReadTruth(c.dir, calibrate.Conditions[0])
	if err != nil && !errors.Is(err, calibrate.ErrNoTruth) {
		return err
	}
	for _, one := range conditions {
		if _, err := calibrate.ReadTruth(c.dir, one); err == nil {
			fmt.Fprintln(c.stdout, one.Name, "is that of today's generator")
			continue
		} else if !errors.Is(err, calibrate.ErrNoTruth) {
			return err
		}
		began := time.Now()
		truth, err := calibrate.ComputeTruth(one, base)
		if err != nil {
			return err
		}
		if err := truth.Write(c.dir, one); err != nil {
			return err
		}
		if one.Name == calibrate.Conditions[0].Name {
			base = truth
		}
		fmt.Fprintf(c.stdout, "%s: %d values in %.0f s\n", one.Name, len(truth.Values), time.Since(began).Seconds())
	}
	return nil
}

// seedsThroughFiles is how many of each condition take the long way.
const seedsThroughFiles = 20

func (c *calibration) throughFiles(ctx context.Context, conditions []calibrate.Condition) error {
	seeds := seedsThroughFiles
	if c.seeds > 0 {
		seeds = c.seeds
	}
	off := 0
	for _, one := range conditions {
		for seed := 1; seed <= seeds; seed++ {
			differences, err := longWay(ctx, one, seed)
			if err != nil {
				return fmt.Errorf("%s, seed %d: %w", one.Name, seed, err)
			}
			for _, d := range differences {
				off++
				fmt.Fprintf(c.stdout, "%s, seed %d: %s\n", one.Name, seed, d)
			}
		}
		fmt.Fprintf(c.stdout, "%s: %d seeds through files, intake and warehouse\n", one.Name, seeds)
	}
	if off > 0 {
		return fmt.Errorf("%d tables are not the same", off)
	}
	return nil
}

func longWay(ctx context.Context, one calibrate.Condition, seed int) ([]string, error) {
	s := one.Scenario
	s.Seed = uint64(seed)
	p, err := practice.Draw(s)
	if err != nil {
		return nil, err
	}
	inMemory, err := calibrate.Publish(p)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "calibrate")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.RemoveAll(dir) }() // a folder left over does no harm
	fromFiles, err := calibrate.FromFiles(ctx, dir, p)
	if err != nil {
		return nil, err
	}
	return calibrate.Differences(inMemory, fromFiles), nil
}

func (c *calibration) calibrate(ctx context.Context, conditions []calibrate.Condition, analyses []string) (int, error) {
	if !c.table {
		debug.SetGCPercent(300) // replicates are short-lived and memory is not short
		for _, one := range conditions {
			if _, err := calibrate.ReadTruth(c.dir, one); err != nil {
				return 1, err
			}
		}
		err := calibrate.Run(ctx, calibrate.Options{
			Dir: c.dir, Conditions: conditions, Analyses: analyses, Seeds: c.seeds, Workers: c.workers, Commit: commit(ctx), Now: time.Now,
			Progress: func(line string) { fmt.Fprintln(c.stderr, line) },
		})
		if err != nil {
			return 1, err
		}
	}
	report, err := calibrate.JudgeAll(c.dir)
	if err != nil {
		return 1, err
	}
	full, err := report.CSV()
	if err != nil {
		return 1, err
	}
	if err := os.WriteFile(filepath.Join(c.dir, "results.csv"), full, 0o644); err != nil {
		return 1, err
	}
	table := report.Markdown()
	if err := os.WriteFile(filepath.Join(c.dir, "table.md"), []byte(table), 0o644); err != nil {
		return 1, err
	}
	fmt.Fprint(c.stdout, table)
	for _, j := range report.Judged {
		if j.Condition == calibrate.Conditions[0].Name && len(j.Fails) > 0 {
			return 1, fmt.Errorf("%s fails in the base condition: %s", j.Figure, strings.Join(j.Fails, "; "))
		}
	}
	return 0, nil
}

// commit names what the results were made with: the commit that the program was
// built from, or where it was run from source the one checked out, with a mark
// where sources were changed since.
func commit(ctx context.Context) string {
	if built, ok := debug.ReadBuildInfo(); ok {
		revision, changed := "", ""
		for _, s := range built.Settings {
			switch {
			case s.Key == "vcs.revision":
				revision = s.Value
			case s.Key == "vcs.modified" && s.Value == "true":
				changed = "+"
			}
		}
		if len(revision) > 9 {
			return revision[:9] + changed
		}
	}
	out, err := exec.CommandContext(ctx, "git", "describe", "--always", "--dirty=+", "--abbrev=9", "--exclude=*").Output()
	if err != nil {
		return "unknown"
	}
	return strings.TrimSpace(string(out))
}
