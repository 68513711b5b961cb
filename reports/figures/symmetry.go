package figures

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// Heights of the axes of the two drawings under each other, and the gap.
const (
	limbsHeight vg.Length = 120
	indexHeight vg.Length = 140
	stackGap    vg.Length = 12
)

// stack is two drawings over the same weeks, one under the other.
type stack struct{ over, under curve }

func (d stack) height() vg.Length { return d.over.height() + stackGap + d.under.height() }

func (d stack) draw(c draw.Canvas) error {
	left, right := max(d.over.levelWidth(), d.under.levelWidth()), max(d.over.labelWidth(), d.under.labelWidth())
	upper, lower := c, c
	upper.Min.Y = c.Max.Y - d.over.height()
	lower.Max.Y = upper.Min.Y - stackGap
	if err := d.over.drawWithin(upper, left, right); err != nil {
		return err
	}
	return d.under.drawWithin(lower, left, right)
}

// SymmetryCurve draws how alike the two sides are over the weeks, for one
// measure of one injury type in the whole practice: the values of both sides
// above, as the other side changes too, and under them the index or the
// difference of girth with its interval and how many were measured.
// The error is a *NothingShownError where fewer than two weeks are shown.
func SymmetryCurve(r *disclosure.Released, g words.Group) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	sides := unbroken(g.Along(r, g.SidesCurve()))
	if len(sides) < 2 {
		return Plot{}, nothing(g.Label+", "+words.InSentence(words.MeasureLabel(g.Measure)), g.Along(r, g.SidesCurve()))
	}
	involved, other := unbroken(g.Along(r, "involved_curve")), unbroken(g.Along(r, "uninvolved_curve"))
	last := *sides[len(sides)-1].X
	for _, limb := range [][]disclosure.Shown{involved, other} {
		if len(limb) > 0 {
			last = max(last, *limb[len(limb)-1].X)
		}
	}
	weeks := evenWeeks(last)

	under := curve{
		xCaption: "Weeks since care began", yCaption: sidesCaption(g), weeks: weeks, levels: levelsOf(sides), joined: true, tall: indexHeight,
		lead:          series{label: "Index", words: endWords(g, sides), points: points(sides)},
		atRiskCaption: "People measured on both sides near the week",
		besideCaption: "People of this injury type back at their target by then, measured or not",
	}
	if !g.IsIndex() {
		under.lead.label = "Difference"
	}
	drawn := slices.Clone(sides)
	people, crowdRows := crowdOf(r, g, last)
	under.people = people
	for _, s := range g.Along(r, "plain_mean") {
		if s.Value != nil && *s.X <= last {
			under.means = append(under.means, point{x: *s.X, y: *s.Value})
			drawn = append(drawn, s)
		}
	}
	under.levels = levelsOf(slices.Concat(sides, crowdRows, drawn))
	drawn = append(drawn, crowdRows...)
	for _, s := range sides[1 : len(sides)-1] {
		if slices.Contains(headlineWeeks, *s.X) {
			under.called = append(under.called, mark{*s.X, valueAt(g, s)})
		}
	}
	for _, s := range g.Along(r, "measured") {
		if text := measuredText(s); text != "" && *s.X <= last {
			under.atRisk = append(under.atRisk, mark{*s.X, text})
			drawn = append(drawn, s)
		}
	}
	for _, s := range g.OfType().Along(r, "returned_already") {
		if text := measuredText(s); text != "" && *s.X <= last {
			under.beside = append(under.beside, mark{*s.X, text})
			drawn = append(drawn, s)
		}
	}
	p := picture{
		name: g.Picture, id: g.Picture,
		title:    title(words.SymmetrySentence(r, g)),
		subtitle: who(sides[len(sides)-1], r.Context()),
		notes: []string{fmt.Sprintf("Typical values by a model, had everybody stayed in measurement. Shaded: %s interval, week by week. Axes do not begin at zero.",
			words.Percent(sides[0].Level))},
		madeUp: r.Context().MadeUp,
	}
	if len(under.people) > 1 {
		p.notes = append(p.notes, "Grey: the middle eight tenths of those measured near the week; dotted: half of them lie below.")
	}
	if len(under.means) > 0 {
		p.notes = append(p.notes, "Rings: plain mean of those measured, without a model.")
	}
	p.alt = symmetryAlt(g, sides)
	p.body, p.draw = under.height(), under.draw
	if len(involved) > 1 && len(other) > 1 {
		over := curve{
			yCaption: words.MeasureLabel(g.Measure) + ", " + words.MeasureUnit(g.Measure),
			weeks:    weeks, levels: levelsOf(slices.Concat(involved, other)), joined: true, tall: limbsHeight,
			lead:   series{label: "Involved side", words: []string{words.Value(involved[len(involved)-1])}, points: points(involved)},
			others: []series{{label: "Other side", words: []string{words.Value(other[len(other)-1])}, points: points(other)}},
		}
		both := stack{over, under}
		p.body, p.draw = both.height(), both.draw
		p.alt += fmt.Sprintf(" Above it the two sides themselves: the involved side goes from %s to %s, the other from %s to %s.",
			words.Value(involved[0]), words.Value(involved[len(involved)-1]), words.Value(other[0]), words.Value(other[len(other)-1]))
		drawn = append(append(drawn, involved...), other...)
	}
	p.table = table(drawn)
	return p.render()
}

