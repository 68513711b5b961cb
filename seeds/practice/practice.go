package practice

import (
	"fmt"
	"runtime"
	"slices"
	"sync"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice/dress"
)

// Practice is a made-up practice: all versions of all its records.
type Practice struct {
	Scenario Scenario

	w       *world
	rows    records
	planted []Planted
	sent    []Delivery // once made
}

// Name is what the made-up practice is called.
const Name = "Tarn and Harrow Physiotherapy"

// block is how many people are drawn at a time; it fixes the order of records
// whatever the number of cores.
const block = 64

// Draw draws a practice. It uses all cores and gives the same records for any
// number of them. The error says which field of the scenario cannot be.
func Draw(s Scenario) (*Practice, error) { return draw(s, false) }

func draw(s Scenario, brief bool) (*Practice, error) {
	w, err := newWorld(s)
	if err != nil {
		return nil, err
	}
	blocks := make([]records, (s.Episodes+block-1)/block)
	w.inParallel(len(blocks), func(i int) {
		r := recorder{w: w, brief: brief}
		for number := i * block; number < min((i+1)*block, s.Episodes); number++ {
			for _, st := range w.life(number) {
				r.record(st)
			}
		}
		blocks[i] = r.rows
	})
	p := &Practice{Scenario: s, w: w}
	for table := range p.rows {
		n := 0
		for i := range blocks {
			n += len(blocks[i][table])
		}
		p.rows[table] = make([]row, 0, n)
		for i := range blocks {
			p.rows[table] = append(p.rows[table], blocks[i][table]...)
		}
	}
	return p, nil
}

// inParallel calls do for 0 to n-1 on all cores.
func (w *world) inParallel(n int, do func(i int)) {
	var group sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
}

// Row is the current version of one record: its cells in the order of the
// table's columns.
type Row []string

// Tables returns the current version of every record as it stands on the last
// day, by table. Nothing of the planted mess is in it.
func Tables(p *Practice) (map[string][]Row, error) {
	tables := map[string][]Row{}
	for table, name := range tableNames {
		rows, err := p.current(table)
		if err != nil {
			return nil, err
		}
		tables[name] = rows
	}
	return tables, nil
}

func (p *Practice) current(table int) ([]Row, error) {
	var rows []Row
	for _, r := range latest(p.rows[table]) {
		cells, err := dress.Split(r.line)
		if err != nil {
			return nil, fmt.Errorf("made-up %s: %w", tableNames[table], err)
		}
		rows = append(rows, cells)
	}
	return rows, nil
}

// latest keeps the last version of every record, at the place of its first.
func latest(rows []row) []row {
	kept := make([]row, 0, len(rows))
	at := map[string]int{}
	for _, r := range rows {
		if r.key == "" {
			kept = append(kept, r)
			continue
		}
		if i, seen := at[r.key]; seen {
			if r.known >= kept[i].known {
				kept[i] = r
			}
			continue
		}
		at[r.key] = len(kept)
		kept = append(kept, r)
	}
	return kept
}

// headings are the column names of every table.
var headings = sync.OnceValue(func() [tableCount][]string {
	var names [tableCount][]string
	for i, name := range tableNames {
		t, _ := export.Find(name)
		for _, c := range t.Columns {
			names[i] = append(names[i], c.Name)
		}
	}
	return names
})

// column is the place of a column in its table.
func column(table int, name string) int { return slices.Index(headings()[table], name) }
