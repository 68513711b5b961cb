package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/warehouse"
)

// tally is what became of rows. Read is the sum of the five after it.
type tally struct {
	Read        int `json:"read"`
	Accepted    int `json:"accepted"`
	Duplicates  int `json:"duplicates"`
	Corrections int `json:"corrections"`
	Withdrawals int `json:"withdrawals"`
	Quarantined int `json:"quarantined"`
	Skipped     int `json:"skipped"` // records that the layout passes over
	Gone        int `json:"gone"`    // rows withdrawn because a complete delivery leaves them out
}

func tallyOf(c warehouse.Counts) tally {
	return tally{c.Read, c.Accepted, c.Duplicates, c.Corrections, c.Withdrawals, c.Quarantined, c.Skipped, c.Gone}
}

// senderLine is what became of all that a sender sent.
type senderLine struct {
	Sender  string `json:"sender"`
	Files   int    `json:"files"`
	NotRead int    `json:"not_read"` // files of which nothing was taken in
	tally
	Waiting int `json:"waiting"` // accepted, but the row they belong to has not arrived
}

// fileLine is what became of one file.
type fileLine struct {
	Path   string `json:"path"`
	Batch  int    `json:"batch"`
	Again  bool   `json:"again"` // read again, by the layouts of that day
	Tables string `json:"tables"`
	Form   string `json:"form"`
	Layout string `json:"layout"`
	tally
	Listed  string `json:"listed,omitempty"` // the file that lists the rows in quarantine
	Problem string `json:"problem,omitempty"`
}

// heldLine is a delivery that waits for an answer.
type heldLine struct {
	Path  string `json:"path"`
	Words string `json:"words"`
}

// reconcile reads what became of every file up to the newest batch.
func (s *status) reconcile(ctx context.Context, l *warehouse.Landing) error {
	files, err := l.Files(ctx, s.Batch)
	if err != nil {
		return err
	}
	senders := map[string]int{}
	totals := []warehouse.Counts{}
	for _, f := range files {
		i, known := senders[f.Sender]
		if !known {
			i = len(totals)
			senders[f.Sender] = i
			totals = append(totals, warehouse.Counts{})
			s.Senders = append(s.Senders, senderLine{Sender: f.Sender})
		}
		totals[i].Add(f.Counts)
		s.Senders[i].Files++
		line := fileLine{
			Path: "inbox/" + f.Path, Batch: f.Batch, Again: f.AgainOf > 0, Tables: f.Table, Form: f.Form, Layout: f.Layout,
			tally: tallyOf(f.Counts), Problem: f.Problem.Words,
		}
		if f.Problem.Code != "" {
			s.Senders[i].NotRead++
		}
		if f.Counts.Quarantined > 0 {
			line.Listed = intake.QuarantineName(f)
		}
		s.Files = append(s.Files, line)
	}
	for i, c := range totals {
		s.Senders[i].tally = tallyOf(c)
	}
	held, err := l.Held(ctx)
	for _, f := range held {
		s.Held = append(s.Held, heldLine{"inbox/" + f.Path, f.Problem.Words})
	}
	return err
}

const tallyHeadings = "read\taccepted\tduplicates\tcorrections\twithdrawals\tquarantined\tskipped\tgone"

func (t tally) cells() string {
	return fmt.Sprintf("%d\t%d\t%d\t%d\t%d\t%d\t%d\t%d", t.Read, t.Accepted, t.Duplicates, t.Corrections, t.Withdrawals, t.Quarantined, t.Skipped, t.Gone)
}

// printFiles says what became of the rows of every sender, and of every file of
// the newest batch that took any in.
func (s status) printFiles(w io.Writer) {
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "\nSender\tfiles\tnot read\t"+tallyHeadings+"\twaiting")
	for _, l := range s.Senders {
		fmt.Fprintf(table, "  %s\t%d\t%d\t%s\t%d\n", l.Sender, l.Files, l.NotRead, l.cells(), l.Waiting)
	}
	_ = table.Flush() // a broken writer is told of at the end
	if len(s.Files) == 0 {
		return
	}
	newest := s.Files[len(s.Files)-1].Batch
	var lines, problems []fileLine
	earlier := 0
	for _, l := range s.Files {
		if l.Batch == newest {
			lines = append(lines, l)
		} else if l.Problem != "" || l.Quarantined > 0 {
			earlier++
		}
	}
	fmt.Fprintf(table, "\nFile of batch %d\ttables\t%s\tread as\n", newest, tallyHeadings)
	for _, l := range lines {
		if l.Problem != "" || l.Quarantined > 0 {
			problems = append(problems, l)
		}
		fmt.Fprintf(table, "  %s\t%s\t%s\t%s\n", strings.TrimPrefix(l.Path, "inbox/"), l.tables(), l.cells(), l.readAs())
	}
	_ = table.Flush() // as above
	if len(problems)+earlier > 0 {
		fmt.Fprintf(w, "\nFiles with rows in quarantine, or not read:\n")
	}
	for _, l := range problems {
		if l.Problem != "" {
			fmt.Fprintf(w, "  %s: %s\n", l.Path, l.Problem)
		} else {
			fmt.Fprintf(w, "  %s: %s, listed in %s\n", l.Path, counted(l.Quarantined, "row", "rows"), l.Listed)
		}
	}
	if earlier > 0 {
		fmt.Fprintf(w, "  and %s of earlier batches; --json lists them\n", counted(earlier, "file", "files"))
	}
	if len(s.Held) > 0 {
		fmt.Fprintln(w, "\nHeld back; every night stops before it computes results until it is answered:")
	}
	for _, h := range s.Held {
		fmt.Fprintf(w, "  %s: %s\n", h.Path, h.Words)
	}
}

func (l fileLine) tables() string {
	if l.Tables == "" {
		return "not read"
	}
	return l.Tables
}

// readAs says how a file was read and by which layout.
func (l fileLine) readAs() string {
	var parts []string
	for _, part := range []string{l.Form, l.Layout} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	if l.Again {
		parts = append(parts, "read again")
	}
	return strings.Join(parts, "; ")
}
