package figures

import (
	"fmt"
	"math"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// FirstStep draws, for the whole practice and every injury type in the order of
// the practice, the week by which half had taken a first step up in an exercise.
// The error is a *NothingShownError where no such week is shown.
func FirstStep(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	d := dots{caption: "Weeks since care began", columns: [2]string{"weeks (interval)", "people"}}
	var shown []disclosure.Shown
	for _, g := range words.Groups(r, "progression") {
		if f, ok := g.Figure(r, "first_step_median_weeks", ""); ok {
			d.rows, shown = append(d.rows, estimateRow(g.Label, f, words.Persons(f))), append(shown, f)
		}
	}
	top, ok := d.reach()
	if !ok {
		return Plot{}, nothing("First steps up", shown)
	}
	d.scale = levelMarks(0, top)
	first := shown[0]
	heading := "Half of the people had taken a first step up in an exercise by the week at the dot"
	if first.InjuryType == "" && first.Value != nil {
		heading = fmt.Sprintf("Half of the people had taken a first step up in an exercise by week %s", words.Decimal(*first.Value, 1))
	}
	return picture{
		name: "progression.first_step", id: strings.Replace(first.ID, "progression.", "progression.TYPE.", 1),
		title:    heading,
		subtitle: fmt.Sprintf("People who began care from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		notes:    []string{fmt.Sprintf("Bar: %s interval. Whoever took no step is watched to the last visit. Injury types differ in their ladders and courses, so this is no ranking.", words.Percent(level(shown)))},
		madeUp:   r.Context().MadeUp,
		alt:      "Dots with intervals for the week by which half had taken a first step up in an exercise: " + d.said() + ".",
		body:     d.height(),
		draw:     d.draw,
		table:    table(shown),
	}.render()
}

// ToleranceByBand draws how many of 1,000 bouts were ended early for pain or a
// symptom, by band of pressure, of all exercises together.
// The error is a *NothingShownError where none is shown.
func ToleranceByBand(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	d := dots{caption: "Ended early, per 1,000 bouts", columns: [2]string{"rate (interval)", "bouts"}}
	var shown []disclosure.Shown
	for _, b := range words.AllExercises(words.Bands(r)) {
		if f, ok := b.Group.Figure(r, "ended_early", ""); ok {
			d.rows, shown = append(d.rows, estimateRow(b.Group.Label, f, words.Counted(f))), append(shown, f)
		}
	}
	top, ok := d.reach()
	if !ok {
		return Plot{}, nothing("Bouts ended early", shown)
	}
	d.scale = levelMarks(0, top)
	first := shown[0]
	return picture{
		name: "tolerance.by_band", id: strings.Replace(first.ID, "by="+first.Stratum, "by=BAND", 1),
		title:    title(words.TolerancePicture(r)),
		subtitle: fmt.Sprintf("Bouts of people who began care from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		notes: []string{
			fmt.Sprintf("Bar: %s interval, allowing for bouts of one person being alike. Bands: share of the full occlusion pressure.", words.Percent(level(shown))),
			words.ToleranceSentence,
		},
		madeUp: r.Context().MadeUp,
		alt:    "Dots with intervals for bouts ended early for pain or a symptom, per 1,000 bouts, by band of pressure: " + d.said() + ".",
		body:   d.height(),
		draw:   d.draw,
		table:  table(shown),
	}.render()
}

// estimateRow is the row of one figure; without a value it says why.
func estimateRow(label string, f disclosure.Shown, second string) dotRow {
	row := dotRow{label: label}
	if words.NoneSeen(f) {
		row.absent = "none seen: up to " + words.Rate(*f.High) + " per 1,000"
		return row
	}
	if f.Value == nil {
		row.absent = words.Value(f)
		if f.Status == result.Hidden {
			row.absent += " (too few)"
		}
		return row
	}
	at := point{y: *f.Value, low: math.NaN(), high: math.NaN()}
	if f.Low != nil && f.High != nil {
		at.low, at.high = *f.Low, *f.High
	}
	row.estimate, row.words = &at, [2]string{words.WithInterval(f), second}
	return row
}

// reach is the largest number drawn; false where there is none.
func (d dots) reach() (top float64, ok bool) {
	for _, row := range d.rows {
		if row.estimate == nil {
			continue
		}
		top, ok = max(top, row.estimate.y), true
		if row.estimate.hasInterval() {
			top = max(top, row.estimate.high)
		}
	}
	return top, ok
}

// said are the rows in words.
func (d dots) said() string {
	var parts []string
	for _, row := range d.rows {
		if row.estimate == nil {
			parts = append(parts, row.label+" "+row.absent)
			continue
		}
		parts = append(parts, row.label+" "+row.words[0])
	}
	return strings.Join(parts, "; ")
}
