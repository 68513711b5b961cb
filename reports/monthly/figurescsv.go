package monthly

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// figureColumns are the columns of figures.csv: the fields of a figure, then
// how its value and its persons may be read.
var figureColumns = []string{
	"figure_id", "question", "measure", "injury_type", "site", "cohort", "stratum", "period_from", "period_to", "x", "x_unit", "statistic",
	"value", "low", "high", "level", "std_error", "persons", "episodes", "events", "exposure", "exposure_unit", "missing", "unit",
	"method", "method_version", "status", "reason", "warnings", "as_of_batch", "inputs_hash", "shown_as", "persons_rounded",
}

// figuresCSV writes one row for each figure, hidden ones without numbers.
func figuresCSV(r *disclosure.Released) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	if err := w.Write(figureColumns); err != nil {
		return nil, err
	}
	for _, f := range r.Figures() {
		level := ""
		if f.Level > 0 {
			level = float(&f.Level)
		}
		if err := w.Write([]string{
			f.ID, f.Question, f.Measure, f.InjuryType, f.Site, f.Cohort, f.Stratum, isoDate(f.PeriodFrom), isoDate(f.PeriodTo), float(f.X), f.XUnit, f.Statistic,
			float(f.Value), float(f.Low), float(f.High), level, float(f.StdError), whole(f.Persons), whole(f.Episodes), whole(f.Events), float(f.Exposure), f.ExposureUnit, whole(f.Missing), f.Unit,
			f.Method, f.MethodVersion, string(f.Status), f.Reason, strings.Join(f.Warnings, " "), strconv.Itoa(f.AsOfBatch), f.InputsHash, words.Value(f), strconv.FormatBool(f.PersonsRounded),
		}); err != nil {
			return nil, err
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return nil, fmt.Errorf("write figures.csv: %w", err)
	}
	return out.Bytes(), nil
}

// FiguresFile is the report's list of every figure.
const FiguresFile = "figures.csv"

// ReadFigures reads figures.csv back: the figures as their readers saw them, in
// the order of the file.
func ReadFigures(data []byte) ([]Listed, error) {
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", FiguresFile, err)
	}
	if len(rows) == 0 || !slices.Equal(rows[0], figureColumns) {
		return nil, fmt.Errorf("%s was written by another version of the program: its columns are others", FiguresFile)
	}
	list := make([]Listed, 0, len(rows)-1)
	for _, cells := range rows[1:] {
		list = append(list, Listed{cells})
	}
	return list, nil
}

// Columns are the headings of figures.csv, which are the fields of results.figures and
// two more: how the value reads, and whether the persons are rounded.
func Columns() []string { return slices.Clone(figureColumns) }

// Listed is one row of figures.csv.
type Listed struct{ cells []string }

// Cells are the row's cells, in the order of Columns.
func (l Listed) Cells() []string { return slices.Clone(l.cells) }

// Cell is the cell under a heading; empty where there is nothing.
func (l Listed) Cell(column string) string { return l.cells[slices.Index(figureColumns, column)] }

// Number is the number under a heading; false where there is none.
func (l Listed) Number(column string) (float64, bool) {
	v, err := strconv.ParseFloat(l.Cell(column), 64)
	return v, err == nil
}

// significant digits of numbers in figures.csv: more than anybody reads, fewer
// than the last bits in which two processors may differ.
const significant = 12

func float(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', significant, 64)
}

func whole(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

func isoDate(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
