package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/settings"
)

func tryLayout(ctx context.Context, c *call, f sentFile, asked layoutAsked) (exit, error) {
	if err := f.needsSender(); err != nil {
		return exitOf(err), err
	}
	if asked.layout != "" {
		text, err := os.ReadFile(asked.layout)
		if err != nil {
			return exitUsage, &usageError{fmt.Sprintf("the layout %s cannot be read: %v", asked.layout, err)}
		}
		l, err := settings.ParseLayout(text, asked.layout, f.practice)
		if err != nil {
			return exitPractice, &practiceError{err}
		}
		l.From, l.Sender, l.File.Match = time.Time{}, f.sender, nil
		f.layouts = []*settings.Layout{l}
	}
	trial, err := intake.Try(ctx, intake.TryInput{
		File: f.input(), Sender: f.sender, Below: f.below, Practice: f.practice, Layouts: f.layouts, Now: c.now(), Show: max(0, asked.rows),
	})
	if err != nil {
		return exitOf(err), err
	}
	code := exitDone
	if trial.Problem.Code != "" || trial.Rejected() > 0 {
		code = exitAttention
	}
	if c.json {
		return code, writeJSON(c.stdout, trial)
	}
	return code, sayTrial(c, f, trial)
}

func sayTrial(c *call, f sentFile, t intake.Trial) error {
	w := c.stdout
	fmt.Fprintf(w, "%s, of the sender %s", f.below, f.sender)
	if t.Form != "" {
		fmt.Fprintf(w, ", read as %s", t.Form)
	}
	by := "the headings of the export tables"
	if t.Layout != "" {
		by = t.Layout
	}
	if t.Problem.Code != "" {
		_, err := fmt.Fprintf(w, "\nNothing of it would be taken in: %s (%s)\n", sentence(t.Problem.Words), t.Problem.Code)
		return err
	}
	fmt.Fprintf(w, "\nby %s\n", by)
	for _, one := range t.Tables {
		sayTrialTable(c, one)
	}
	if t.Skipped > 0 {
		fmt.Fprintf(w, "\n%s would be passed over, as the layout says.\n", counted(t.Skipped, "row", "rows"))
	}
	for _, r := range t.Broken {
		fmt.Fprintf(w, "\n%s cannot be read at all, first at %s: %s\n", counted(r.Count, "row", "rows"), r.First, sentence(r.Words))
	}
	_, err := fmt.Fprintf(w, "\nNothing was changed. Whether rows are new, the same or corrections shows when they are taken in.\n")
	return err
}

// widest is how many letters of a cell are shown.
const widest = 24

func sayTrialTable(c *call, t intake.TrialTable) {
	w := c.stdout
	fmt.Fprintf(w, "\n%s", t.Table)
	if t.Sheet != "" {
		fmt.Fprintf(w, " from the sheet %q", t.Sheet)
	}
	fmt.Fprintf(w, ": %s would be kept, %s would not\n", counted(t.Kept, "row", "rows"), counted(t.Rejected, "row", "rows"))
	for i, name := range t.Columns {
		if i == 0 {
			fmt.Fprintf(w, "  the first %s:\n", counted(len(t.Rows), "row", "rows"))
		}
		var cells []string
		for _, row := range t.Rows {
			cells = append(cells, shortened(row[i]))
		}
		table := tabwriter.NewWriter(w, 4+widest, 0, 2, ' ', 0)
		fmt.Fprintf(table, "    %s\t%s\n", name, strings.Join(cells, "\t"))
		_ = table.Flush() // a terminal that cannot be written to has nobody to tell
	}
	for _, r := range t.Reasons {
		fmt.Fprintf(w, "  not kept, %s, first at %s: %s (%s)\n", counted(r.Count, "row", "rows"), r.First, r.Words, r.Code)
	}
	for _, n := range t.Findings {
		fmt.Fprintf(w, "  odd, %s: %s (%s)\n", counted(n.Count, "row", "rows"), n.Words, n.Code)
	}
}

func shortened(text string) string {
	if letters := []rune(strings.ReplaceAll(text, "\n", " ")); len(letters) > widest {
		return string(letters[:widest-3]) + "..."
	}
	return strings.ReplaceAll(text, "\n", " ")
}
