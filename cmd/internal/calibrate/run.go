package calibrate

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"
)

// Options say what to run.
type Options struct {
	Dir        string      // where truths and results lie
	Conditions []Condition // in this order
	Analyses   []string
	Seeds      int // at most so many of each condition; 0 for all of them
	Workers    int // replicates at a time; 0 for one a core
	Commit     string
	Now        func() time.Time
	Progress   func(line string)
}

// Run makes the results that are not there yet, a chunk at a time; a run that
// was interrupted goes on where it was. The numbers are the same for any number
// of workers.
func Run(ctx context.Context, o Options) error {
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	r := &runner{Options: o, began: o.Now()}
	var err error
	if r.todo, err = r.plan(ctx); err != nil {
		return err
	}
	for _, t := range r.todo {
		r.left += t.cost()
	}
	for _, t := range r.todo {
		if err := r.chunk(ctx, t); err != nil {
			return err
		}
	}
	return nil
}

type runner struct {
	Options
	todo       []task
	began      time.Time
	done, left float64 // in replicates of the base
}

// task is a chunk with the analyses that it lacks.
type task struct {
	condition   Condition
	chunk       *Chunk
	analyses    []string
	made        []Made
	first, last int
}

// cost is about how many replicates of the base take as long.
func (t task) cost() float64 {
	return float64(t.last-t.first+1) * float64(t.condition.Scenario.Episodes) / float64(Conditions[0].Scenario.Episodes)
}

// plan lists the chunks that lack something. What is there must be of the same
// program: what it says of seed 1 is compared.
func (r *runner) plan(ctx context.Context) ([]task, error) {
	var list []task
	for _, c := range r.Conditions {
		var seedOne []Outcome
		seeds := c.Replicates
		if r.Seeds > 0 {
			seeds = min(seeds, r.Seeds)
		}
		for first := 1; first <= seeds; first += ChunkSeeds {
			t := task{condition: c, first: first, last: first + ChunkSeeds - 1}
			var err error
			if t.chunk, err = readChunk(r.Dir, c.Name, t.first, t.last); err != nil {
				return nil, err
			}
			if seedOne == nil {
				if seedOne, err = Replicate(ctx, c, 1, r.Analyses); err != nil {
					return nil, fmt.Errorf("condition %s: %w", c.Name, err)
				}
			}
			if t.chunk == nil {
				t.chunk = &Chunk{First: t.first, Last: t.last}
			}
			t.analyses = t.chunk.lacks(r.Analyses)
			for _, name := range r.Analyses {
				hash := hashOf(name, seedOne)
				if slices.Contains(t.analyses, name) {
					t.made = append(t.made, Made{name, hash, r.Commit, r.Now().UTC().Format(time.DateOnly)})
					continue
				}
				for _, m := range t.chunk.Made {
					if m.Analysis == name && m.SeedOne != hash {
						return nil, fmt.Errorf("%s holds what another program (%s) found: seed 1 now gives other figures of %q; delete the results of the condition and run again",
							chunkPath(r.Dir, c.Name, t.first, t.last), m.Commit, name)
					}
				}
			}
			if len(t.analyses) > 0 {
				list = append(list, t)
			}
		}
	}
	return list, nil
}

// chunk makes one chunk, its replicates side by side.
func (r *runner) chunk(ctx context.Context, t task) error {
	n := t.last - t.first + 1
	outcomes, failed := make([][]Outcome, n), make([]error, n)
	next := make(chan int)
	var group sync.WaitGroup
	for range r.Workers {
		group.Go(func() {
			for i := range next {
				if failed[i] = ctx.Err(); failed[i] == nil {
					outcomes[i], failed[i] = Replicate(ctx, t.condition, t.first+i, t.analyses)
				}
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
	for _, err := range failed {
		if err != nil {
			return fmt.Errorf("condition %s: %w", t.condition.Name, err)
		}
	}
	t.chunk.replace(t.made, slices.Concat(outcomes...))
	if err := t.chunk.write(r.Dir, t.condition.Name); err != nil {
		return err
	}
	r.done += t.cost()
	r.left -= t.cost()
	each := r.Now().Sub(r.began).Seconds() / r.done
	if r.Progress != nil {
		left := time.Duration(each * r.left * float64(time.Second))
		r.Progress(fmt.Sprintf("%s: seeds %d to %d; %.2f s a base replicate and core; about %s left",
			t.condition.Name, t.first, t.last, each*float64(r.Workers), left.Round(time.Minute)))
	}
	return nil
}

// Results reads all results of a condition that are there, up to the first seed
// that is missing: none is passed over. Of a figure that a chunk lacks, none
// after it count.
func Results(dir string, c Condition) (map[string][]Outcome, []Made, error) {
	byFigure := map[string][]Outcome{}
	var made []Made
	over := map[string]bool{}
	for first := 1; first <= c.Replicates; first += ChunkSeeds {
		chunk, err := readChunk(dir, c.Name, first, first+ChunkSeeds-1)
		if err != nil {
			return nil, nil, err
		}
		if chunk == nil {
			break
		}
		made = append(made, chunk.Made...)
		for _, f := range Figures {
			outcomes := chunk.of(f)
			if len(outcomes) != ChunkSeeds {
				over[f.Name] = true
			}
			if !over[f.Name] {
				byFigure[f.Name] = append(byFigure[f.Name], outcomes...)
			}
		}
	}
	return byFigure, made, nil
}
