package main

import (
	"context"
	"flag"
	"time"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/warehouse"
)

// asked is what the intake is asked for beside what is new in the inbox.
type asked struct {
	again    string // a file or a sender to be read again
	accept   string // a file that was held back and is whole
	setAside string // a file that was held back and is to be gone on without
}

func intakeCommand() command {
	var what asked
	return command{
		name:  "intake",
		about: "the first part of nightly alone: takes in what is new",
		long: `Takes in the files that were dropped into inbox/ since the last run and stops
there. Results and reports stay as they are until the next evenlimb nightly.

--again reads a file, or all files of a sender, once more from archive/, by the
layouts of today: after a layout was found wrong. What they say differently is a
correction received today, rows that they no longer say are withdrawn, and results
as of an earlier day stay what they were. Where a file sent later says something
about a row, that holds.

A complete delivery that leaves out too many rows is held back, and every night ends
with 4 until somebody says what it is: --accept takes it in as it is, --set-aside
goes on without it, and so does a later delivery by the same layout.`,
		flags: func(set *flag.FlagSet) {
			set.StringVar(&what.again, "again", "", "read this `file` or sender once more by today's layouts")
			set.StringVar(&what.accept, "accept", "", "take in this `file`, which was held back: it is whole")
			set.StringVar(&what.setAside, "set-aside", "", "go on without this `file`, which was held back")
		},
		run: func(ctx context.Context, c *call) (exit, error) {
			if len(c.given) > 0 && (c.given["again"] && what.again == "" || c.given["accept"] && what.accept == "" || c.given["set-aside"] && what.setAside == "") {
				return exitUsage, &usageError{"--again, --accept and --set-aside name a file of the inbox, such as inbox/SENDER/NAME"}
			}
			outcome, n, err := runAsked(ctx, c, "intake", what, func(n *night) []nightly.Stage {
				return []nightly.Stage{{Name: "Taking in files", Run: n.takeIn}}
			})
			if err != nil {
				return exitOf(err), err
			}
			return reportNight(c, n, outcome)
		},
	}
}

// answer does what is asked for and returns the files of the archive that are
// to be taken in beside what is new.
func (a asked) answer(ctx context.Context, dir folder.Dir, l *warehouse.Landing, now time.Time) (also []warehouse.Planned, err error) {
	if a.setAside != "" {
		if err := intake.SetAside(ctx, l, a.setAside, now); err != nil {
			return nil, err
		}
	}
	if a.again != "" {
		if also, err = intake.ReadAgain(ctx, string(dir), l, a.again); err != nil {
			return nil, err
		}
	}
	if a.accept != "" {
		meant, err := intake.Accept(ctx, l, a.accept)
		if err != nil {
			return nil, err
		}
		also = append(also, meant)
	}
	return also, nil
}
