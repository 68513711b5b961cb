package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/words"
)

func statusCommand() command {
	return command{
		name:  "status",
		about: "the last runs, what waits, what is quarantined, what is missing, by site",
		long: `Says how the last runs ended, how far each site's data reach, what became of every
sender's rows and of every file of the newest batch (with --json: of every file), how
each was read and by which layout, what waits for an answer, and what the checks
found. While a run holds the folder it says how far that run is.

Of every file, the rows read are the rows accepted, the duplicates, the corrections,
the withdrawals and those in quarantine. Counted apart are records that a layout
passes over, and rows withdrawn because a complete delivery leaves them out.`,
		run: func(ctx context.Context, c *call) (exit, error) {
			n, err := c.reader()
			if err != nil {
				return exitOf(err), err
			}
			s, err := n.status(ctx)
			if err != nil {
				return exitOf(err), err
			}
			if c.json {
				return exitDone, writeJSON(c.stdout, s)
			}
			return exitDone, s.print(c.stdout, c.now())
		},
	}
}

// status is what the command says.
type status struct {
	Practice  string         `json:"practice"`
	Running   *nightly.State `json:"running,omitempty"`
	Batch     int            `json:"batch"`
	Received  string         `json:"received,omitempty"`
	Runs      []runLine      `json:"runs"`
	Sites     []siteLine     `json:"sites"`
	Senders   []senderLine   `json:"senders"`
	Files     []fileLine     `json:"files"`
	Held      []heldLine     `json:"held"`
	Findings  []findingLine  `json:"findings"`
	Published []string       `json:"published"`
}

type runLine struct {
	Run      int    `json:"run"`
	Command  string `json:"command"`
	Started  string `json:"started"`
	Outcome  string `json:"outcome"`
	ExitCode int    `json:"exit_code"`
}

type siteLine struct {
	Site        string `json:"site"`
	DataThrough string `json:"data_through,omitempty"`
	Silent      bool   `json:"silent"`
}

type findingLine struct {
	Check    string `json:"check"`
	Severity string `json:"severity"`
	Subjects int    `json:"subjects"`
	Rows     int    `json:"rows"`
	Example  string `json:"example"`
}

// shownRuns is how many of the last runs status lists.
const shownRuns = 5

func (n *night) status(ctx context.Context) (s status, err error) {
	s.Practice = n.practice.Name
	state, ok, err := nightly.ReadState(string(n.dir))
	if err != nil {
		return s, err
	}
	lock, err := nightly.Hold(string(n.dir))
	if errors.Is(err, nightly.ErrBusy) && ok {
		s.Running = &state
		return s, nil
	}
	if err != nil {
		return s, err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	if err := assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) error { return s.fromLanding(ctx, l) }); err != nil {
		return s, err
	}
	if _, err := os.Stat(n.dir.Warehouse()); errors.Is(err, os.ErrNotExist) || s.Batch == 0 {
		return s, nil
	}
	return s, n.fromWarehouse(ctx, &s)
}

func (s *status) fromLanding(ctx context.Context, l *warehouse.Landing) error {
	runs, err := l.Runs(ctx, shownRuns)
	if err != nil {
		return err
	}
	for _, r := range runs {
		line := runLine{Run: r.Number, Command: r.Command, Started: r.Started.UTC().Format(time.RFC3339), Outcome: r.Outcome, ExitCode: r.ExitCode}
		if r.Ended.IsZero() {
			line.Outcome = "cut off; the next run goes on where it ended"
		}
		s.Runs = append(s.Runs, line)
	}
	batches, err := l.Batches(ctx)
	if err != nil {
		return err
	}
	for _, b := range batches {
		s.Batch, s.Received = b.Number, b.ReceivedOn.Format(time.DateOnly)
	}
	if err := s.reconcile(ctx, l); err != nil {
		return err
	}
	entries, err := l.Publications(ctx, 0)
	for _, e := range entries {
		s.Published = append(s.Published, e.Folder)
	}
	return err
}

