package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// referenceDir holds one folder a family, with NAME.R, NAME.json and the data.
const referenceDir = "testdata/reference"

// referenceFile is NAME.json. The answers are kept as R printed them.
type referenceFile struct {
	ScriptSHA256 string            `json:"script_sha256"`
	Data         map[string]string `json:"data"`
	R            string            `json:"r"`
	Packages     map[string]string `json:"packages"`
	Date         string            `json:"date"`
	Answers      json.RawMessage   `json:"answers"`
}

// runReference reruns the R scripts of the named families, or of all, and
// stores their answers; with --check it only recomputes the hashes.
func runReference(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("reference", flag.ContinueOnError)
	flags.SetOutput(stderr)
	check := flags.Bool("check", false, "recompute the hashes only; needs no R")
	flags.Usage = func() {
		_, _ = fmt.Fprintln(stderr, "usage: go run ./cmd/dev reference [--check] [FAMILY[/NAME]...]")
		flags.PrintDefaults()
	}
	if err := flags.Parse(args); err != nil {
		return 64
	}
	scripts, err := referenceScripts(flags.Args())
	if err != nil {
		_, _ = fmt.Fprintln(stderr, "dev reference:", err)
		return 64
	}
	if *check {
		faults := checkReference(scripts, flags.NArg() == 0)
		for _, fault := range faults {
			_, _ = fmt.Fprintln(stderr, fault)
		}
		if len(faults) > 0 {
			_, _ = fmt.Fprintln(stderr, "dev reference: rerun `go run ./cmd/dev reference` where R is installed, and commit what it writes")
			return 1
		}
		_, _ = fmt.Fprintf(stdout, "%d reference scripts match their answers and data\n", len(scripts))
		return 0
	}
	for _, script := range scripts {
		changed, err := rerunReference(ctx, script, stderr)
		if err != nil {
			_, _ = fmt.Fprintln(stderr, "dev reference:", err)
			return 1
		}
		state := "same"
		if changed {
			state = "written"
		}
		_, _ = fmt.Fprintf(stdout, "%-8s %s\n", state, script)
	}
	return 0
}

// referenceScripts lists the scripts of the families, sorted.
func referenceScripts(families []string) ([]string, error) {
	if len(families) == 0 {
		families = []string{"*"}
	}
	var out []string
	for _, family := range families {
		pattern := filepath.Join(referenceDir, family, "*.R")
		if strings.Contains(family, "/") {
			pattern = filepath.Join(referenceDir, family+".R")
		}
		found, err := filepath.Glob(pattern)
		if err != nil {
			return nil, err
		}
		if len(found) == 0 {
			return nil, fmt.Errorf("no script matches %s; run it from the folder that holds go.mod", pattern)
		}
		out = append(out, found...)
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// rerunReference runs one script in its folder and says whether NAME.json
// changed. A file that would differ by its date alone is left as it is.
func rerunReference(ctx context.Context, script string, stderr io.Writer) (bool, error) {
	var printed bytes.Buffer
	cmd := exec.CommandContext(ctx, "Rscript", "--vanilla", filepath.Base(script))
	cmd.Dir = filepath.Dir(script)
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "TZ=UTC", "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	cmd.Stdout, cmd.Stderr = &printed, stderr
	if err := cmd.Run(); err != nil {
		return false, fmt.Errorf("%s: %w; install R with the packages that the script names", script, err)
	}
	var said struct {
		R        string            `json:"r"`
		Packages map[string]string `json:"packages"`
		Data     []string          `json:"data"`
		Answers  json.RawMessage   `json:"answers"`
	}
	if err := json.Unmarshal(printed.Bytes(), &said); err != nil {
		return false, fmt.Errorf("%s printed something that is not one answer(list(...)): %w", script, err)
	}
	file := referenceFile{
		Data:     map[string]string{},
		R:        said.R,
		Packages: said.Packages,
		Date:     time.Now().UTC().Format(time.DateOnly),
		Answers:  said.Answers,
	}
	var err error
	if file.ScriptSHA256, err = fileSHA256(script); err != nil {
		return false, err
	}
	for _, name := range said.Data {
		if file.Data[name], err = fileSHA256(filepath.Join(cmd.Dir, name)); err != nil {
			return false, err
		}
	}
	target := strings.TrimSuffix(script, ".R") + ".json"
	if old, err := readReference(target); err == nil {
		now := file
		now.Date = old.Date
		same, err := sameReference(*old, now)
		if err != nil {
			return false, err
		}
		if same {
			return false, nil
		}
	}
	text, err := file.encode()
	if err != nil {
		return false, err
	}
	return true, os.WriteFile(target, text, 0o644)
}

func sameReference(a, b referenceFile) (bool, error) {
	x, err := a.encode()
	if err != nil {
		return false, err
	}
	y, err := b.encode()
	return bytes.Equal(x, y), err
}

// encode keeps the answers in R's own layout, an array to a line, so that a
// changed answer is one changed line.
func (f referenceFile) encode() ([]byte, error) {
	answers := f.Answers
	f.Answers = json.RawMessage("null")
	head, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return nil, err
	}
	head = bytes.TrimSuffix(head, []byte("null\n}"))
	return slices.Concat(head, answers, []byte("\n}\n")), nil
}

func readReference(path string) (*referenceFile, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var file referenceFile
	if err := json.Unmarshal(text, &file); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &file, nil
}

// checkReference returns one line for every script, answer or data file that
// does not fit the others; with all scripts given, also for files of none.
func checkReference(scripts []string, all bool) []string {
	var faults []string
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	accounted := map[string]bool{}
	folders := map[string]bool{}
	for _, script := range scripts {
		folders[filepath.Dir(script)] = true
		target := strings.TrimSuffix(script, ".R") + ".json"
		accounted[script], accounted[target] = true, true
		file, err := readReference(target)
		if err != nil {
			fault("%s has no readable answers: %v", script, err)
			continue
		}
		if sum, err := fileSHA256(script); err != nil || sum != file.ScriptSHA256 {
			fault("%s is not the script that %s was made by", script, target)
		}
		for name, want := range file.Data {
			path := filepath.Join(filepath.Dir(script), name)
			accounted[path] = true
			sum, err := fileSHA256(path)
			switch {
			case errors.Is(err, fs.ErrNotExist):
				fault("%s is missing, %s needs it", path, target)
			case err != nil || sum != want:
				fault("%s is not the data that %s was made from", path, target)
			}
		}
	}
	for folder := range folders {
		found, err := filepath.Glob(filepath.Join(folder, "*"))
		if err != nil {
			fault("%s: %v", folder, err)
		}
		for _, path := range found {
			if all && !accounted[path] {
				fault("%s belongs to no script", path)
			}
		}
	}
	slices.Sort(faults)
	return faults
}

func fileSHA256(path string) (string, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}
