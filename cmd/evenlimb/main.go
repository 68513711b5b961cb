// Command evenlimb takes in a practice's session exports every night and turns
// them into outcomes with intervals. Each command is one file of this package;
// the story of a night is told in pipeline/doc.go.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
)

func main() {
	syscall.Umask(0o077) // what a practice folder holds is for its owner alone
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], os.Stdout, os.Stderr, time.Now)
	stop()
	os.Exit(code)
}

// commands in the order in which help lists them. It is a function because
// help itself reads it.
func commands() []command {
	return []command{
		demoCommand(), newCommand(), nightlyCommand(), intakeCommand(), monthlyCommand(),
		resultsCommand(), traceCommand(), sidesCommand(), statusCommand(), layoutCommand(), rebuildCommand(), tablesCommand(), versionCommand(),
	}
}

// run is the whole program: it finds the command, reads its flags, runs it and
// says how it ended, in a sentence and as an exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer, now func() time.Time) int {
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		if len(args) > 1 {
			args = []string{args[1], "--help"}
		} else {
			help(stdout)
			return int(exitDone)
		}
	}
	for _, c := range commands() {
		if c.name != args[0] {
			continue
		}
		call := &call{now: now, stdout: stdout, stderr: stderr}
		if err := call.parse(c, args[1:]); err != nil {
			return int(call.fail(c, err))
		}
		if call.help {
			c.help(stdout)
			return int(exitDone)
		}
		code, err := c.run(ctx, call)
		if err != nil && ctx.Err() != nil {
			err = ctx.Err() // whatever broke first, it broke because the run was interrupted
		}
		if err != nil {
			return int(call.fail(c, err))
		}
		return int(code)
	}
	var names []string
	for _, c := range commands() {
		names = append(names, c.name)
	}
	fmt.Fprintf(stderr, "evenlimb: there is no command %q; the commands are %s.\nRun `evenlimb help` for what each does.\n", args[0], strings.Join(names, ", "))
	return int(exitUsage)
}
