package main

import (
	"context"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"evenlimb/cmd/internal/publish"
	"evenlimb/pipeline/nightly"
	"evenlimb/reports/monthly"
	"evenlimb/reports/words"
)

// questions are what results can be asked about.
var questions = []string{"return", "recurrence", "groups", "symmetry", "dose", "scores", "progression", "plan", "tolerance", "safety"}

type resultsFlags struct {
	question, injury, by, month string
	csv                         bool
}

func resultsCommand() command {
	var f resultsFlags
	return command{
		name:  "results",
		about: "the newest released figures on one question",
		long: `Prints the figures on a question as they were released in the newest report, with
their intervals, the people they rest on and their footnotes. Curves are left out of
the plain listing; --csv and --json have every point, under the field names of
results.figures. What the small-count rules hide stays hidden here too.

Without --by and --injury the figures of the whole practice are printed; where these
are counts alone, those of every injury type after them.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&f.question, "question", "", "return, recurrence, groups, symmetry, dose, scores, progression, plan, tolerance or safety: the `question`")
			set.StringVar(&f.injury, "injury", "", "the `type` of injury, by its code")
			set.StringVar(&f.by, "by", "", "site or type: one `group` beside the other")
			set.StringVar(&f.month, "month", "", "the `month` of the report, such as 2026-03; the newest if left out")
			set.BoolVar(&f.csv, "csv", false, "write CSV")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			month, err := f.check(c.json)
			if err != nil {
				return exitUsage, err
			}
			return runResults(ctx, c, f, month)
		},
	}
}

// check refuses what cannot be asked and returns the month.
func (f resultsFlags) check(asJSON bool) (time.Time, error) {
	switch {
	case f.question == "":
		return time.Time{}, &usageError{"name a question: --question " + strings.Join(questions, ", ")}
	case !slices.Contains(questions, f.question):
		return time.Time{}, &usageError{fmt.Sprintf("there is no question %q; the questions are %s", f.question, strings.Join(questions, ", "))}
	case f.by != "" && f.by != "site" && f.by != "type":
		return time.Time{}, &usageError{fmt.Sprintf("figures are not grouped by %q; --by takes site or type", f.by)}
	case f.csv && asJSON:
		return time.Time{}, &usageError{"--csv and --json exclude each other; leave one out"}
	}
	return parseMonth(f.month)
}

func runResults(ctx context.Context, c *call, f resultsFlags, month time.Time) (code exit, err error) {
	n, err := c.reader()
	if err != nil {
		return exitOf(err), err
	}
	lock, err := nightly.Hold(string(n.dir))
	if err != nil {
		return exitOf(err), err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	report, err := publish.Figures(ctx, n.dir, n.engine, month)
	if err != nil {
		return exitOf(err), err
	}
	if report == nil {
		what := "no report was published yet"
		if !month.IsZero() {
			what = "no report of " + month.Format("January 2006") + " was published"
		}
		return exitUsage, &usageError{what + "; `evenlimb monthly` writes one"}
	}
	figures, err := f.choose(report.Figures)
	if err != nil {
		return exitUsage, err
	}
	switch {
	case c.json:
		return exitDone, resultsJSON(c.stdout, figures)
	case f.csv:
		return exitDone, resultsCSV(c.stdout, figures)
	default:
		fmt.Fprintf(c.stdout, "%s, report of %s, as of batch %d (%s)\n", n.practice.Name, report.Month.Format("January 2006"), report.Entry.Batch, report.Entry.Folder)
		if n.practice.MadeUp {
			fmt.Fprintln(c.stdout, words.MadeUp)
		}
		return exitDone, printResults(c.stdout, figures)
	}
}

// choose returns the figures that were asked for.
func (f resultsFlags) choose(all []monthly.Listed) ([]monthly.Listed, error) {
	asked := slices.DeleteFunc(slices.Clone(all), func(l monthly.Listed) bool { return l.Cell("question") != f.question })
	if len(asked) == 0 {
		return nil, &usageError{fmt.Sprintf("the report holds no figure on %s", f.question)}
	}
	codes := func(column string) []string {
		var list []string
		for _, l := range asked {
			if code := l.Cell(column); code != "" && !slices.Contains(list, code) {
				list = append(list, code)
			}
		}
		return list
	}
	if f.injury != "" && !slices.Contains(codes("injury_type"), f.injury) {
		return nil, &usageError{fmt.Sprintf("the report holds no figure on %s of the injury type %q; it has %s", f.question, f.injury, strings.Join(codes("injury_type"), ", "))}
	}
	keep := func(injury, site bool) []monthly.Listed {
		return slices.DeleteFunc(slices.Clone(asked), func(l monthly.Listed) bool {
			return (f.injury != "" && l.Cell("injury_type") != f.injury) || (f.injury == "" && (l.Cell("injury_type") != "") != injury) || (l.Cell("site") != "") != site
		})
	}
	var chosen []monthly.Listed
	switch f.by {
	case "site":
		chosen = keep(false, true)
	case "type":
		chosen = keep(true, false)
	default:
		chosen = keep(false, false)
		estimated := func(l monthly.Listed) bool { return l.Cell("low") != "" || l.Cell("high") != "" }
		if f.injury == "" && !slices.ContainsFunc(chosen, estimated) {
			chosen = append(chosen, keep(true, false)...)
		}
	}
	if len(chosen) == 0 {
		return nil, &usageError{fmt.Sprintf("the report holds no figure on %s grouped so; leave --by or --injury out", f.question)}
	}
	return chosen, nil
}

// printResults writes a block for each picture, and under it the footnotes, each
// once.
func printResults(w io.Writer, figures []monthly.Listed) error {
	for len(figures) > 0 {
		picture, _, _ := strings.Cut(figures[0].Cell("figure_id"), "/")
		n := slices.IndexFunc(figures, func(l monthly.Listed) bool { return !strings.HasPrefix(l.Cell("figure_id"), picture+"/") })
		if n < 0 {
			n = len(figures)
		}
		if err := printPicture(w, picture, figures[:n]); err != nil {
			return err
		}
		figures = figures[n:]
	}
	_, err := fmt.Fprintf(w, "\n%s\n", words.CautionInBrief)
	return err
}

func printPicture(w io.Writer, picture string, figures []monthly.Listed) error {
	var notes []string
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "\n%s\n", picture)
	for _, l := range figures {
		if words.IsCurve(l.Cell("question"), l.Cell("statistic"), l.Cell("x") != "") {
			continue
		}
		mark := ""
		for _, note := range []string{l.Cell("reason"), l.Cell("warnings")} {
			if note == "" {
				continue
			}
			if !slices.Contains(notes, note) {
				notes = append(notes, note)
			}
			mark += fmt.Sprintf(" [%d]", slices.Index(notes, note)+1)
		}
		status := l.Cell("status")
		if status == "final" || status == "hidden" || status == "withheld" {
			status = "" // the value says it
		}
		_, statistic, _ := strings.Cut(l.Cell("figure_id"), "/")
		fmt.Fprintf(table, "  %s\t%s\t%s\t%s\t%s%s\n", statistic, l.Cell("shown_as"), limitsOf(l), peopleOf(l), status, mark)
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for i, note := range notes {
		fmt.Fprintf(w, "  [%d] %s\n", i+1, note)
	}
	return nil
}

// limitsOf are the limits, with as many digits as the value is printed with.
func limitsOf(l monthly.Listed) string {
	var limits [2]*float64
	for i, column := range []string{"low", "high"} {
		if v, ok := l.Number(column); ok {
			limits[i] = &v
		}
	}
	if limits[0] == nil && limits[1] == nil {
		return ""
	}
	return "(" + words.Limits(l.Cell("question"), l.Cell("statistic"), l.Cell("x") != "", l.Cell("unit"), limits[0], limits[1]) + ")"
}

func peopleOf(l monthly.Listed) string {
	n := l.Cell("persons")
	switch {
	case n == "" || n == "0":
		return ""
	case l.Cell("persons_rounded") == "true":
		return "about " + n + " people"
	case n == "1":
		return "1 person"
	default:
		return n + " people"
	}
}

func resultsCSV(w io.Writer, figures []monthly.Listed) error {
	out := csv.NewWriter(w)
	rows := [][]string{monthly.Columns()}
	for _, l := range figures {
		rows = append(rows, l.Cells())
	}
	return out.WriteAll(rows)
}

// resultsJSON writes numbers as numbers and leaves out what is empty.
func resultsJSON(w io.Writer, figures []monthly.Listed) error {
	numbers := []string{"x", "value", "low", "high", "level", "std_error", "persons", "episodes", "events", "exposure", "missing", "as_of_batch"}
	list := make([]map[string]any, 0, len(figures))
	for _, l := range figures {
		object := map[string]any{}
		for _, column := range monthly.Columns() {
			text := l.Cell(column)
			if v, ok := l.Number(column); ok && slices.Contains(numbers, column) {
				object[column] = v
			} else if text != "" {
				object[column] = text
			}
		}
		object["persons_rounded"] = l.Cell("persons_rounded") == "true"
		list = append(list, object)
	}
	return writeJSON(w, map[string]any{"caution": words.CautionInBrief, "figures": list})
}
