package intake

import (
	"context"
	"errors"

	"evenlimb/pipeline/warehouse"
)

// loadAll takes planned files into landing, small ones several at a time.
func (r *run) loadAll(ctx context.Context, batch int, by batchRules, plan []warehouse.Planned) error {
	for done := 0; done < len(plan); {
		n := together(plan[done:])
		reports, err := r.loadGroup(ctx, batch, by, plan, done, n)
		var away *turnedAwayError
		if errors.As(err, &away) {
			// Nothing may stay of a file that is turned away on its way, so nothing of
			// the group stayed: those before it go in again without it, and it alone.
			if n = away.at - done; n > 0 {
				reports, err = r.loadGroup(ctx, batch, by, plan, done, n)
			} else {
				n = 1
				reports, err = r.refuse(ctx, batch, plan[done], away.end)
			}
		}
		if err != nil {
			return err
		}
		for _, f := range reports {
			r.log(ctx, batch, f)
		}
		r.report.Files = append(r.report.Files, reports...)
		done += n
	}
	return nil
}

// together returns how many of the next files go in together.
func together(plan []warehouse.Planned) int {
	var bytes int64
	for n, p := range plan {
		if bytes += p.Bytes; bytes > smallBytes {
			return max(n, 1)
		}
	}
	return len(plan)
}

// turnedAwayError is the error of a file of which no more can be kept than its end.
type turnedAwayError struct {
	at  int // in the plan
	end warehouse.FileEnd
}

func (t *turnedAwayError) Error() string { return t.end.Problem.Words }

// loadGroup takes the next n files of a plan into landing, in one transaction.
func (r *run) loadGroup(ctx context.Context, batch int, by batchRules, plan []warehouse.Planned, done, n int) (reports []FileReport, err error) {
	group, err := r.in.Landing.BeginGroup(ctx, batch)
	if err != nil {
		return nil, err
	}
	next := r.openAhead(by, plan[done:done+n])
	defer next.stop()
	for i, p := range plan[done : done+n] {
		r.progress(Event{Stage: "loading", Path: p.Path, Done: done + i, Total: len(plan)})
		report, err := r.load(ctx, group, by, p, <-next.files)
		var away *turnedAwayError
		if errors.As(err, &away) {
			away.at = done + i
		}
		if err != nil {
			return nil, errors.Join(err, group.Abort())
		}
		reports = append(reports, report)
	}
	return reports, group.Commit()
}

// refuse keeps of a file why it was not taken in.
func (r *run) refuse(ctx context.Context, batch int, p warehouse.Planned, end warehouse.FileEnd) ([]FileReport, error) {
	group, err := r.in.Landing.BeginGroup(ctx, batch)
	if err != nil {
		return nil, err
	}
	report, err := finishRefused(ctx, group, p, end)
	if err != nil {
		return nil, errors.Join(err, group.Abort())
	}
	return []FileReport{report}, group.Commit()
}