func (n *night) fromWarehouse(ctx context.Context, s *status) (err error) {
	a, err := assemble.OpenBuilt(ctx, n.dir, n.engine, s.Batch, n.dir.Warehouse())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	about, err := a.Context(ctx, time.Date(a.Batch.ReceivedOn.Year(), a.Batch.ReceivedOn.Month(), 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		return err
	}
	for _, f := range about.Files {
		if i := slices.IndexFunc(s.Senders, func(l senderLine) bool { return l.Sender == f.Sender }); i >= 0 {
			s.Senders[i].Waiting = f.Waiting
		}
	}
	for _, site := range about.Sites {
		line := siteLine{Site: site.Code, Silent: site.Silent}
		if !site.DataThrough.IsZero() {
			line.DataThrough = site.DataThrough.Format(time.DateOnly)
		}
		s.Sites = append(s.Sites, line)
	}
	findings, err := a.Warehouse.Findings(ctx)
	s.Findings = byCheck(findings)
	return err
}

// byCheck counts findings by check, those that need a person first.
func byCheck(findings []warehouse.Finding) []findingLine {
	var lines []findingLine
	for _, f := range findings {
		i := slices.IndexFunc(lines, func(l findingLine) bool { return l.Check == f.Check && l.Severity == f.Severity })
		if i < 0 {
			i = len(lines)
			lines = append(lines, findingLine{Check: f.Check, Severity: f.Severity, Example: f.Text})
		}
		lines[i].Subjects++
		lines[i].Rows += f.Count
	}
	slices.SortStableFunc(lines, func(a, b findingLine) int {
		if a.Severity != b.Severity {
			return strings.Compare(a.Severity, b.Severity) // attention before note
		}
		return strings.Compare(a.Check, b.Check)
	})
	return lines
}

func (s status) print(w io.Writer, now time.Time) error {
	fmt.Fprintf(w, "%s\n", s.Practice)
	if r := s.Running; r != nil {
		_, err := fmt.Fprintf(w, "\nA run of `evenlimb %s` holds the folder since %s: %s %s\n", r.Command, words.Count(int(now.Sub(r.Began).Seconds()))+" seconds", r.Stage, r.Step)
		return err
	}
	if s.Batch == 0 {
		_, err := fmt.Fprintln(w, "\nNothing was taken in yet. Drop the sites' files into inbox/SENDER/ and run `evenlimb nightly`.")
		return err
	}
	fmt.Fprintf(w, "\nNewest batch %d, received on %s.\n", s.Batch, s.Received)
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "\nLast runs\t\t\t")
	for _, r := range s.Runs {
		fmt.Fprintf(table, "  %s\t%s\texit %d\t%s\n", r.Started, r.Command, r.ExitCode, r.Outcome)
	}
	fmt.Fprintln(table, "\nSite\tdata through\t\t")
	for _, l := range s.Sites {
		note, through := "", l.DataThrough
		if l.Silent {
			note = "silent: ask the site for its files"
		}
		if through == "" {
			through = "nothing received"
		}
		fmt.Fprintf(table, "  %s\t%s\t%s\t\n", l.Site, through, note)
	}
	_ = table.Flush() // the writer below tells of a broken one
	s.printFiles(w)
	if len(s.Findings) > 0 {
		fmt.Fprintln(w, "\nWhat the checks found:")
		for _, f := range s.Findings {
			fmt.Fprintf(table, "  %s\t%s\t%d\t%s\n", f.Severity, f.Check, f.Rows, f.Example)
		}
		_ = table.Flush() // as above
	}
	_, err := fmt.Fprintf(w, "\nPublished: %s\n", words.Join(s.Published))
	return err
}

// counted is a number with its noun.
func counted(n int, singular, plural string) string {
	return words.Count(n) + " " + words.Plural(n, singular, plural)
}
