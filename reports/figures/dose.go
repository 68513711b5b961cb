package figures

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
)

// DoseThirds draws the share of people back by the horizon in each third of the
// dose that they had before the landmark, for one injury type.
// The error is a *NothingShownError where not all three are shown.
func DoseThirds(r *disclosure.Released, g words.Group) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	d := dots{caption: "Share back", scale: percentMarks(), columns: [2]string{"share (interval)", "people"}}
	var shown []disclosure.Shown
	var said []string
	for i, statistic := range words.DoseThirds {
		all := g.Along(r, statistic)
		if len(all) == 0 || all[0].Value == nil {
			return Plot{}, nothing(g.Label, all)
		}
		f := all[0]
		at := points(all[:1])[0]
		label := []string{"Lower third of dose", "Middle third", "Upper third"}[i]
		d.rows = append(d.rows, dotRow{label: label, estimate: &at, words: [2]string{words.WithInterval(f), words.Persons(f)}})
		shown = append(shown, f)
		said = append(said, label+" "+words.WithInterval(f))
	}
	for _, statistic := range words.DoseContrasts {
		shown = append(shown, g.Along(r, statistic)...)
	}
	return picture{
		name: g.Picture, id: g.Picture,
		title:    title(words.DoseSentence(r, g)),
		subtitle: fmt.Sprintf("People with some work with the cuff who began care from %s to %s; %s", words.Date(g.From), words.Date(g.To), asOf(r.Context())),
		notes:    []string{fmt.Sprintf("Bar: %s interval. Dose: sets a week before the landmark; the return counts from the landmark on.", words.Percent(shown[0].Level)), words.LandmarkSentence},
		madeUp:   r.Context().MadeUp,
		alt:      fmt.Sprintf("%s. Dots with intervals for the share of people back %s: %s.", g.Label, byWeek(shown[0]), strings.Join(said, "; ")),
		body:     d.height(),
		draw:     d.draw,
		table:    table(shown),
	}.render()
}
