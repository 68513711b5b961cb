package intake

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"sync"
	"time"

	"evenlimb/pipeline/warehouse"
)

// arrivals looks for what is new in the inbox, archives it and returns it as the
// plan of the next batch. A file that lies as it lay when it was last read (path,
// size, time of change) is not read again until a month or so later.
func (r *run) arrivals(ctx context.Context) (plan []warehouse.Planned, err error) {
	inbox, err := openInbox(r.in.Dir)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, inbox.Close()) }()
	files, trouble, err := scan(inbox, r.practice)
	if err != nil {
		return nil, err
	}
	r.report.Trouble = trouble
	k := &known{run: r, inbox: inbox}
	if k.content, err = r.in.Landing.Known(ctx); err != nil {
		return nil, err
	}
	if k.seen, err = r.in.Landing.Seen(ctx); err != nil {
		return nil, err
	}
	var fresh []dropped
	for _, d := range files {
		r.progress(Event{Stage: "looking", Path: d.path, Total: len(files)})
		isKnown, err := k.look(ctx, d)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			r.report.Trouble = append(r.report.Trouble, unreadable(d.path, err))
			continue
		}
		if !isKnown {
			fresh = append(fresh, d)
		}
	}
	if len(fresh) > 0 {
		if err := sleep(ctx, r.in.Settle); err != nil {
			return nil, err
		}
	}
	for done := 0; done < len(fresh); {
		next := fresh[done : done+atOnce(fresh[done:])]
		kept := r.keepAll(ctx, inbox, next, k.content, func(i int) {
			r.progress(Event{Stage: "archiving", Path: next[i].path, Done: done + i, Total: len(fresh)})
		})
		done += len(next)
		for i, one := range kept {
			d, p := next[i], one.planned
			switch err := one.err; {
			case ctx.Err() != nil:
				return nil, ctx.Err()
			case errors.Is(err, errChanging) || errors.Is(err, fs.ErrNotExist):
				r.report.Waiting = append(r.report.Waiting, d.path)
				continue
			case errors.Is(err, errReading):
				r.report.Trouble = append(r.report.Trouble, unreadable(d.path, err))
				continue
			case err != nil:
				return nil, err
			}
			one.log(ctx, r.in.Log, d.path)
			k.saw(d, p.SHA256)
			if k.knows(d.sender, p.SHA256) {
				continue
			}
			k.content[warehouse.Content{Sender: d.sender, SHA256: p.SHA256}] = p.Rules
			plan = append(plan, p)
		}
	}
	return plan, r.in.Landing.Saw(ctx, k.noted)
}

// Small files are kept several at the same time, since half of keeping one is to
// wait for the disk; a large one alone, for the memory it takes.
const (
	keepers     = 4
	mostAtOnce  = 32
	atOnceBytes = 4 << 20 // of each
)

// atOnce returns how many of the next files are kept before what came of them is
// noted.
func atOnce(files []dropped) int {
	for n, d := range files[:min(mostAtOnce, len(files))] {
		if d.state.Size() > atOnceBytes {
			return max(n, 1)
		}
	}
	return min(mostAtOnce, len(files))
}

// kept is what came of one file.
type kept struct {
	planned warehouse.Planned
	glance
	err error
}

// keepAll keeps some files at the same time; begins is told which it begins with.
func (r *run) keepAll(ctx context.Context, inbox *os.Root, files []dropped, content map[warehouse.Content]string, begins func(i int)) []kept {
	all := make([]kept, len(files))
	next := make(chan int)
	var busy sync.WaitGroup
	for range min(keepers, len(files)) {
		busy.Go(func() {
			for i := range next {
				one := &all[i]
				one.planned, one.glance, one.err = r.keep(ctx, inbox, files[i], content)
			}
		})
	}
	for i := range files {
		begins(i)
		next <- i
	}
	close(next)
	busy.Wait()
	return all
}

func unreadable(path string, err error) Trouble {
	return Trouble{path, "not_readable", "it cannot be read (" + reason(err) + "); let this program read it, or send it again"}
}

// known tells what was taken in before.
type known struct {
	run     *run
	inbox   *os.Root
	content map[warehouse.Content]string
	seen    map[string]warehouse.Seen
	noted   []warehouse.Seen
}

// knows says whether content is in or planned. A refused file is looked at again
// when what refused it has changed.
func (k *known) knows(sender, sum string) bool {
	rules, ok := k.content[warehouse.Content{Sender: sender, SHA256: sum}]
	return ok && (rules == "" || rules == k.run.rules(sender))
}

// look says whether a file needs no more than a look. One that lies unchanged
// but was not read for long is read and hashed: not everything that changes a
// file changes its time.
func (k *known) look(ctx context.Context, d dropped) (bool, error) {
	before, ok := k.seen[d.path]
	if !ok || before.Bytes != d.state.Size() || !before.Modified.Equal(d.state.ModTime()) || !k.knows(d.sender, before.SHA256) {
		return false, nil
	}
	days := int(k.run.today().Sub(before.HashedOn).Hours() / 24)
	if days < k.run.practice.Intake.RehashDays && days >= 0 {
		return true, nil
	}
	file, err := k.inbox.Open(d.path)
	if err != nil {
		return false, err
	}
	sum, _, err := hashFile(ctx, file)
	if err = errors.Join(err, file.Close()); err != nil {
		return false, err
	}
	if sum != before.SHA256 {
		return false, nil
	}
	k.saw(d, sum)
	return true, nil
}

func (k *known) saw(d dropped, sum string) {
	k.noted = append(k.noted, warehouse.Seen{Path: d.path, Bytes: d.state.Size(), Modified: d.state.ModTime(), SHA256: sum, HashedOn: k.run.today()})
}

// sleep waits, but no longer than its context lasts.
func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
