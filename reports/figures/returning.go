package figures

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// lastWeek is where every axis of weeks ends at the latest.
const lastWeek = 52

// headlineWeeks are the weeks that the return figures speak of, and where
// numbers at risk stand.
var headlineWeeks = []float64{0, 6, 12, 26, lastWeek}

// ReturnCurve draws the share of people back at their target by each week of
// care, for one injury type in the whole practice: the curve with its interval,
// the competing ends under it, and the numbers still at risk.
// The error is a *NothingShownError where fewer than two weeks are shown.
func ReturnCurve(r *disclosure.Released, injury string) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	g, ok := returnGroup(r, injury, "")
	if !ok {
		return Plot{}, nothing(words.InjuryLabel(r.Context(), injury), nil)
	}
	lead, err := weekly(g.Along(r, "cumulative"))
	if err != nil {
		return Plot{}, err
	}
	if len(lead) < 2 {
		return Plot{}, nothing(g.Label, g.Along(r, "cumulative"))
	}
	competing, err := weekly(g.Along(r, "competing"))
	if err != nil {
		return Plot{}, err
	}

	d := curve{
		xCaption:      "Weeks since care began",
		yCaption:      "Share of people",
		weeks:         weekAxis(*lead[len(lead)-1].X),
		levels:        percentMarks(),
		tall:          curveHeight,
		lead:          endLabelled("Back at their target", lead),
		atRiskCaption: "Still followed and not yet back, rounded to 5",
	}
	drawn := slices.Clone(lead)
	if len(competing) > 1 {
		d.others = []series{endLabelled("Ended otherwise", competing)}
		drawn = append(drawn, competing...)
	}
	for _, s := range lead[1 : len(lead)-1] {
		if slices.Contains(headlineWeeks, *s.X) {
			d.called = append(d.called, mark{*s.X, words.Percent(*s.Value)})
		}
	}
	for _, s := range g.Along(r, "at_risk") {
		if s.Value != nil && *s.X <= d.weeks[len(d.weeks)-1].at {
			d.atRisk = append(d.atRisk, mark{*s.X, words.Value(s)})
			drawn = append(drawn, s)
		}
	}
	return picture{
		name:     g.Picture,
		id:       g.Picture,
		title:    title(words.ReturnSentence(r, g)),
		subtitle: who(lead[len(lead)-1], r.Context()),
		notes:    curveNotes(lead[len(lead)-1], len(d.others) > 0),
		madeUp:   r.Context().MadeUp,
		alt:      curveAlt(g.Label, lead, competing),
		body:     d.height(),
		draw:     d.draw,
		table:    table(drawn),
	}.render()
}

// returnGroup finds the picture of an injury type (empty: all) and a site
// (empty: the practice).
func returnGroup(r *disclosure.Released, injury, site string) (words.Group, bool) {
	for _, g := range words.Groups(r, "return") {
		if g.InjuryType == injury && g.Site == site {
			return g, true
		}
	}
	return words.Group{}, false
}

// weekly returns the points of a curve that can be drawn: whole weeks from 0
// without a hole. What lies behind a hole is not drawn, since the line across
// would be an invention.
func weekly(all []disclosure.Shown) ([]disclosure.Shown, error) {
	var out []disclosure.Shown
	for _, s := range all {
		if *s.X != float64(len(out)) || *s.X > lastWeek || s.Value == nil {
			break
		}
		for _, v := range []*float64{s.Value, s.Low, s.High} {
			if v != nil && (*v < 0 || *v > 1) {
				return nil, fmt.Errorf("figure %s: %g is not a share", s.ID, *v)
			}
		}
		out = append(out, s)
	}
	return out, nil
}

// endLabelled is a curve with its last value in words at its end.
func endLabelled(label string, shown []disclosure.Shown) series {
	end := shown[len(shown)-1]
	return series{label: label, words: []string{words.WithInterval(end), byWeek(end)}, points: points(shown)}
}

// points turns shares into places; without both limits there is no interval.
func points(shown []disclosure.Shown) []point {
	out := make([]point, len(shown))
	for i, s := range shown {
		out[i] = point{x: *s.X, y: *s.Value, low: math.NaN(), high: math.NaN()}
		if s.Low != nil && s.High != nil {
			out[i].low, out[i].high = *s.Low, *s.High
		}
	}
	return out
}

// weekAxis labels the headline weeks up to the first that holds the whole curve,
// with a small tick every second week.
func weekAxis(last float64) []mark {
	end := float64(lastWeek)
	for _, w := range headlineWeeks[1:] {
		if w >= last {
			end = w
			break
		}
	}
	var marks []mark
	for w := 0.0; w <= end; w += 2 {
		m := mark{at: w}
		if slices.Contains(headlineWeeks, w) {
			m.label = words.Decimal(w, 0)
		}
		marks = append(marks, m)
	}
	return marks
}

func curveNotes(last disclosure.Shown, others bool) []string {
	var notes []string
	if last.Low != nil && last.High != nil {
		notes = append(notes, fmt.Sprintf("Shaded: %s interval, week by week. A return counts from the contact at which it was recorded.", words.Percent(last.Level)))
	}
	if others {
		notes = append(notes, "Ended otherwise: surgery, new injury of the same structure, care not to go on, no return intended, death.")
	}
	if last.Status == result.Provisional {
		notes = append(notes, "Provisional: later data may still change it.")
	}
	return append(notes, last.Warnings...)
}

func curveAlt(label string, lead, competing []disclosure.Shown) string {
	var said []string
	for i, s := range lead {
		if i > 0 && (i == len(lead)-1 || slices.Contains(headlineWeeks, *s.X)) {
			said = append(said, words.WithInterval(s)+" "+byWeek(s))
		}
	}
	alt := fmt.Sprintf("%s. Step curve of the share of people back at their target, with its interval: %s.", label, strings.Join(said, ", "))
	if n := len(competing); n > 1 {
		alt += fmt.Sprintf(" A lighter, dashed curve shows care that ended otherwise: %s %s.", words.WithInterval(competing[n-1]), byWeek(competing[n-1]))
	}
	return alt
}
