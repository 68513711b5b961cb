package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"evenlimb/seeds/practice"
)

// truthFile holds the truth of the default made-up practice.
const truthFile = "testdata/truth/default.json"

// writeTruth is `dev truth`: it computes what the figures of the default
// made-up practice estimate, or with --check says whether the file is that of
// today's generator.
func writeTruth(_ context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("truth", flag.ContinueOnError)
	flags.SetOutput(stderr)
	episodes := flags.Int("episodes", 1_000_000, "episodes to draw")
	check := flags.Bool("check", false, "only say whether the file is up to date")
	if err := flags.Parse(args); err != nil || flags.NArg() > 0 || *episodes < 20_000 {
		fmt.Fprintln(stderr, "usage: go run ./cmd/dev truth [--check] [--episodes N], N at least 20000")
		return 64
	}
	if *check {
		if err := checkTruth(); err != nil {
			fmt.Fprintln(stderr, "dev truth:", err)
			return 1
		}
		fmt.Fprintln(stdout, truthFile, "is that of today's generator")
		return 0
	}
	began := time.Now()
	truth, err := practice.ComputeTruth(practice.Default(), *episodes)
	if err != nil {
		fmt.Fprintln(stderr, "dev truth:", err)
		return 1
	}
	data, err := truth.Write()
	if err == nil {
		err = os.WriteFile(truthFile, data, 0o644)
	}
	if err != nil {
		fmt.Fprintln(stderr, "dev truth:", err)
		return 1
	}
	fmt.Fprintf(stdout, "%s: %d values from %d episodes in %.0f s\n", truthFile, len(truth.Values), *episodes, time.Since(began).Seconds())
	return 0
}

func checkTruth() error {
	data, err := os.ReadFile(truthFile)
	if err != nil {
		return fmt.Errorf("%w; run `go run ./cmd/dev truth` in the project's folder", err)
	}
	truth, err := practice.ReadTruth(data)
	if err != nil {
		return err
	}
	if truth.Generator != practice.Digest(practice.Default()) {
		return fmt.Errorf("%s is of another generator; run `go run ./cmd/dev truth` and commit what it writes", truthFile)
	}
	return nil
}
