package figures

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// overviewWeek is the week at which injury types are put beside each other.
const overviewWeek = 12

// ReturnOverview draws, for every injury type in the order of their codes, the
// share of people back at their target by week 12 with its interval. A type
// whose share is hidden or withheld keeps its row and says so.
// The error is a *NothingShownError where no share is shown.
func ReturnOverview(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	shares := overviewShares(r)
	d := dots{
		caption: fmt.Sprintf("Back at their target by week %d", overviewWeek),
		scale:   percentMarks(),
		columns: [2]string{"share (interval)", "people"},
	}
	var shown []disclosure.Shown
	var said []string
	for _, s := range shares {
		row := dotRow{label: words.InjuryLabel(r.Context(), s.InjuryType)}
		if s.Value == nil {
			row.absent = words.Value(s)
			if s.Status == result.Hidden {
				row.absent += " (too few)"
			}
			said = append(said, row.label+" "+row.absent)
		} else {
			shown = append(shown, s)
			at := points([]disclosure.Shown{s})[0]
			row.estimate = &at
			row.words = [2]string{words.WithInterval(s), words.Persons(s)}
			said = append(said, row.label+" "+row.words[0])
		}
		d.rows = append(d.rows, row)
	}
	if len(shown) == 0 {
		return Plot{}, nothing("All injury types", shares)
	}
	first := shown[0]
	return picture{
		name:     "return.by_injury_type",
		id:       strings.Replace(first.ID, first.InjuryType, "TYPE", 1),
		title:    overviewTitle(shown),
		subtitle: fmt.Sprintf("People who began care from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		notes: []string{fmt.Sprintf(
			"Bar: %s interval. In the order of the types' codes; they differ in severity and target, so this is no ranking.", words.Percent(first.Level))},
		madeUp: r.Context().MadeUp,
		alt:    fmt.Sprintf("Dots with intervals for the share of people back at their target by week %d: %s.", overviewWeek, strings.Join(said, "; ")),
		body:   d.height(),
		draw:   d.draw,
		table:  table(shares),
	}.render()
}

// overviewShares are the shares of all injury types in the whole practice, by
// code.
func overviewShares(r *disclosure.Released) []disclosure.Shown {
	var shares []disclosure.Shown
	for _, g := range words.Groups(r, "return") {
		if g.InjuryType == "" || g.Site != "" {
			continue
		}
		if s, ok := g.Figure(r, "share", fmt.Sprintf("w%d", overviewWeek)); ok {
			shares = append(shares, s)
		}
	}
	slices.SortStableFunc(shares, func(a, b disclosure.Shown) int { return cmp.Compare(a.InjuryType, b.InjuryType) })
	return shares
}

func overviewTitle(shown []disclosure.Shown) string {
	byShare := func(a, b disclosure.Shown) int { return cmp.Compare(*a.Value, *b.Value) }
	low, high := words.Percent(*slices.MinFunc(shown, byShare).Value), words.Percent(*slices.MaxFunc(shown, byShare).Value)
	if low == high {
		return fmt.Sprintf("By week %d, %s of people are back at their target", overviewWeek, low)
	}
	return fmt.Sprintf("By week %d, between %s and %s of people are back at their target, by injury type", overviewWeek, low, high)
}
