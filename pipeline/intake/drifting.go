package intake

import (
	"context"
	"log/slog"

	"evenlimb/pipeline/intake/drift"
	"evenlimb/pipeline/warehouse"
)

// pastBatches is how many of a sender's earlier batches a new one is held against.
const pastBatches = 12

// drift notes what the rows of a batch were like and what of it has moved, before
// the batch is closed. It is done once: a run that was cut off after it finds it
// done.
func (r *run) drift(ctx context.Context, batch int) error {
	done, err := r.in.Landing.Profiled(ctx, batch)
	if err != nil || done {
		return err
	}
	now, err := r.in.Landing.ProfileBatch(ctx, batch)
	if err != nil {
		return err
	}
	past, err := r.in.Landing.PastProfiles(ctx, now, pastBatches)
	if err != nil {
		return err
	}
	headings, pastHeadings, err := r.headings(ctx, batch)
	if err != nil {
		return err
	}
	var moved []warehouse.Drift
	for _, f := range drift.Judge(profiles(now), profiles(past), headings, pastHeadings) {
		moved = append(moved, warehouse.Drift{Batch: batch, Sender: f.Sender, Table: f.Table, Column: f.Column, Code: f.Code, Rows: f.Rows, Words: f.Words})
		r.in.Log.LogAttrs(ctx, slog.LevelWarn, "something moved", slog.Int("batch", batch), slog.String("sender", f.Sender),
			slog.String("table", f.Table), slog.String("column", f.Column), slog.String("code", f.Code), slog.Int("rows", f.Rows))
	}
	return r.in.Landing.KeepProfiles(ctx, now, moved)
}

func profiles(list []warehouse.Profile) []drift.Profile {
	out := make([]drift.Profile, len(list))
	for i, p := range list {
		out[i] = drift.Profile(p)
	}
	return out
}

// headings returns the headings of the files of a batch, and of as many earlier
// ones of each sender and table as profiles are looked at.
func (r *run) headings(ctx context.Context, batch int) (now, past []drift.Header, err error) {
	files, err := r.in.Landing.Files(ctx, batch)
	if err != nil {
		return nil, nil, err
	}
	for _, f := range files {
		h := drift.Header{Batch: f.Batch, Sender: f.Sender, Table: f.Table, Headings: f.Headings}
		switch {
		case f.Problem.Code != "" || f.AgainOf > 0 || f.Table == "" || f.Table == warehouse.DeliveriesTable || f.Table == warehouse.RekeysTable:
		case f.Batch == batch:
			now = append(now, h)
		case f.Batch >= batch-pastBatches:
			past = append(past, h)
		}
	}
	return now, past, nil
}
