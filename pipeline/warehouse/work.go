package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"sync"

	"evenlimb/queries"
)

// work is the queries of a build, done by several hands at once: each is begun
// when what it reads stands. What follows its rows, the comments and the proof,
// is left for a hand that would otherwise wait.
type work struct {
	builder  builder                         // what every hand begins with, but for its connection
	progress func(step string, done, of int) // may be nil

	mu      sync.Mutex
	changed sync.Cond
	todo    []task          // not begun, the most urgent first
	stands  map[string]bool // of every table that the work makes, whether it can be read
	made    int             // queries made
	failed  error           // the first error; nothing is begun after it
}

// task is one query to make, or made and to be proved.
type task struct {
	query queries.Query
	proof bool
}

func newWork(list []queries.Query, b builder, progress func(step string, done, of int)) *work {
	w := &work{builder: b, progress: progress, stands: map[string]bool{}}
	w.changed.L = &w.mu
	for _, q := range queries.ByUrgency(list) {
		w.todo = append(w.todo, task{query: q})
		w.stands[q.Table()] = false
	}
	for _, q := range list {
		w.todo = append(w.todo, task{query: q, proof: true})
	}
	return w
}

// do does all of the work with as many hands, each on a connection of its own,
// and writes the file back. It returns the first error.
func (w *work) do(ctx context.Context, db *sql.DB, hands int) error {
	var all sync.WaitGroup
	for range hands {
		all.Go(func() { w.stop(w.hand(ctx, db)) })
	}
	all.Wait()
	if w.failed != nil {
		return w.failed
	}
	// The views of the landing layer are of use only while the store is attached.
	for _, last := range []string{"drop schema landing cascade", "detach store", "checkpoint"} {
		if _, err := db.ExecContext(ctx, last); err != nil {
			return err
		}
	}
	return nil
}

// hand does one task after the other until none is left.
func (w *work) hand(ctx context.Context, db *sql.DB) (err error) {
	b := w.builder
	b.conn, err = db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.conn.Close()) }()
	for {
		t, ok := w.next()
		if !ok {
			return nil
		}
		run := b.create
		if t.proof {
			run = b.settle
		}
		err := run(ctx, t.query)
		w.finish(t, err == nil)
		if err != nil {
			return fmt.Errorf("queries/%s: %w", t.query.File, err)
		}
	}
}

// next waits for a task that can be begun; ok is false when none is left.
func (w *work) next() (t task, ok bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for w.failed == nil && len(w.todo) > 0 {
		i := slices.IndexFunc(w.todo, w.ready)
		if i < 0 {
			w.changed.Wait()
			continue
		}
		t = w.todo[i]
		w.todo = slices.Delete(w.todo, i, i+1)
		if w.progress != nil && !t.proof {
			w.progress(t.query.Table(), w.made, len(w.stands))
		}
		return t, true
	}
	return task{}, false
}

// ready says whether what a task reads stands.
func (w *work) ready(t task) bool {
	if t.proof {
		return w.stands[t.query.Table()]
	}
	return !slices.ContainsFunc(t.query.Reads, func(table string) bool {
		stands, made := w.stands[table]
		return made && !stands
	})
}

// finish notes that a task was done.
func (w *work) finish(t task, well bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if well && !t.proof {
		w.stands[t.query.Table()] = true
		w.made++
	}
	w.changed.Broadcast()
}

// stop notes how a hand ended. After an error no other begins anything.
func (w *work) stop(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.failed == nil {
		w.failed = err
	}
	w.changed.Broadcast()
}

// failure returns the first error so far.
func (w *work) failure() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.failed
}

// await waits until a table stands, if the work makes it, and returns an error
// when it never will. What a reader waits for is begun before the rest.
func (w *work) await(table string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.hasten(table)
	for {
		stands, made := w.stands[table]
		switch {
		case stands || !made:
			return nil
		case w.failed != nil:
			return building(w.failed)
		}
		w.changed.Wait()
	}
}

// hasten puts what leads to a table before all other tasks.
func (w *work) hasten(table string) {
	leads := map[string]bool{table: true}
	for _, t := range slices.Backward(w.todo) { // what a query reads comes before it
		if leads[t.query.Table()] && !t.proof {
			for _, read := range t.query.Reads {
				leads[read] = true
			}
		}
	}
	place := func(t task) int {
		if leads[t.query.Table()] && !t.proof {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(w.todo, func(a, b task) int { return place(a) - place(b) })
}

// tables is a warehouse as its readers see it: a read waits until the tables
// that it names stand. Of a file that was opened they all do.
type tables struct {
	*sql.DB
	work *work // nil where the file was opened
}

// madeName finds the tables that a query names and a build makes.
var madeName = regexp.MustCompile(`\b(?:clean|derived|published|checks)\.\w+`)

// QueryContext runs a query once the tables that it names stand.
func (t tables) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if t.work != nil {
		for _, table := range madeName.FindAllString(query, -1) {
			if err := t.work.await(table); err != nil {
				return nil, err
			}
		}
	}
	return t.DB.QueryContext(ctx, query, args...)
}
