package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"evenlimb/cmd/internal/assemble"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// reader loads the settings of the folder for a command that only reads.
func (c *call) reader() (*night, error) {
	if err := c.practice(); err != nil {
		return nil, err
	}
	practice, err := settings.Load(string(c.dir))
	if err != nil {
		return nil, err
	}
	return &night{dir: c.dir, practice: practice, engine: engineOf(practice)}, nil
}

// batchAsOf reads --as-of: a date stands for the last batch received by then.
func (n *night) batchAsOf(ctx context.Context, text string) (batch int, err error) {
	newest, err := n.newestBatch(ctx)
	if err != nil {
		return 0, err
	}
	if number, found := strings.CutPrefix(text, "batch:"); found {
		batch, err := strconv.Atoi(number)
		if err != nil || batch < 1 || batch > newest {
			return 0, &usageError{fmt.Sprintf("--as-of %s: there is no such batch; the newest is batch:%d", text, newest)}
		}
		return batch, nil
	}
	date, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return 0, &usageError{fmt.Sprintf("--as-of %s: write a date such as 2026-03-31, or batch:%d", text, newest)}
	}
	err = assemble.WithLanding(ctx, n.dir, n.engine, func(l *warehouse.Landing) error {
		b, ok, err := l.BatchAsOf(ctx, date)
		if err == nil && !ok {
			err = &usageError{fmt.Sprintf("nothing was received by %s; `evenlimb status` lists what was", text)}
		}
		batch = b.Number
		return err
	})
	return batch, err
}
