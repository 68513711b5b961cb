package intake

import (
	"context"
	"fmt"
	"time"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// StopError is the error of a run that a check stopped. What was taken in is in the
// store; no results are to be computed from it until a person has answered.
type StopError struct {
	Code  string
	Words string // what stopped it and what to do
}

func (s *StopError) Error() string { return s.Words }

// heldBack is the problem of a complete delivery that leaves out too much.
// Nothing of it is kept but the file's own row.
func heldBack(p warehouse.Planned, cause *warehouse.TooManyGoneError) warehouse.Problem {
	return warehouse.Problem{
		Code: warehouse.HeldBack,
		Words: cause.Error() + "; nothing of it was kept. If it is whole, run `evenlimb intake --accept inbox/" + p.Path +
			"`; if not, have it sent again whole, or go on without it by `evenlimb intake --set-aside inbox/" + p.Path + "`",
	}
}

// held stops the run while a file is held back.
func (r *run) held(ctx context.Context) error {
	list, err := r.in.Landing.Held(ctx)
	if err != nil || len(list) == 0 {
		return err
	}
	words := fmt.Sprintf("inbox/%s: %s", list[0].Path, list[0].Problem.Words)
	if len(list) > 1 {
		words += fmt.Sprintf(" (and %d more, which `evenlimb status` lists)", len(list)-1)
	}
	return &StopError{Code: warehouse.HeldBack, Words: words}
}

// Accept returns, for Input.Also, a file that is held back and that the practice
// says is whole.
func Accept(ctx context.Context, l *warehouse.Landing, path string) (warehouse.Planned, error) {
	f, err := heldAt(ctx, l, path)
	p := f.Planned
	p.Mode = warehouse.Meant
	return p, err
}

// SetAside goes on without a file that is held back.
func SetAside(ctx context.Context, l *warehouse.Landing, path string, now time.Time) error {
	f, err := heldAt(ctx, l, path)
	if err != nil {
		return err
	}
	return l.SetAside(ctx, f, now)
}

func heldAt(ctx context.Context, l *warehouse.Landing, path string) (warehouse.FileRecord, error) {
	list, err := l.Held(ctx)
	if err != nil {
		return warehouse.FileRecord{}, err
	}
	var paths []string
	for _, f := range list {
		if f.Path == belowInbox(path) {
			return f, nil
		}
		paths = append(paths, f.Path)
	}
	words := "no file is held back"
	if near := settings.Near(belowInbox(path), paths); near != "" {
		words = "the file inbox/" + near + " is held back"
	} else if len(paths) > 0 {
		words = "held back are " + few(paths)
	}
	return warehouse.FileRecord{}, &UnknownError{fmt.Sprintf("%s is not held back; %s", path, words)}
}
