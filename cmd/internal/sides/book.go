package sides

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/analysis/symmetry"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
	"evenlimb/seeds/reference"
)

// Mark stands on every sheet and every printed page.
const Mark = "PERSON-LEVEL: single persons under their pseudonyms, with dates. For the treating clinician; not for circulation."

// Workbook writes the courses of one site.
func Workbook(courses []Course, practice *settings.Practice, batch warehouse.Batch) ([]byte, error) {
	w := writer{practice: practice, threshold: practice.Symmetry.ThresholdPercent}
	w.about = fmt.Sprintf("%s Data of batch %d, received %s.", Mark, batch.Number, words.Date(batch.ReceivedOn))
	if practice.MadeUp {
		w.about = words.MadeUp + " " + w.about
	}
	book := workbooks.Book{
		Title:   practice.Name + ": both sides, person by person. PERSON-LEVEL",
		Author:  practice.Name,
		Date:    batch.ReceivedOn,
		Caution: Mark + " " + words.CautionInBrief,
		Sheets: []workbooks.Sheet{
			w.readFirst(),
			w.compare("Sides, last visit", "The two sides at the last visit of each course of care and measure", courses, true),
			w.change("Change, last visit", "The change since baseline at the last visit of each course of care and measure", courses, true),
			w.compare("Sides, all visits", "The two sides at each visit", courses, false),
			w.change("Change, all visits", "The change since baseline at each visit", courses, false),
		},
	}
	if limbs := w.limbs(courses); len(limbs.Rows) > 0 {
		book.Sheets = append(book.Sheets, limbs)
	}
	var out bytes.Buffer
	err := workbooks.Write(&out, book)
	return out.Bytes(), err
}

// writer makes the sheets.
type writer struct {
	practice  *settings.Practice
	threshold int
	about     string
}

// The words of verdicts.
var verdictWords = map[string]string{
	"clear_of": "at or above", "undecided": "undecided", "below": "below",
	"improved": "improved", "no_real_change": "within error", "worse": "worse",
}

// Where no error of measuring is known.
const (
	notKnown     = "not known"
	cannotBeTold = "cannot be told"
)

func (w writer) readFirst() workbooks.Sheet {
	rows := [][2]string{
		{"Index", "The involved side in percent of the other, of the same visit or the nearest within the days set; turned round where less is better. Girth is told as a difference in cm instead."},
		{"Error (±)", "Half the 95 % interval of one measured index or difference. Both sides are measured with an error, and it follows from the error published for the measure: that of one rater where one rater measured both sides, else that of two."},
		{"At or above, below", fmt.Sprintf("The index lies at %d %% or above, or below it, by more than its error.", w.threshold)},
		{"Undecided", fmt.Sprintf("The index lies within its error of %d %%: measuring cannot say on which side of it the person is.", w.threshold)},
		{"Against the other side's baseline", "The involved side now in percent of the other side at baseline. It stays below the plain index where the other side has weakened meanwhile."},
		{"Real from", "The smallest change, either way, that measuring twice would not give by itself (95 %)."},
		{"Improved, worse, within error", "The change of the limb since its baseline, set against that."},
		{"Important from", "The smallest change that people call a change, where that is published. It is judged apart from the error."},
		{"Other side in care", "On that day the person was also in care for the other side in the same region of the body. That side is then no sound measure of the involved one."},
		{"What this is not", "It says what was measured, and how surely. It foretells nothing, and what follows from it is for the clinician who knows the person to judge."},
	}
	s := workbooks.Sheet{
		Name: "Read first", Heading: "Both sides, person by person", Lead: []string{w.about},
		Columns: []workbooks.Column{{Heading: "Word", Width: 34}, {Heading: "Meaning", Width: 110}},
		Notes:   []string{words.CautionInBrief},
	}
	for _, row := range rows {
		s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(row[0]), workbooks.Text(row[1])})
	}
	return s
}

// compare has a row for each visit at which the involved side was measured, or for
// the last one of each measure.
func (w writer) compare(name, heading string, courses []Course, last bool) workbooks.Sheet {
	s := w.sheet(name, heading,
		column("Involved side", 9), column("Other side", 9), column("Other measured on", 11), column("Index, %", 8), column("Difference, cm", 10), column("±", 11),
		column(fmt.Sprintf("Beside %d %%", w.threshold), 15), column("Against the other side's baseline, %", 13), column("Remarks", 34))
	for _, c := range courses {
		for _, v := range picked(c.Visits, last) {
			s.Rows = append(s.Rows, slices.Concat(w.whose(c, c.Side, v.Measure, v.Day), w.compared(c, v), []workbooks.Cell{workbooks.Text(remarks(v))}))
		}
	}
	return s
}

// change has a row for each visit that a baseline stands before, or for the last
// one of each measure.
func (w writer) change(name, heading string, courses []Course, last bool) workbooks.Sheet {
	s := w.sheet(name, heading, changeColumns()...)
	for _, c := range courses {
		for _, v := range picked(c.Visits, last) {
			if v.Change != nil {
				s.Rows = append(s.Rows, append(w.whose(c, c.Side, v.Measure, v.Day), changed(c, *v.Change)...))
			}
		}
	}
	return s
}

// limbs has a row for each limb and visit where both sides are involved.
func (w writer) limbs(courses []Course) workbooks.Sheet {
	s := w.sheet("Both sides involved", "Each limb beside its own baseline, the worse side first", append(changeColumns(), column("Limb", 8))...)
	s.Lead = append(s.Lead, "Where both sides are involved neither can serve as the measure of the other, and there is no index.")
	for _, c := range courses {
		for _, l := range c.Limbs {
			s.Rows = append(s.Rows, slices.Concat(w.whose(c, l.Side, l.Measure, l.Day), changed(c, l.LimbChange), []workbooks.Cell{workbooks.Text(l.Limb)}))
		}
	}
	return s
}

