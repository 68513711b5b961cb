// Command dev is the contributors' one command: checks, tests, reference
// answers, goldens, benchmarks. Run `go run ./cmd/dev` for the list.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
)

// command is one subcommand. run gets the arguments after its name and returns
// the exit code: 0 done, 1 something was found wrong, 64 command line wrong.
type command struct {
	name  string
	about string
	run   func(ctx context.Context, args []string, stdout, stderr io.Writer) int
}

// commands in the order of the list that help prints.
var commands = []command{
	{"bench", "measure our speed beside R's, in one run", runBench},
	{"calibrate", "prove the intervals on made-up practices whose truth is known", runCalibrate},
	{"check", "what a change must pass beside `go test ./...`", check},
	{"look", "render every page, workbook and plot under a folder to pictures, and check them", runLook},
	{"mutate", "find results of the statistics that could be one per cent off unnoticed", runMutate},
	{"practice", "write the files of a made-up practice into a folder", writePractice},
	{"reference", "rerun the R scripts of the reference answers, or --check their hashes", runReference},
	{"truth", "compute what the made-up practice's figures estimate, or --check the file", writeTruth},
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	if len(args) > 0 {
		for _, c := range commands {
			if c.name == args[0] {
				return c.run(ctx, args[1:], stdout, stderr)
			}
		}
		fmt.Fprintf(stderr, "dev: no command %q\n", args[0])
	}
	fmt.Fprintln(stderr, "usage: go run ./cmd/dev COMMAND [flags]")
	for _, c := range commands {
		fmt.Fprintf(stderr, "  %-10s %s\n", c.name, c.about)
	}
	return 64
}
