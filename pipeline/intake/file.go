package intake

import (
	"errors"
	"fmt"

	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// file is an archived file, open and recognised. Its bytes are those of the
// archive, so a file that changes in the inbox after it was planned changes
// nothing.
type file struct {
	planned warehouse.Planned
	dir     string
	form    form
	src     *source.File
	ahead   []*ahead // the sheets, of a file that was read ahead
}

// openFile opens a planned file at its first row. The problem says why it cannot
// be taken in.
func openFile(dir string, p warehouse.Planned, by batchRules) (*file, warehouse.Problem, error) {
	f := &file{planned: p, dir: dir}
	var problem warehouse.Problem
	var err error
	if f.form, problem, err = recognise(archivedInput(dir, p.SHA256), p, by); err != nil {
		return nil, warehouse.Problem{}, fmt.Errorf("read the archived file %s: %w; put it back from a backup", short(p.SHA256), err)
	}
	if problem.Code != "" {
		return f, problem, nil
	}
	if err := f.rewind(); err != nil {
		return nil, warehouse.Problem{}, err
	}
	return f, warehouse.Problem{}, f.readAhead()
}

// rewind begins at the first row of every sheet.
func (f *file) rewind() error {
	if f.ahead != nil {
		for _, s := range f.ahead {
			s.at = 0
		}
		return nil
	}
	if err := f.close(); err != nil {
		return err
	}
	var err error
	if f.src, err = source.Open(archivedInput(f.dir, f.planned.SHA256), f.form.Form); err != nil {
		return fmt.Errorf("read the archived file %s: %w", short(f.planned.SHA256), err)
	}
	for _, s := range f.src.Sheets {
		if _, err := s.Headings(); err != nil {
			return errors.Join(fmt.Errorf("read the archived file %s: %w", short(f.planned.SHA256), err), f.close())
		}
	}
	return nil
}

func (f *file) close() error {
	if f.src == nil {
		return nil
	}
	src := f.src
	f.src = nil
	return src.Close()
}