// sheet begins a sheet whose rows say first whose they are.
func (w writer) sheet(name, heading string, more ...workbooks.Column) workbooks.Sheet {
	return workbooks.Sheet{
		Name: name, Heading: heading, Lead: []string{w.about}, Notes: []string{words.CautionInBrief},
		Columns: append([]workbooks.Column{
			column("Person", 15), column("Episode", 15), column("Injury type", 27), column("Side", 6), column("Measure", 36), column("Measured on", 11), column("Week of care", 7),
		}, more...),
	}
}

func changeColumns() []workbooks.Column {
	return []workbooks.Column{
		column("Value", 9), column("Baseline", 9), column("Baseline on", 11), column("Changed by", 9), column("Real from", 11), column("That is", 15),
		column("Important from", 10), column("That large", 8),
	}
}

// picked are all visits, or the last one of each measure.
func picked(visits []Visit, last bool) []Visit {
	if !last {
		return visits
	}
	var list []Visit
	for i, v := range visits {
		if i+1 == len(visits) || visits[i+1].Measure != v.Measure {
			list = append(list, v)
		}
	}
	return list
}

// remarks say what a reader of the two sides must know of the visit.
func remarks(v Visit) string {
	var list []string
	if v.Day < 0 {
		list = append(list, "before care began")
	}
	if v.Pair == nil {
		return strings.Join(append(list, "other side not measured near"), "; ")
	}
	if v.OtherInCare {
		list = append(list, "other side in care on that day")
	}
	if !v.Pair.SameRater {
		list = append(list, "two raters, or not recorded")
	}
	return strings.Join(list, "; ")
}

// whose are the cells that say whose limb was measured, what, and when.
func (w writer) whose(c Course, side, measure string, day int) []workbooks.Cell {
	person := c.PersonID
	if person == "" {
		person = "not sent"
	}
	label := words.MeasureLabel(measure) + ", " + words.MeasureUnit(measure)
	return []workbooks.Cell{
		workbooks.Text(person), workbooks.Text(c.EpisodeID), workbooks.Text(w.injury(c.InjuryType)), workbooks.Text(side), workbooks.Text(label),
		workbooks.Date(c.on(day)), workbooks.Number(week(day), 0),
	}
}

func (w writer) injury(code string) string {
	for _, t := range w.practice.InjuryTypes {
		if t.Code == code {
			return t.Label
		}
	}
	return code
}

// compared are the eight cells of the two sides beside each other, from the
// involved side's value on.
func (w writer) compared(c Course, v Visit) []workbooks.Cell {
	cells := make([]workbooks.Cell, 8)
	p := v.Pair
	if p == nil {
		cells[0] = measured(v.Measure, v.Change.Value)
		return cells
	}
	cells[0], cells[1] = measured(v.Measure, p.Involved), measured(v.Measure, p.Uninvolved)
	if p.UninvolvedDay != p.Day {
		cells[2] = workbooks.Date(c.on(p.UninvolvedDay))
	}
	switch kindOf(v.Measure) {
	case "strength", "hop", "endurance":
		if p.IndexPercent == nil {
			break
		}
		cells[3], cells[5], cells[6] = workbooks.Number(*p.IndexPercent, 0), workbooks.Note(notKnown), workbooks.Note(cannotBeTold)
		if judged, ok := symmetry.JudgeIndex(*p, w.threshold); ok {
			cells[5], cells[6] = workbooks.Number(judged.Error, 1), workbooks.Note(verdictWords[judged.Verdict])
		}
		if p.BaselinePercent != nil {
			cells[7] = workbooks.Number(*p.BaselinePercent, 0)
		}
	case "girth":
		cells[4], cells[5] = workbooks.Number(p.Involved-p.Uninvolved, 1), workbooks.Note(notKnown)
		if cm, ok := symmetry.DifferenceError(*p); ok {
			cells[5] = workbooks.Number(cm, 2)
		}
	}
	return cells
}

// changed are the eight cells of a change since baseline.
func changed(c Course, change warehouse.LimbChange) []workbooks.Cell {
	cells := []workbooks.Cell{
		measured(change.Measure, change.Value), measured(change.Measure, change.Baseline), workbooks.Date(c.on(change.BaselineDay)),
		measured(change.Measure, change.Value-change.Baseline), workbooks.Note(notKnown), workbooks.Note(cannotBeTold),
		{},
		{},
	}
	if judged, ok := symmetry.JudgeChange(change); ok {
		cells[4], cells[5] = workbooks.Number(judged.Error, 2), workbooks.Note(verdictWords[judged.Verdict])
	}
	if important, ok := symmetry.IsImportant(change); ok {
		cells[6], cells[7] = workbooks.Text(words.ImportantChange(change.Measure)), workbooks.Text(yes(important))
	}
	return cells
}

func column(heading string, width float64) workbooks.Column {
	return workbooks.Column{Heading: heading, Width: width}
}

// measured is a value with the digits in which such things are read.
func measured(measure string, v float64) workbooks.Cell {
	switch unit := words.MeasureUnit(measure); {
	case unit == "s":
		return workbooks.Number(v, 2)
	case unit == "kg", kindOf(measure) == "girth":
		return workbooks.Number(v, 1)
	default:
		return workbooks.Number(v, 0)
	}
}

func kindOf(measure string) string {
	kind, _ := reference.Cell("measures", measure, "kind")
	return kind
}

func yes(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}