// crowdOf returns between which values the middle eight tenths of those measured
// lie, week by week up to the last one drawn, and the figures that say so: as far
// as all three of a week are shown.
func crowdOf(r *disclosure.Released, g words.Group, last float64) ([]point, []disclosure.Shown) {
	low, middle, high := unbroken(g.Along(r, "spread_low")), unbroken(g.Along(r, "spread_middle")), unbroken(g.Along(r, "spread_high"))
	var crowd []point
	var rows []disclosure.Shown
	for i := range min(len(low), len(middle), len(high)) {
		if *low[i].X > last {
			break
		}
		crowd = append(crowd, point{x: *low[i].X, y: *middle[i].Value, low: *low[i].Value, high: *high[i].Value})
		rows = append(rows, low[i], middle[i], high[i])
	}
	return crowd, rows
}

func sidesCaption(g words.Group) string {
	if g.IsGirth() {
		return "Involved side less the other, " + words.MeasureUnit(g.Measure)
	}
	if g.CanBeZero() {
		return "Behind the other side (below 0) or ahead, % of its baseline"
	}
	return "Index: involved side in % of the other"
}

// unbroken returns the first points of a curve up to one without a value: the
// line across a hole would be an invention.
func unbroken(all []disclosure.Shown) []disclosure.Shown {
	for i, s := range all {
		if s.Value == nil {
			return all[:i]
		}
	}
	return all
}

// levelsOf are the marks of an axis that holds the curves with their intervals.
func levelsOf(shown []disclosure.Shown) []mark {
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range shown {
		for _, v := range []*float64{s.Value, s.Low, s.High} {
			if v != nil {
				low, high = min(low, *v), max(high, *v)
			}
		}
	}
	return levelMarks(low, high)
}

// evenWeeks labels the headline weeks up to the last one drawn, and that one
// where it stands clear of them, with a small tick every second week.
func evenWeeks(last float64) []mark {
	var marks []mark
	for w := 0.0; w <= last; w += 2 {
		m := mark{at: w}
		if slices.Contains(headlineWeeks, w) || (w == last && !slices.ContainsFunc(headlineWeeks, func(h float64) bool { return math.Abs(h-w) < 3 })) {
			m.label = words.Decimal(w, 0)
		}
		marks = append(marks, m)
	}
	return marks
}

// valueAt is a value at the curve, where the caption of the axis has a long unit.
func valueAt(g words.Group, s disclosure.Shown) string {
	if g.CanBeZero() {
		return words.Bare(s) + "\u00a0%"
	}
	return words.Value(s)
}

func endWords(g words.Group, shown []disclosure.Shown) []string {
	end := shown[len(shown)-1]
	out := []string{valueAt(g, end)}
	if end.Low != nil && end.High != nil {
		out = append(out, "("+words.Interval(end)+")")
	}
	return append(out, "at week "+words.Decimal(*end.X, 0))
}

// measuredText is short enough to stand under its week; empty where nothing may
// be said.
func measuredText(s disclosure.Shown) string {
	switch {
	case s.ValueBelow > 0:
		return fmt.Sprintf("under %d", s.ValueBelow)
	case s.Value == nil:
		return ""
	default:
		return words.Value(s)
	}
}

func symmetryAlt(g words.Group, sides []disclosure.Shown) string {
	var said []string
	for i, s := range sides {
		if i == 0 || i == len(sides)-1 || slices.Contains(headlineWeeks, *s.X) {
			said = append(said, fmt.Sprintf("%s at week %s", words.WithInterval(s), words.Decimal(*s.X, 0)))
		}
	}
	what := "index of the involved side in percent of the other"
	switch {
	case g.CanBeZero():
		what = "involved side less the other in percent of the other side at baseline"
	case g.IsGirth():
		what = "girth of the involved side less that of the other"
	}
	return fmt.Sprintf("%s, %s. Curve of the %s, with its interval: %s.", g.Label, words.InSentence(words.MeasureLabel(g.Measure)), what, strings.Join(said, ", "))
}
