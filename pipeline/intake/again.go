package intake

import (
	"context"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// UnknownError reports a name that stands for no file taken in.
type UnknownError struct{ Words string }

func (e *UnknownError) Error() string { return e.Words }

// ReadAgain returns, for Input.Also, files that were taken in before and are to
// be read with today's layouts: one file by its path, or all of a sender. What
// they say differently today is a correction received today, and earlier batches
// stay what they were.
func ReadAgain(ctx context.Context, dir string, l *warehouse.Landing, name string) ([]warehouse.Planned, error) {
	files, err := l.Files(ctx, newest)
	if err != nil {
		return nil, err
	}
	below := belowInbox(name)
	var plan []warehouse.Planned
	var names []string
	matched := 0
	listed := map[string]bool{}
	for _, f := range files {
		names = append(names, f.Sender, f.Path)
		if (f.Path != below && f.Sender != below) || f.Table == warehouse.DeliveriesTable || f.Problem.Code == warehouse.HeldBack {
			continue
		}
		matched++
		if id := f.Path + "\x00" + f.SHA256; !listed[id] && archived(dir, f.SHA256) {
			listed[id] = true
			p := f.Planned
			p.Mode = warehouse.Again
			plan = append(plan, p)
		}
	}
	switch {
	case len(plan) > 0:
		return plan, nil
	case matched > 0:
		return nil, &UnknownError{fmt.Sprintf("nothing of %s was kept, so there is nothing to read again; it is looked at again by itself when what refused it changes", name)}
	}
	words := fmt.Sprintf("no file %s was taken in and no sender has that name", name)
	if near := settings.Near(below, slices.Compact(names)); near != "" {
		words += fmt.Sprintf("; is it %s?", near)
	}
	return nil, &UnknownError{words}
}

// belowInbox is the path of a file as the store has it: below inbox/, with
// slashes.
func belowInbox(name string) string {
	name = path.Clean(filepath.ToSlash(name))
	if at := strings.LastIndex("/"+name, "/"+inboxFolder+"/"); at >= 0 {
		name = name[at+len(inboxFolder)+1:]
	}
	return name
}

// inOrder merges what is to be read again with what is new: by path, and what
// came earlier under the same path first.
func inOrder(also, fresh []warehouse.Planned) []warehouse.Planned {
	plan := slices.Concat(also, fresh)
	slices.SortStableFunc(plan, func(a, b warehouse.Planned) int { return strings.Compare(a.Path, b.Path) })
	return plan
}
