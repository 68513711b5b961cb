package intake

import (
	"context"
	"errors"
	"fmt"

	"evenlimb/pipeline/intake/source"
)

// Lines are the rows of an archived file by the first physical line of each, as
// they were sent. A row that could not be taken apart stands in one cell.
type Lines struct {
	Headings []string
	Cells    map[int][]string
}

// ReadLines reads a file that was taken in back from the archive, by its
// SHA-256. It is read as it was when it was taken in, so the lines are those
// that the landing store names.
func ReadLines(dir, sum string) (lines Lines, err error) {
	src, err := OpenArchived(dir, sum)
	if err != nil {
		return Lines{}, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	r := source.NewCSV(src)
	lines.Cells = map[int][]string{}
	if lines.Headings, err = r.Headings(); err != nil {
		return Lines{}, fmt.Errorf("read the archived file %s: %w", short(sum), err)
	}
	if err := each(context.Background(), r, func(rec source.Record) { lines.Cells[rec.Line] = rec.Cells }); err != nil {
		return Lines{}, fmt.Errorf("read the archived file %s: %w", short(sum), err)
	}
	return lines, nil
}
