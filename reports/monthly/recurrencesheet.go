package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// recurrenceSheets is the sheet of those who came again; none without figures.
func recurrenceSheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "In care again",
		Heading: "Care begun again for the same injury on the same side after a return",
		Lead:    []string{where(r)},
		Columns: []workbooks.Column{
			{Heading: "Group", Width: 46},
			{Heading: "Within days of the return", Width: 12},
			{Heading: "Share", Width: 13},
			{Heading: "from", Width: 8},
			{Heading: "to", Width: 8},
			{Heading: words.MonthBefore, Width: 13},
			{Heading: "People who returned", Width: 11},
			{Heading: "Note", Width: 80},
		},
		Notes: []string{"from, to: the range that the data fit (95 %). Care begun elsewhere is not seen. " + words.CautionInBrief},
	}
	for _, sentence := range words.RecurrenceSentences(r) {
		s.Lead = append(s.Lead, sentence.Text)
	}
	for _, g := range words.Groups(r, "return") {
		if f, ok := words.Recurrence(r, g); ok {
			s.Rows = append(s.Rows, []workbooks.Cell{
				workbooks.Text(g.Label), workbooks.Number(*f.X, 0), value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f), persons(f), workbooks.Text(f.Reason),
			})
		}
	}
	return filled(s)
}
