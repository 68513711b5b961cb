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

	"evenlimb/pipeline/warehouse"
)

// writeQuarantine writes the rejected rows of one file as CSV for the sender's
// eyes: the line, the reasons as codes and in words, and the cells as they were
// sent. It returns the path inside the practice folder. The landing store holds
// the same rows, so a file that is missing is written again.
func (r *run) writeQuarantine(ctx context.Context, f warehouse.FileRecord) (string, error) {
	name := QuarantineName(f)
	path := filepath.Join(r.in.Dir, filepath.FromSlash(name))
	if _, err := os.Stat(path); err == nil {
		return name, nil
	}
	rows, err := r.in.Landing.Quarantine(ctx, f.File)
	if err != nil {
		return "", err
	}
	err = writeWhole(path, func(w io.Writer) error {
		out := csv.NewWriter(w)
		if err := out.Write(append(slices.Clone(reasonHeadings), harmless(f.Headings)...)); err != nil {
			return err
		}
		for _, row := range rows {
			cells := []string{strconv.Itoa(row.Line), strings.Join(row.Reasons, ";"), strings.Join(row.Words, "; ")}
			if err := out.Write(append(harmless(cells), harmless(row.Cells)...)); err != nil {
				return err
			}
		}
		out.Flush()
		return out.Error()
	})
	return name, err
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
