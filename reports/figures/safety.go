package figures

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// SafetyByType draws the rate of all adverse events per 1,000 attended sessions
// of the practice and of each injury type, with exact limits. A type of which
// no event was seen says up to what rate that goes with the data.
// The error is a *NothingShownError where no rate is shown.
func SafetyByType(r *disclosure.Released) (Plot, error) {
	return safetyRates(r, "safety.by_injury_type", "by injury type", beside(r, words.Group.IsType))
}

// SafetyBySite does the same for the sites, in the practice's own order.
func SafetyBySite(r *disclosure.Released) (Plot, error) {
	return safetyRates(r, "safety.by_site", "by site", beside(r, words.Group.IsSite))
}

// SafetyByKind does the same for the kinds of event; each is set against all
// attended sessions of the practice.
func SafetyByKind(r *disclosure.Released) (Plot, error) {
	return safetyRates(r, "safety.by_kind", "by kind of event", words.SafetyKinds(r))
}

// beside are the whole practice and the groups that keep holds for.
func beside(r *disclosure.Released, keep func(words.Group) bool) []words.Group {
	var groups []words.Group
	for _, g := range words.Groups(r, "safety") {
		if g.Whole() || keep(g) {
			groups = append(groups, g)
		}
	}
	return groups
}

func safetyRates(r *disclosure.Released, name, by string, groups []words.Group) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	d := dots{caption: "Per 1,000 attended sessions", columns: [2]string{"rate (interval)", "events"}}
	var all []disclosure.Shown
	var said []string
	shown, top := 0, 0.0
	for _, g := range groups {
		f, ok := g.Figure(r, "rate_all", "")
		if !ok {
			continue
		}
		all = append(all, f)
		row := dotRow{label: g.Label}
		switch {
		case words.NoneSeen(f):
			row.absent = "none seen: up to " + words.Rate(*f.High) + " per 1,000 sessions"
		case f.Value == nil:
			row.absent = words.Value(f)
			if f.Status == result.Hidden {
				row.absent += " (too few)"
			}
		default:
			shown++
			at := point{y: *f.Value, low: *f.Value, high: *f.Value}
			if f.Low != nil && f.High != nil {
				at.low, at.high = *f.Low, *f.High
			}
			top = max(top, at.high)
			row.estimate = &at
			row.words = [2]string{words.WithInterval(f), words.None}
			if n, ok := g.Figure(r, "events", ""); ok && n.Value != nil {
				row.words[1] = words.Value(n)
				all = append(all, n)
			}
		}
		if row.estimate == nil {
			said = append(said, row.label+" "+row.absent)
		} else {
			said = append(said, row.label+" "+row.words[0])
		}
		d.rows = append(d.rows, row)
	}
	if shown == 0 {
		return Plot{}, &NothingShownError{Reason: "Adverse events " + by + ": no rate to draw."}
	}
	d.scale = levelMarks(0, top)
	first := all[0]
	return picture{
		name: name, id: strings.Replace(first.Picture(), "by="+first.Stratum, "by=KIND", 1),
		title:    safetyTitle(all, by),
		subtitle: fmt.Sprintf("Sessions from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		notes:    []string{fmt.Sprintf("Bar: exact %s interval, widened where events come in the same persons. In a fixed order; what is asked about and written down differs, so this is no ranking.", words.Percent(level(all)))},
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("Dots with intervals for adverse events per 1,000 attended sessions, %s: %s.", by, strings.Join(said, "; ")),
		body:     d.height(),
		draw:     d.draw,
		table:    table(all),
	}.render()
}

// safetyTitle says how far the groups lie apart, beside the practice where its
// rate is shown.
func safetyTitle(all []disclosure.Shown, by string) string {
	text, joint := "Adverse events on record per 1,000 attended sessions", ":"
	var low, high *float64
	for _, f := range all {
		if f.Statistic != "rate_all" || f.Value == nil {
			continue
		}
		if f.InjuryType == "" && f.Site == "" && f.Stratum == "" {
			text, joint = fmt.Sprintf("%s: %s in the whole practice", text, words.Value(f)), ","
			continue
		}
		if low == nil || *f.Value < *low {
			low = f.Value
		}
		if high == nil || *f.Value > *high {
			high = f.Value
		}
	}
	if low == nil {
		return text
	}
	return fmt.Sprintf("%s%s %s to %s %s", text, joint, words.Rate(*low), words.Rate(*high), by)
}

// level is the confidence level of the first figure that has one.
func level(all []disclosure.Shown) float64 {
	for _, f := range all {
		if f.Level > 0 {
			return f.Level
		}
	}
	return 0
}
