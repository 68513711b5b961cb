package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// mutantVariable tells a test binary which of its mutants to be; 0 or unset is none.
const mutantVariable = "EVENLIMB_MUTANT"

// markVariable names the file that a mutant writes when it changed a number. A
// mutant that met only zeros, of which one per cent is nothing, is run again
// without it and then turns zero into 0.01.
const markVariable = "EVENLIMB_MUTANT_MARK"

// runMutate asks of every number that the statistics packages return whether a
// test would notice it being one per cent off. It exits with 1 when some would
// go unnoticed.
func runMutate(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("mutate", flag.ContinueOnError)
	flags.SetOutput(stderr)
	only := flags.String("only", "", "only results whose name contains this, such as Fit or Combine")
	list := flags.Bool("list", false, "list the results without testing them")
	flags.Usage = func() {
		fmt.Fprintln(stderr, "usage: go run ./cmd/dev mutate [--only NAME] [--list] [PACKAGE...]")
		fmt.Fprintln(stderr, "PACKAGE is a pattern such as ./pipeline/stats/mixed (default ./pipeline/stats/...).")
		flags.PrintDefaults()
	}
	if err := flags.Parse(args); err != nil {
		return 64
	}
	patterns := flags.Args()
	if len(patterns) == 0 {
		patterns = []string{"./pipeline/stats/..."}
	}
	loaded, err := loadTyped(ctx, patterns)
	if err != nil {
		fmt.Fprintln(stderr, "dev mutate:", err)
		return 1
	}
	survived := 0
	for _, p := range loaded {
		// What only our own packages can see is tested through them.
		if strings.Contains(p.path, "/internal/") {
			continue
		}
		rewritten := rewritePackage(p, *only)
		if *list {
			for _, m := range rewritten.mutants {
				fmt.Fprintf(stdout, "%s.%s\n", p.name, m)
			}
			continue
		}
		left, err := testMutants(ctx, p, rewritten, stdout)
		if err != nil {
			fmt.Fprintf(stderr, "dev mutate: %s: %v\n", p.path, err)
			return 1
		}
		survived += left
	}
	if survived > 0 {
		fmt.Fprintf(stderr, "dev mutate: %d results could be one per cent off without a test failing; compare them in a test\n", survived)
		return 1
	}
	return 0
}

// testMutants builds the tests of a package once, with all mutants in, and runs
// them once per mutant. It returns how many survived.
func testMutants(ctx context.Context, p *typedPackage, r *rewritten, stdout io.Writer) (int, error) {
	if len(r.mutants) == 0 {
		return 0, nil
	}
	dir, err := os.MkdirTemp("", "evenlimb-mutate-")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a temporary folder
	binary, err := buildMutants(ctx, p, r, dir)
	if err != nil {
		return 0, err
	}
	if binary == "" {
		for _, m := range r.mutants {
			fmt.Fprintf(stdout, "survived  %s.%s (no tests)\n", p.name, m)
		}
		return len(r.mutants), nil
	}
	start := time.Now()
	mark := filepath.Join(dir, "mark")
	killed, output, err := runMutant(ctx, p.dir, binary, 0, mark, 10*time.Minute)
	if err != nil {
		return 0, err
	}
	if killed {
		return 0, fmt.Errorf("the tests fail without any mutant, make them pass first:\n%s", output)
	}
	limit := 10*time.Since(start) + 10*time.Second
	left, hung := 0, 0
	for k, m := range r.mutants {
		began := time.Now()
		killed, _, err := runMutant(ctx, p.dir, binary, k+1, mark, limit)
		if err != nil {
			return 0, err
		}
		if err := os.Remove(mark); !killed && errors.Is(err, os.ErrNotExist) {
			if killed, _, err = runMutant(ctx, p.dir, binary, k+1, "", limit); err != nil {
				return 0, err
			}
		}
		if killed && time.Since(began) > limit {
			hung++
			fmt.Fprintf(stdout, "hung      %s.%s\n", p.name, m)
		}
		if !killed {
			left++
			fmt.Fprintf(stdout, "survived  %s.%s\n", p.name, m)
		}
	}
	fmt.Fprintf(stdout, "%-40s %d results, %d unnoticed, %d known by hanging\n", p.path, len(r.mutants), left, hung)
	return left, nil
}

// buildMutants compiles the tests over the rewritten files, which exist only in
// dir: the checkout is not touched. Without tests it returns no binary.
func buildMutants(ctx context.Context, p *typedPackage, r *rewritten, dir string) (string, error) {
	overlay := struct{ Replace map[string]string }{map[string]string{}}
	for path, text := range r.files {
		file := filepath.Join(dir, fmt.Sprintf("%d.go", len(overlay.Replace)))
		if err := os.WriteFile(file, text, 0o600); err != nil {
			return "", err
		}
		overlay.Replace[path] = file
	}
	text, err := json.Marshal(overlay)
	if err != nil {
		return "", err
	}
	overlayFile := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(overlayFile, text, 0o600); err != nil {
		return "", err
	}
	binary := filepath.Join(dir, "mutants.test")
	build := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-overlay", overlayFile, "-o", binary, p.path)
	build.Dir = p.dir
	if output, err := build.CombinedOutput(); err != nil {
		return "", fmt.Errorf("building the mutants: %w\n%s", err, output)
	}
	if _, err := os.Stat(binary); errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	return binary, nil
}

// runMutant runs the tests as one mutant; it is killed when they fail or hang.
func runMutant(ctx context.Context, dir, binary string, mutant int, mark string, limit time.Duration) (killed bool, output []byte, err error) {
	limited, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	test := exec.CommandContext(limited, binary, "-test.failfast", "-test.short")
	test.Dir = dir
	test.Env = append(os.Environ(), fmt.Sprintf("%s=%d", mutantVariable, mutant), markVariable+"="+mark)
	output, err = test.CombinedOutput()
	if ctx.Err() != nil {
		return false, nil, ctx.Err()
	}
	if exit := (*exec.ExitError)(nil); errors.As(err, &exit) || limited.Err() != nil {
		return true, output, nil
	}
	return false, output, err
}
