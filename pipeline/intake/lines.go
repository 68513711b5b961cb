package intake

import (
	"errors"
	"fmt"
)

// Lines are the rows of an archived file by the line they begin at.
type Lines struct {
	Headings []string
	Cells    map[int][]string
}

// ReadLines reads a file that was taken in back from the archive, by its
// SHA-256, with the cells as they were sent. Rows that could not be taken apart
// are left out; no figure rests on them.
func ReadLines(dir, sum string) (lines Lines, err error) {
	file, err := OpenArchived(dir, sum)
	if err != nil {
		return Lines{}, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	rows := newCSV(file)
	lines.Cells = map[int][]string{}
	if lines.Headings, err = rows.headings(); err != nil {
		return Lines{}, fmt.Errorf("archived file %s: %w", short(sum), err)
	}
	for {
		row, ok, err := rows.next()
		if err != nil {
			return Lines{}, fmt.Errorf("archived file %s: %w", short(sum), err)
		}
		if !ok {
			return lines, nil
		}
		if row.fault == "" && len(row.cells) == len(lines.Headings) {
			lines.Cells[row.line] = row.cells
		}
	}
}
