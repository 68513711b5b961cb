package monthly

import (
	"fmt"
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// workbook composes monthly.xlsx.
func workbook(r *disclosure.Released) workbooks.Book {
	c := r.Context()
	b := workbooks.Book{
		Title:   fmt.Sprintf("%s: report for %s", c.Practice, words.Month(c.Month)),
		Author:  c.Practice,
		Date:    c.PeriodTo,
		Caution: words.CautionInBrief,
	}
	b.Sheets = []workbooks.Sheet{
		summarySheet(r), returnSheet(r), timeSheet(r), flowSheet(r), sensitivitySheet(r),
	}
	b.Sheets = slices.Concat(b.Sheets, injurySheets(r), stageSheets(r), recurrenceSheets(r), contrastSheets(r), symmetrySheets(r), doseSheets(r), scoreSheets(r), progressionSheets(r), safetySheets(r),
		[]workbooks.Sheet{dataSheet(r), usableSheet(r), methodsSheet(r), dictionarySheet(), cautionsSheet()})
	return b
}

// filled are the sheets that have rows.
func filled(sheets ...workbooks.Sheet) []workbooks.Sheet {
	return slices.DeleteFunc(sheets, func(s workbooks.Sheet) bool { return len(s.Rows) == 0 })
}

// columnsOfFigures are the columns of a sheet with a row for each figure; width is
// that of the figure's name.
func columnsOfFigures(group string, width float64, note workbooks.Column) []workbooks.Column {
	return []workbooks.Column{
		{Heading: group, Width: 46},
		{Heading: "Figure", Width: width},
		{Heading: "Value", Width: 13},
		{Heading: "from", Width: 8},
		{Heading: "to", Width: 8},
		{Heading: words.MonthBefore, Width: 13},
		{Heading: "People", Width: 11},
		note,
	}
}

// figureCells is the row of a figure under columnsOfFigures.
func figureCells(r *disclosure.Released, group string, f disclosure.Shown, note string) []workbooks.Cell {
	return []workbooks.Cell{
		workbooks.Text(group), workbooks.Text(words.Label(f)), value(f), numberLike(f, f.Low), numberLike(f, f.High), before(r, f), persons(f), workbooks.Text(note),
	}
}

// value is a figure's value as a number where there is one, and in words where
// there is none.
func value(f disclosure.Shown) workbooks.Cell {
	if f.Value == nil {
		return workbooks.Note(words.Value(f))
	}
	return numberLike(f, f.Value)
}

// numberLike prints v with the digits that the figure's value has in words.
func numberLike(f disclosure.Shown, v *float64) workbooks.Cell {
	switch {
	case v == nil:
		return workbooks.Cell{}
	case words.IsShare(f):
		return workbooks.Percent(*v, 0)
	default:
		return workbooks.Number(*v, words.Digits(f))
	}
}

// before is a figure's value as it was published the month before.
func before(r *disclosure.Released, f disclosure.Shown) workbooks.Cell {
	if p, ok := r.Before(f.ID); ok && p.Value != nil {
		return numberLike(f, p.Value)
	}
	return workbooks.Note(words.Before(r, f))
}

func persons(f disclosure.Shown) workbooks.Cell {
	switch {
	case f.Persons == nil:
		return workbooks.Cell{}
	case f.PersonsRounded:
		return workbooks.Note(words.Persons(f))
	default:
		return workbooks.Number(float64(*f.Persons), 0)
	}
}

func wholeCell(n int) workbooks.Cell { return workbooks.Number(float64(n), 0) }

// where says what the report rests on; it stands on each sheet of results.
func where(r *disclosure.Released) string {
	c := r.Context()
	text := fmt.Sprintf("Care begun %s to %s. Data of batch %d, received %s.", words.Date(c.PeriodFrom), words.Date(c.PeriodTo), c.AsOfBatch, words.Date(c.ReceivedOn))
	if r.Audience() == disclosure.Inside {
		text = words.InsideOnly + " " + text
	}
	if c.MadeUp {
		text = words.MadeUp + " " + text
	}
	return text
}
