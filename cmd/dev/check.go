package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"evenlimb/cmd/internal/sameness"
)

// linter is pinned here and nowhere else.
const linter = "github.com/golangci/golangci-lint/v2/cmd/golangci-lint@v2.15.0"

// checkSteps are what `dev check` does, in order.
var checkSteps = []struct {
	name string
	run  func(ctx context.Context, stdout, stderr io.Writer) error
}{
	{"the module is tidy", tidy},
	{"the top level is the design card's", topLevel},
	{"nothing names a place of some machine or registry", foreignWords},
	{"the linter, import rules among it", lint},
	{"reference answers fit their scripts and data", with(runReference, "--check")},
	{"the truth fits its generator", with(writeTruth, "--check")},
	{"the default practice: found, in time, the same bytes again", defaultPractice},
}

func check(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	if len(args) > 0 {
		fmt.Fprintln(stderr, "dev check takes no arguments")
		return 64
	}
	failed := 0
	for _, step := range checkSteps {
		began := time.Now()
		err := step.run(ctx, stdout, stderr)
		if err != nil {
			failed++
			fmt.Fprintf(stdout, "FAIL  %s (%.0f s)\n%s\n", step.name, time.Since(began).Seconds(), indent(err.Error()))
			continue
		}
		fmt.Fprintf(stdout, "ok    %s (%.0f s)\n", step.name, time.Since(began).Seconds())
	}
	fmt.Fprintf(stdout, "%d passed, %d failed\n", len(checkSteps)-failed, failed)
	if failed > 0 {
		return 1
	}
	return 0
}

// with makes a step of another command of this program.
func with(run func(context.Context, []string, io.Writer, io.Writer) int, args ...string) func(context.Context, io.Writer, io.Writer) error {
	return func(ctx context.Context, _, _ io.Writer) error {
		var out bytes.Buffer
		if code := run(ctx, args, &out, &out); code != 0 {
			return errors.New(out.String())
		}
		return nil
	}
}

func indent(text string) string {
	return "      " + strings.ReplaceAll(strings.TrimSpace(text), "\n", "\n      ")
}

// runProgram runs a program in the module's folder and returns its output as the
// error's text when it fails.
func runProgram(ctx context.Context, name string, args ...string) error {
	cmd := exec.CommandContext(ctx, name, args...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, out.String())
	}
	return nil
}

// tidy compares go.mod with what the sources import, and every module with the
// digest in go.sum.
func tidy(ctx context.Context, _, _ io.Writer) error {
	return runProgram(ctx, "go", "mod", "tidy", "-diff")
}

func lint(ctx context.Context, _, _ io.Writer) error {
	return runProgram(ctx, "go", "run", linter, "run", "./...")
}

// topLevel keeps the top of the tree to what the design card names.
func topLevel(ctx context.Context, _, _ io.Writer) error {
	allowed := map[string]bool{}
	for _, name := range strings.Fields("cmd pipeline queries reports seeds testdata README.md DEVELOPERS.md go.mod go.sum") {
		allowed[name] = true
	}
	files, err := tracked(ctx)
	if err != nil {
		return err
	}
	for _, file := range files {
		top, _, _ := strings.Cut(file, "/")
		if !allowed[top] && !strings.HasPrefix(top, ".") {
			return fmt.Errorf("%s is not on the design card", top)
		}
	}
	return nil
}

// foreign are words that a reader of the project must never meet: places of
// some machine, hosts of registries.
var foreign = regexp.MustCompile(`(^|[^A-Za-z0-9_.])/(work|root|home)/[a-z.]|proxy\.golang\.org|registry\.npmjs|deb\.debian|pkg\.go\.dev`)

func foreignWords(ctx context.Context, _, _ io.Writer) error {
	files, err := tracked(ctx)
	if err != nil {
		return err
	}
	for _, file := range files {
		if file == "cmd/dev/check.go" || file == "go.sum" {
			continue
		}
		data, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		if bytes.IndexByte(data, 0) >= 0 {
			continue
		}
		for i, line := range strings.Split(string(data), "\n") {
			if found := foreign.FindString(line); found != "" {
				return fmt.Errorf("%s:%d: %s", file, i+1, strings.TrimSpace(found))
			}
		}
	}
	return nil
}

func tracked(ctx context.Context) ([]string, error) {
	out, err := exec.CommandContext(ctx, "git", "ls-files").Output()
	if err != nil {
		return nil, fmt.Errorf("list the files: %w", err)
	}
	var files []string
	for _, file := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		if _, err := os.Stat(filepath.FromSlash(file)); err == nil {
			files = append(files, file)
		}
	}
	return files, nil
}

// defaultPractice lives through the made-up practice at its default size with
// the built program, and has its reports made again in every surrounding.
func defaultPractice(ctx context.Context, stdout, _ io.Writer) (err error) {
	scratch, err := os.MkdirTemp("", "evenlimb-check-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(scratch)) }()
	program, dir := filepath.Join(scratch, "evenlimb"), filepath.Join(scratch, "practice")
	if err := runProgram(ctx, "go", "build", "-o", program, "./cmd/evenlimb"); err != nil {
		return err
	}
	began := time.Now()
	if err := runProgram(ctx, program, "demo", dir, "--quiet"); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "      the demo took %.0f s\n", time.Since(began).Seconds())
	if dir, err = sameness.Check(ctx, program, dir, sameness.Surroundings()); err != nil {
		return err
	}
	return sameness.Earlier(ctx, program, dir, "harbour", filepath.Join(scratch, "earlier"))
}
