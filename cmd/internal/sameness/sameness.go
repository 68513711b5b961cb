// Package sameness proves that reports can be made again byte for byte: it runs
// the built program over a practice folder in one surrounding after another and
// compares every file under reports/ with what stood there first.
package sameness

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// Surrounding is what a run must not depend on.
type Surrounding struct {
	Name    string
	Env     []string // NAME=value, over the caller's own
	Threads int      // of the database; 0 leaves the settings alone
	Folder  string   // the name the practice folder is moved to; empty: it stays
}

// Surroundings are those that every practice is tried in.
func Surroundings() []Surrounding {
	return []Surrounding{
		{Name: "as it was"},
		{Name: "another time zone and locale", Env: []string{"TZ=Pacific/Chatham", "LANG=tr_TR.UTF-8", "LC_ALL=tr_TR.UTF-8"}, Threads: 2},
		{Name: "one processor, one database thread", Env: []string{"GOMAXPROCS=1"}, Threads: 1},
		{Name: "four database threads, another folder", Env: []string{"GOMAXPROCS=2"}, Threads: 4, Folder: "elsewhere with a blank"},
	}
}

// Check deletes the warehouse and the reports, runs `nightly` in each
// surrounding, and returns an error that names the files that differ. It leaves
// the practice folder where the last surrounding put it, and returns where.
func Check(ctx context.Context, program, dir string, all []Surrounding) (string, error) {
	want, err := Tree(filepath.Join(dir, "reports"))
	if err != nil {
		return dir, err
	}
	if len(want) == 0 {
		return dir, fmt.Errorf("%s holds no reports to compare", dir)
	}
	for _, s := range all {
		if err := Forget(dir); err != nil {
			return dir, err
		}
		if dir, err = Night(ctx, program, dir, s); err != nil {
			return dir, fmt.Errorf("%s: %w", s.Name, err)
		}
		got, err := Tree(filepath.Join(dir, "reports"))
		if err != nil {
			return dir, err
		}
		if changed := Diff(want, got); len(changed) > 0 {
			return dir, fmt.Errorf("%s: %d files under reports/ differ: %s", s.Name, len(changed), strings.Join(changed, ", "))
		}
	}
	return dir, nil
}

// Forget deletes what a night makes again: the warehouse and the reports.
func Forget(dir string) error {
	return errors.Join(os.Remove(filepath.Join(dir, "warehouse.duckdb")), os.RemoveAll(filepath.Join(dir, "reports")))
}

// Night runs `nightly` in a surrounding and returns where the folder lies then.
func Night(ctx context.Context, program, dir string, s Surrounding) (string, error) {
	if s.Folder != "" {
		moved := filepath.Join(filepath.Dir(dir), s.Folder)
		if err := os.Rename(dir, moved); err != nil {
			return dir, err
		}
		dir = moved
	}
	if s.Threads > 0 {
		if err := setThreads(filepath.Join(dir, "practice.toml"), s.Threads); err != nil {
			return dir, err
		}
	}
	cmd := exec.CommandContext(ctx, program, "nightly", "--practice", dir, "--quiet") //nolint:gosec // the program under test
	cmd.Env = append(os.Environ(), s.Env...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil {
		return dir, fmt.Errorf("%w: %s", err, out.String())
	}
	return dir, nil
}

// Earlier takes one more file in and makes the newest report as of the batch
// before it into out: it must be what was published. sender is whose inbox the
// file is dropped into.
func Earlier(ctx context.Context, program, dir, sender, out string) error {
	reports, err := filepath.Glob(filepath.Join(dir, "reports", "2*"))
	if err != nil || len(reports) == 0 {
		return fmt.Errorf("no reports under %s: %w", dir, err)
	}
	newest := reports[len(reports)-1]
	want, err := Tree(newest)
	if err != nil {
		return err
	}
	status, err := exec.CommandContext(ctx, program, "status", "--practice", dir, "--json").Output() //nolint:gosec // the program under test
	if err != nil {
		return err
	}
	var now struct{ Batch int }
	if err := json.Unmarshal(status, &now); err != nil {
		return err
	}
	late := "session_id,episode_id,session_date,attendance\nlate-1,nobody,2025-06-30,attended\n"
	if err := os.WriteFile(filepath.Join(dir, "inbox", sender, "late.csv"), []byte(late), 0o600); err != nil {
		return err
	}
	if text, err := exec.CommandContext(ctx, program, "intake", "--practice", dir, "--quiet").CombinedOutput(); err != nil { //nolint:gosec // as above
		return fmt.Errorf("%w: %s", err, text)
	}
	args := []string{"monthly", "--practice", dir, "--month", filepath.Base(newest), "--as-of", fmt.Sprintf("batch:%d", now.Batch), "--out", out, "--quiet"}
	if text, err := exec.CommandContext(ctx, program, args...).CombinedOutput(); err != nil { //nolint:gosec // as above
		return fmt.Errorf("%w: %s", err, text)
	}
	got, err := Tree(out)
	if err != nil {
		return err
	}
	if changed := Diff(want, got); len(changed) > 0 {
		return fmt.Errorf("as of batch %d these files differ: %s", now.Batch, strings.Join(changed, ", "))
	}
	return nil
}

var threadsLine = regexp.MustCompile(`(?m)^threads = \d+$`)

// setThreads writes the number of database threads into the settings file.
func setThreads(path string, threads int) error {
	text, err := os.ReadFile(path) //nolint:gosec // the settings of the folder under test
	if err != nil {
		return err
	}
	line := fmt.Sprintf("threads = %d", threads)
	switch {
	case threadsLine.Match(text):
		text = threadsLine.ReplaceAll(text, []byte(line))
	case bytes.Contains(text, []byte("\n[engine]\n")):
		text = bytes.Replace(text, []byte("\n[engine]\n"), []byte("\n[engine]\n"+line+"\n"), 1)
	default:
		text = append(text, []byte("\n[engine]\n"+line+"\n")...)
	}
	return os.WriteFile(path, text, 0o600) //nolint:gosec // as above
}

// Tree returns the SHA-256 of every file below a folder, by slash-separated path.
func Tree(dir string) (map[string]string, error) {
	sums := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := os.ReadFile(path) //nolint:gosec // a file of the folder under test
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		sum := sha256.Sum256(data)
		sums[filepath.ToSlash(name)] = hex.EncodeToString(sum[:])
		return err
	})
	return sums, err
}

// Diff returns the paths that are missing from one side or differ, in order.
func Diff(want, got map[string]string) []string {
	var changed []string
	for path, sum := range want {
		if got[path] != sum {
			changed = append(changed, path)
		}
	}
	for path := range got {
		if _, ok := want[path]; !ok {
			changed = append(changed, path)
		}
	}
	slices.Sort(changed)
	return slices.Compact(changed)
}
