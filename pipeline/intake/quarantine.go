package intake

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/warehouse"
)

// writeQuarantine writes the rejected rows of one file as CSV for the sender's
// eyes: the line, the reasons as codes and in words, and the cells as they were
// sent; a workbook gets one for each of its sheets. They can be corrected and
// dropped into the inbox again as they are. It returns the path, inside the
// practice folder, of the first. The landing store holds the same rows, so a file
// that is missing is written again.
func (r *run) writeQuarantine(ctx context.Context, f warehouse.FileRecord) (string, error) {
	name := QuarantineName(f)
	if _, err := os.Stat(filepath.Join(r.in.Dir, filepath.FromSlash(name))); err == nil {
		return name, nil
	}
	rows, err := r.in.Landing.Quarantine(ctx, f.File)
	if err != nil {
		return "", err
	}
	form, err := source.ParseForm(f.Form)
	if err != nil {
		return "", err
	}
	sheets, err := r.rejectedSheets(f, form, rows)
	if err != nil {
		return "", err
	}
	for i := len(sheets) - 1; i >= 0; i-- { // the first is looked for, so it comes last
		path := name
		if i > 0 {
			path = fmt.Sprintf("%s_sheet%d.csv", strings.TrimSuffix(name, ".csv"), sheets[i].ordinal)
		}
		if err := writeRejected(filepath.Join(r.in.Dir, filepath.FromSlash(path)), sheets[i]); err != nil {
			return "", err
		}
	}
	return name, nil
}

// rejectedSheet are the rejected rows of one sheet under its headings.
type rejectedSheet struct {
	sheet
	rows []warehouse.Rejected // Line is the row of the sheet
}

// rejectedSheets sorts rejected rows by sheet. What a layout made of one row, and
// rejected each for itself, becomes one row with all its reasons.
func (r *run) rejectedSheets(f warehouse.FileRecord, form source.Form, rows []warehouse.Rejected) ([]rejectedSheet, error) {
	known := []sheet{{ordinal: 1, headings: f.Headings}}
	if form.Format == source.XLSX {
		var err error
		if known, err = headingsOf(archivedInput(r.in.Dir, f.SHA256), form); err != nil {
			return nil, fmt.Errorf("read the archived file %s: %w", short(f.SHA256), err)
		}
	}
	var list []rejectedSheet
	for _, row := range rows {
		var ordinal int
		ordinal, row.Line = form.Sheet(row.Line)
		last := len(list) - 1
		if last < 0 || list[last].ordinal != ordinal {
			at := slices.IndexFunc(known, func(s sheet) bool { return s.ordinal == ordinal })
			list, last = append(list, rejectedSheet{sheet: known[max(at, 0)]}), last+1
		}
		s := &list[last]
		if n := len(s.rows) - 1; n >= 0 && s.rows[n].Line == row.Line {
			for i, reason := range row.Reasons {
				if !slices.Contains(s.rows[n].Words, row.Words[i]) {
					s.rows[n].Reasons, s.rows[n].Words = append(s.rows[n].Reasons, reason), append(s.rows[n].Words, row.Words[i])
				}
			}
			continue
		}
		s.rows = append(s.rows, row)
	}
	return list, nil
}

// place is the line of a row or, of a workbook, its sheet and row, such as
// Visits!17: a layout may make other tables of other sheets.
func (s rejectedSheet) place(line int) string {
	if s.name == "" {
		return strconv.Itoa(line)
	}
	return s.name + "!" + strconv.Itoa(line)
}

func writeRejected(path string, s rejectedSheet) error {
	return writeWhole(path, func(w io.Writer) error {
		out := csv.NewWriter(w)
		if err := out.Write(append(slices.Clone(reasonHeadings), harmless(s.headings)...)); err != nil {
			return err
		}
		for _, row := range s.rows {
			cells := []string{s.place(row.Line), strings.Join(row.Reasons, ";"), strings.Join(row.Words, "; ")}
			if err := out.Write(append(harmless(cells), harmless(row.Cells)...)); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
}

// QuarantineName is the path, inside the practice folder, of the CSV with the
// rejected rows of a file. The batch and the number of the file stand in it,
// because another file may be dropped under the same name.
func QuarantineName(f warehouse.FileRecord) string {
	_, below, _ := strings.Cut(f.Path, "/")
	plain := strings.Map(func(letter rune) rune {
		switch {
		case letter >= 'a' && letter <= 'z', letter >= 'A' && letter <= 'Z', letter >= '0' && letter <= '9', letter == '-', letter == '.':
			return letter
		default:
			return '_'
		}
	}, strings.TrimSuffix(below, ".csv"))
	return fmt.Sprintf("%s/%s/%04d-%d_%s.csv", quarantineFolder, f.Sender, f.Batch, f.File, plain[:min(len(plain), 100)])
}
