package figures

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// DoseCurve draws how the share of people back by the horizon goes with the dose
// that they had before the landmark, for one injury type: the share at each dose
// less that at the reference dose, standardised over what was known at the start
// with its interval, the raw curve in grey, and under the axis where the doses of
// those compared lie.
// The error is a *NothingShownError where fewer than two doses are shown.
func DoseCurve(r *disclosure.Released, g words.Group) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	lead := unbroken(g.Along(r, "dose_curve"))
	contrast := g.Along(r, "quartiles_contrast_standardised")
	if len(lead) < 2 || len(contrast) == 0 {
		return Plot{}, nothing(g.Label, slices.Concat(contrast, g.Along(r, "dose_curve")))
	}
	raw := unbroken(g.Along(r, "dose_curve_raw"))
	d := curve{
		xCaption: "Sets a week with the cuff inflated, before the landmark",
		yCaption: fmt.Sprintf("Share back %s less that at %s sets a week, percentage points", byWeek(contrast[0]), words.ReferenceDose(r)),
		weeks:    doseMarks(*lead[0].X, *lead[len(lead)-1].X), levels: pointMarks(slices.Concat(lead, raw)), joined: true, tall: curveHeight,
		lead: series{label: "Alike at the start", words: endPoints(lead), points: againstReference(lead)},
	}
	drawn := slices.Clone(lead)
	if len(raw) == len(lead) {
		d.others, d.quietOthers = []series{{label: "Raw", words: []string{words.Value(raw[len(raw)-1])}, points: points(raw)}}, true
		drawn = append(drawn, raw...)
	}
	for _, s := range lead {
		if *s.Value == 0 && s.Low == nil {
			d.called = append(d.called, mark{*s.X, "reference"})
		}
	}
	notes := []string{fmt.Sprintf("Shaded: %s interval, dose by dose. Grey: the same without regard to how people differed at the start.", words.Percent(lead[0].Level))}
	if spread, ok := doseSpread(r, g, *lead[0].X, *lead[len(lead)-1].X); ok {
		d.spread = spread
		notes = append(notes, "The curve is drawn from the dose that one in ten did not reach to the one that one in ten exceeded; bar: middle half of the people, line: half of them.")
	}
	for _, statistic := range []string{"relation_p", "curvature_p", "first_quartile_dose", "third_quartile_dose"} {
		if f, ok := g.Figure(r, statistic, ""); ok {
			drawn = append(drawn, f)
		}
	}
	return picture{
		name: g.Picture + ".curve", id: g.Picture + "/dose_curve",
		title:    title(words.DoseCurveSentence(r, g)),
		subtitle: who(lead[0], r.Context()),
		notes:    append(notes, words.LandmarkSentence),
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("%s. Curve with its interval: %s A grey line shows the raw curve.", g.Label, words.DoseCurveSentence(r, g).Text),
		body:     d.height(),
		draw:     d.draw,
		table:    table(drawn),
	}.render()
}

// againstReference are the points of a curve, of which the one at the reference is
// none by definition and has no interval.
func againstReference(shown []disclosure.Shown) []point {
	ps := points(shown)
	for i, p := range ps {
		if p.y == 0 && !p.hasInterval() {
			ps[i].low, ps[i].high = 0, 0
		}
	}
	return ps
}

func endPoints(shown []disclosure.Shown) []string {
	end := shown[len(shown)-1]
	out := []string{words.Value(end)}
	if end.Low != nil && end.High != nil {
		out = append(out, "("+words.Interval(end)+")")
	}
	return out
}

// doseMarks label every fifth dose, with a small tick at every one.
func doseMarks(from, to float64) []mark {
	var marks []mark
	for d := from; d <= to; d++ {
		m := mark{at: d}
		if math.Mod(d, 5) == 0 || (d == from && math.Mod(d, 5) < 3) {
			m.label = words.Decimal(d, 0)
		}
		marks = append(marks, m)
	}
	return marks
}

// pointMarks are round percentage points that hold differences of shares with
// their intervals, and none.
func pointMarks(shown []disclosure.Shown) []mark {
	low, high := 0.0, 0.0
	for _, s := range shown {
		for _, v := range []*float64{s.Value, s.Low, s.High} {
			if v != nil {
				low, high = min(low, 100**v), max(high, 100**v)
			}
		}
	}
	marks := levelMarks(low, high)
	for i := range marks {
		if marks[i].at > 0 {
			marks[i].label = "+" + marks[i].label
		}
		marks[i].at /= 100
	}
	return marks
}

// doseSpread is where the doses of those with some work lie, inside the axis.
func doseSpread(r *disclosure.Released, g words.Group, from, to float64) (*spreadBar, bool) {
	var at [3]float64
	for k, suffix := range []string{"_lower_quartile", "_median", "_upper_quartile"} {
		f, ok := g.Figure(r, "sets_per_week"+suffix, "")
		if !ok || f.Value == nil || *f.Value < from || *f.Value > to {
			return nil, false
		}
		at[k] = *f.Value
	}
	return &spreadBar{low: at[0], middle: at[1], high: at[2]}, true
}
