package figures

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// painMeasure is the measure that injury types can be put beside each other by.
const painMeasure = "pain_nrs"

// PainByType draws the typical pain of every injury type near week 12, and under
// it that at the start of care.
// The error is a *NothingShownError where none is shown.
func PainByType(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	d := dots{caption: "Typical pain, 0-10", columns: [2]string{fmt.Sprintf("week %d (interval)", overviewWeek), "start"}}
	var shown []disclosure.Shown
	for _, g := range words.Groups(r, "scores") {
		f, ok := g.Figure(r, "typical", words.AtWeek(overviewWeek))
		if g.Measure != painMeasure || !ok {
			continue
		}
		row := estimateRow(g.Label, f, words.None)
		shown = append(shown, f)
		if start, ok := g.Figure(r, "typical", words.AtWeek(0)); ok && start.Value != nil && row.estimate != nil {
			at := point{y: *start.Value, low: math.NaN(), high: math.NaN()}
			row.beside, row.words = &at, [2]string{words.Bare(f) + " (" + words.Interval(f) + ")", words.Bare(start)}
			shown = append(shown, start)
		}
		d.rows = append(d.rows, row)
	}
	if _, ok := d.reach(); !ok {
		return Plot{}, nothing("Pain", shown)
	}
	d.scale = levelMarks(0, 10)
	first := shown[0]
	return picture{
		name: "scores.pain", id: strings.Replace(first.ID, first.InjuryType, "TYPE", 1),
		title:    fmt.Sprintf("Typical pain near week %d beside that at the start of care, by injury type", overviewWeek),
		subtitle: fmt.Sprintf("People who began care from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		notes:    []string{fmt.Sprintf("Dot and bar: near week %d, with its %s interval; ring: at the start. By a model, had everybody gone on answering. Injury types differ in their courses, so this is no ranking.", overviewWeek, words.Percent(level(shown)))},
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("Dots with intervals for typical pain near week %d: %s.", overviewWeek, d.said()),
		body:     d.height(),
		draw:     d.draw,
		table:    table(shown),
	}.render()
}

// scoreHeight is that of the axes of a score's curve.
const scoreHeight vg.Length = 150

// ScoreCurve draws the typical values of a score of one injury type at the
// start of care and at the weeks stated, joined by lines.
// The error is a *NothingShownError where fewer than two of them are shown.
func ScoreCurve(r *disclosure.Released, g words.Group) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	all := unbroken(g.Along(r, "typical"))
	if len(all) < 2 {
		return Plot{}, nothing(g.Label+", "+words.MeasureLabel(g.Measure), g.Along(r, "typical"))
	}
	end := all[len(all)-1]
	d := curve{
		xCaption: "Weeks since care began", yCaption: words.MeasureLabel(g.Measure) + ": " + words.ScaleOf(g.Measure),
		weeks: evenWeeks(*end.X), levels: levelsOf(all), joined: true, tall: scoreHeight,
		lead:          series{label: "Typical", words: []string{words.Bare(end), "(" + words.Interval(end) + ")", "at week " + words.Decimal(*end.X, 0)}, points: points(all)},
		atRiskCaption: "People who answered near the week",
	}
	for _, f := range all[1 : len(all)-1] {
		d.called = append(d.called, mark{*f.X, words.Bare(f)})
	}
	drawn := all
	for _, f := range all {
		if best, ok := g.Figure(r, "at_best", words.AtWeek(*f.X)); ok && best.Persons != nil {
			d.atRisk = append(d.atRisk, mark{*f.X, strings.TrimPrefix(words.Persons(best), "about ")})
			drawn = append(drawn, best)
		}
	}
	return picture{
		name: g.Picture, id: g.Picture,
		title:    title(words.ScoreSentence(r, g)),
		subtitle: who(all[0], r.Context()),
		notes:    []string{fmt.Sprintf("Typical values by a model, had everybody gone on answering; lines join them. Shaded: %s interval. The axis does not begin at zero.", words.Percent(all[0].Level))},
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("%s, %s. Curve of typical values: %s.", g.Label, words.MeasureLabel(g.Measure), scoreSaid(all)),
		body:     d.height(),
		draw:     d.draw,
		table:    table(drawn),
	}.render()
}

func scoreSaid(all []disclosure.Shown) string {
	parts := make([]string, len(all))
	for i, f := range all {
		parts[i] = fmt.Sprintf("%s at week %s", words.WithInterval(f), words.Decimal(*f.X, 0))
	}
	return strings.Join(parts, ", ")
}
