package main

import (
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"evenlimb/reports/words"
)

// help writes the list of commands and exit codes.
func help(w io.Writer) {
	fmt.Fprint(w, `Evenlimb answers, from a physiotherapy practice's own session exports, who got
back to which activity and when. Every night it takes in what the sites sent,
keeps it, computes the outcomes with their intervals and writes the reports.

Usage: evenlimb COMMAND [flags]

`)
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range commands() {
		fmt.Fprintf(table, "  %s\t%s\n", strings.TrimSpace(c.name+" "+c.args), c.about)
	}
	fmt.Fprint(table, "  help COMMAND\twhat a command does and its flags\n")
	fmt.Fprint(table, "\nEvery command takes --practice FOLDER (the working folder if left out), --json and --quiet.\n\nExit codes:\n\n")
	for _, row := range exitTable {
		fmt.Fprintf(table, "  %d\t%s\n", row.code, row.meaning)
	}
	_ = table.Flush() // the writer is a terminal or a buffer; there is nobody to tell
	fmt.Fprintln(w)
	for _, caution := range words.Cautions() {
		fmt.Fprintln(w, caution)
	}
}

// help writes what one command does and its flags.
func (c command) help(w io.Writer) {
	fmt.Fprintf(w, "Usage: evenlimb %s [flags]\n\n%s\n\nFlags:\n\n", strings.TrimSpace(c.name+" "+c.args), strings.TrimSpace(c.long))
	set := flag.NewFlagSet(c.name, flag.ContinueOnError)
	set.SetOutput(w)
	(&call{}).common(set)
	if c.flags != nil {
		c.flags(set)
	}
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	set.VisitAll(func(f *flag.Flag) {
		value, usage := flag.UnquoteUsage(f)
		name := "--" + f.Name
		if value != "" {
			name += " " + strings.ToUpper(value)
		}
		fmt.Fprintf(table, "  %s\t%s\n", name, usage)
	})
	_ = table.Flush() // as above
}
