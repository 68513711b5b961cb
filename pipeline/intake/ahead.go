package intake

import (
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// opened is what became of opening a file.
type opened struct {
	file    *file
	problem warehouse.Problem
	err     error
}

// opener opens the files of a group on one core, each while the one before it is
// stored on another.
type opener struct {
	files chan opened // in the order of the plan
	done  chan struct{}
}

func (r *run) openAhead(by batchRules, plan []warehouse.Planned) *opener {
	o := &opener{files: make(chan opened), done: make(chan struct{})}
	go func() {
		defer close(o.files)
		for _, p := range plan {
			var one opened
			if p.Refused.Code == "" {
				one.file, one.problem, one.err = openFile(r.in.Dir, p, by)
			}
			select {
			case o.files <- one:
			case <-o.done:
				one.close()
				return
			}
		}
	}()
	return o
}

// stop closes the file that nobody took.
func (o *opener) stop() {
	close(o.done)
	for one := range o.files {
		one.close()
	}
}

func (o opened) close() {
	if o.file != nil {
		_ = o.file.close() // it was read, not written
	}
}

// A file that is no larger, in bytes and in records, is read into memory: while
// the one before it is stored, and once where its rows are gone through twice.
const (
	aheadBytes   = 1 << 20
	aheadRecords = 20_000
)

// readAhead reads all of a small file, whose sheets then stand in memory.
func (f *file) readAhead() error {
	if f.planned.Bytes > aheadBytes || f.form.Compression != source.Plain {
		return nil
	}
	var sheets []*ahead
	left := aheadRecords
	for _, s := range f.src.Sheets {
		one := &ahead{}
		for more := true; more; {
			var rec source.Record
			if rec, more, one.err = s.Next(); one.err == nil && more {
				one.records = append(one.records, rec)
				left--
			}
			if left < 0 {
				return f.rewind()
			}
			more = more && one.err == nil
		}
		sheets = append(sheets, one)
	}
	f.ahead = sheets
	for i, s := range f.ahead {
		f.src.Sheets[i].Reader = s
	}
	return nil
}

// ahead is the records of a sheet that were read ahead, and the error that ended
// them.
type ahead struct {
	records []source.Record
	at      int
	err     error
}

// Headings were read before.
func (a *ahead) Headings() ([]string, error) { return nil, nil }

func (a *ahead) Next() (source.Record, bool, error) {
	if a.at == len(a.records) {
		return source.Record{}, false, a.err
	}
	a.at++
	return a.records[a.at-1], true, nil
}
