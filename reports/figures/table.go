package figures

import (
	"strconv"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// significant digits of numbers, as in the report's list of all figures: more
// than anybody reads, fewer than the last bits in which two processors differ.
const significant = 12

// table is what lies beside a picture as CSV: one row for each figure drawn,
// headings first.
func table(rows []disclosure.Shown) [][]string {
	out := [][]string{{"figure_id", "statistic", "x", "x_unit", "value", "low", "high", "level", "unit", "persons", "status", "note"}}
	for _, s := range rows {
		note := s.Reason
		if s.ValueBelow > 0 {
			note = words.Fewer(s.ValueBelow)
		}
		level := ""
		if s.Level > 0 {
			level = number(&s.Level)
		}
		persons := ""
		if s.Persons != nil {
			persons = strconv.Itoa(*s.Persons)
		}
		out = append(out, []string{
			s.ID, s.Statistic, number(s.X), s.XUnit, number(s.Value), number(s.Low), number(s.High), level,
			s.Unit, persons, string(s.Status), note,
		})
	}
	return out
}

func number(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', significant, 64)
}
