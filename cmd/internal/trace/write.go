package trace

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/intake"
)

// notice stands beside every person-level file.
const notice = `The files in this folder hold single persons' rows under their pseudonyms, with dates and sites.
They are personal health data: they stay inside the practice, with those who need them, and are deleted when the question is answered.
`

// Write writes the lines behind a figure, with their cells as they were sent,
// into person_level/trace/ and returns the folder.
func Write(dir folder.Dir, batch int, f Found) (string, error) {
	lines, err := f.csv(string(dir))
	if err != nil {
		return "", err
	}
	target := filepath.Join(dir.PersonLevel(), "trace", fmt.Sprintf("%s_batch-%d", fileName(f.Figure), batch))
	staged, err := folder.Stage(target, map[string][]byte{"lines.csv": lines, "READ-FIRST.txt": []byte(notice)})
	if err != nil {
		return "", err
	}
	return target, staged.Commit()
}

var unsafe = regexp.MustCompile(`[^A-Za-z0-9_.=-]+`)

// fileName turns a figure's id into the name of a folder.
func fileName(id string) string { return unsafe.ReplaceAllString(id, "_") }

// csv lists the lines: where each stands, what it is called, and its cells as
// heading=value, so that files with other headings can stand below one another.
func (f Found) csv(dir string) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	rows := [][]string{{"table", "key", "file", "archive", "batch", "place", "cells"}}
	type reading struct{ sum, form string }
	read := map[reading]intake.Lines{}
	for _, l := range f.Lines {
		file, ok := read[reading{l.SHA256, l.Form}]
		if !ok {
			var err error
			if file, err = intake.ReadLines(dir, l.SHA256, l.Form); err != nil {
				return nil, fmt.Errorf("read %s back: %w", l.Path, err)
			}
			read[reading{l.SHA256, l.Form}] = file
		}
		row, ok := file.Rows[l.Line]
		if !ok {
			return nil, fmt.Errorf("the archived copy of %s has no row at %s", l.Path, file.Form.Place(l.Line))
		}
		var named []string
		for i, cell := range row.Cells {
			if cell != "" {
				named = append(named, row.Headings[i]+"="+cell)
			}
		}
		rows = append(rows, []string{l.Table, l.Key, l.Path, l.SHA256, strconv.Itoa(l.Batch), file.Form.Place(l.Line), strings.Join(named, "; ")})
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("write the lines: %w", err)
	}
	return out.Bytes(), nil
}

func sortFiles(files []File) {
	slices.SortFunc(files, func(a, b File) int { return cmp.Or(cmp.Compare(a.Batch, b.Batch), strings.Compare(a.Path, b.Path)) })
}
