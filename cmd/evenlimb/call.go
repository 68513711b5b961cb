package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"evenlimb/cmd/internal/folder"
)

// command is one of the program's commands. Every one has the same shape.
type command struct {
	name  string
	args  string // what stands after the name, for help
	about string // one line for the list
	long  string // the paragraphs of its own help
	// flags adds the command's own flags; may be nil.
	flags func(*flag.FlagSet)
	run   func(context.Context, *call) (exit, error)
}

// call is one call of a command: its flags, its arguments and where it writes.
type call struct {
	dir   folder.Dir
	json  bool
	quiet bool
	help  bool
	args  []string
	given map[string]bool // the flags that stood on the command line

	now            func() time.Time
	stdout, stderr io.Writer
}

// common adds the flags that every command takes.
func (c *call) common(set *flag.FlagSet) {
	set.StringVar((*string)(&c.dir), "practice", ".", "the practice `folder`")
	set.BoolVar(&c.json, "json", false, "write the answer as JSON")
	set.BoolVar(&c.quiet, "quiet", false, "write no progress")
}

// parse reads flags and arguments, which may stand in any order.
func (c *call) parse(cmd command, args []string) error {
	set := flag.NewFlagSet(cmd.name, flag.ContinueOnError)
	set.SetOutput(io.Discard)
	c.common(set)
	if cmd.flags != nil {
		cmd.flags(set)
	}
	for len(args) > 0 {
		if err := set.Parse(args); err != nil {
			if errors.Is(err, flag.ErrHelp) {
				c.help = true
				return nil
			}
			return &usageError{fmt.Sprintf("%v; run `evenlimb %s --help` for its flags", err, cmd.name)}
		}
		args = set.Args()
		if len(args) > 0 {
			c.args = append(c.args, args[0])
			args = args[1:]
		}
	}
	c.given = map[string]bool{}
	set.Visit(func(f *flag.Flag) { c.given[f.Name] = true })
	wanted := len(strings.Fields(cmd.args))
	if len(c.args) != wanted {
		return &usageError{fmt.Sprintf("`evenlimb %s` takes %s; run `evenlimb %s --help`", strings.TrimSpace(cmd.name+" "+cmd.args), countArgs(wanted), cmd.name)}
	}
	return nil
}

func countArgs(n int) string {
	switch n {
	case 0:
		return "no argument besides its flags"
	case 1:
		return "one argument"
	default:
		return fmt.Sprintf("%d arguments", n)
	}
}

// practice checks that the folder is a practice folder.
func (c *call) practice() error {
	info, err := os.Stat(string(c.dir))
	switch {
	case errors.Is(err, os.ErrNotExist):
		return &practiceError{fmt.Errorf("there is no folder %s; make one with `evenlimb new %s`", c.dir, c.dir)}
	case err != nil:
		return &practiceError{fmt.Errorf("the folder %s cannot be read: %w; check who may read it", c.dir, err)}
	case !info.IsDir():
		return &practiceError{fmt.Errorf("%s is a file, not a practice folder; name the folder that holds practice.toml", c.dir)}
	}
	if _, err := os.Stat(c.dir.Settings()); err != nil {
		return &practiceError{fmt.Errorf("%s holds no practice.toml; name the practice folder with --practice, or make one with `evenlimb new %s`", c.dir, filepath.Join(string(c.dir), "practice"))}
	}
	return nil
}

// fail says what went wrong in one sentence and returns the exit code.
func (c *call) fail(cmd command, err error) exit {
	code := exitOf(err)
	if code == exitInterrupted {
		fmt.Fprintf(c.stderr, "evenlimb %s: interrupted. Nothing is lost; run it again and it goes on.\n", cmd.name)
		return code
	}
	fmt.Fprintf(c.stderr, "evenlimb %s: %s\n", cmd.name, sentence(err.Error()))
	return code
}

// sentence ends a text with a full stop unless it spans lines or has an end.
func sentence(text string) string {
	if strings.ContainsRune(text, '\n') || strings.HasSuffix(text, ".") || strings.HasSuffix(text, "?") {
		return text
	}
	return text + "."
}
