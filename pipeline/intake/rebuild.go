package intake

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// Rebuild fills an empty landing store from the archive: each batch with the
// settings, the day and the files that archive/index.ndjson names. The inbox is
// not looked at, and nothing in the archive changes. By the program that took
// the files in, the store holds what the first one held; another program may
// read the same files in another way.
//
// Input.Now, Program and Also are not used: batches keep their own.
func Rebuild(ctx context.Context, in Input) (Report, error) {
	if in.Log == nil {
		in.Log = slog.New(slog.DiscardHandler)
	}
	r := &run{in: in}
	if err := r.replay(ctx); err != nil {
		return r.report, fmt.Errorf("rebuild from the archive: %w", err)
	}
	return r.report, nil
}

func (r *run) replay(ctx context.Context) error {
	batches, err := readIndex(r.in.Dir)
	if err != nil {
		return err
	}
	if there, err := r.in.Landing.Batches(ctx); err != nil || len(there) > 0 {
		return errors.Join(errors.New("the landing store to be filled is not empty"), err)
	}
	for _, b := range batches {
		plan, changed, err := r.indexed(b)
		if err != nil {
			return err
		}
		batch, back, err := r.in.Landing.OpenBatch(ctx, b.ReceivedOn, b.Program, plan, changed)
		if err != nil {
			return err
		}
		if back || batch.Number != b.Number {
			return fmt.Errorf("batch %d of archive/%s does not follow the one before it; put the archive back from a backup", b.Number, indexFile)
		}
		r.progress(Event{Stage: "planned", Total: len(plan)})
		if err := r.finish(ctx, batch, plan); err != nil {
			return err
		}
		r.report.Batch = batch
	}
	return nil
}

// indexed turns the index's lines of a batch into its plan and its settings.
func (r *run) indexed(b indexedBatch) (plan []warehouse.Planned, changed []settings.File, err error) {
	for _, l := range b.lines {
		if l.Kind != ofSettings {
			plan = append(plan, warehouse.Planned{
				Sender: l.Sender, Path: l.Path, SHA256: l.SHA256, Bytes: l.Bytes, Mode: l.Mode,
				Refused: warehouse.Problem{Code: l.Refused, Words: l.Words}, Rules: l.Rules, Allowed: l.Allowed,
			})
			continue
		}
		f := settings.File{Path: l.Path, Version: l.Version}
		if l.SHA256 != "" {
			if f.Text, err = readArchived(r.in.Dir, l.SHA256); err != nil {
				return nil, nil, fmt.Errorf("%s of batch %d: %w", l.Path, b.Number, err)
			}
		}
		changed = append(changed, f)
	}
	return plan, changed, nil
}

func readArchived(dir, sum string) (text []byte, err error) {
	src, err := OpenArchived(dir, sum)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	return io.ReadAll(src)
}
