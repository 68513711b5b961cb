package monthly

import (
	"bytes"
	"encoding/csv"
	"fmt"
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
