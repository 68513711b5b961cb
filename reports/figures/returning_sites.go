package figures

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// SiteReturns draws, site by site, the returns on record over those that the
// other sites let one expect of its people: below 10 sites a dot with its exact
// interval a row, in the practice's order; from 10 on the funnel, over the
// returns expected.
// The error is a *NothingShownError where no site's figure is shown.
func SiteReturns(r *disclosure.Released) (Plot, error) {
	if err := r.Check(); err != nil {
		return Plot{}, err
	}
	list := words.SiteRatios(r)
	var drawn []disclosure.Shown
	var said []string
	for _, s := range list {
		if s.Ratio.Value == nil {
			continue
		}
		drawn = append(drawn, s.Ratio)
		said = append(said, s.Label+" "+words.WithInterval(s.Ratio))
		if s.Funnel.Value != nil {
			drawn = append(drawn, s.Funnel)
		}
	}
	if len(drawn) == 0 {
		return Plot{}, &NothingShownError{}
	}
	first := drawn[0]
	p := picture{
		name: "groups.by_site", id: strings.Replace(first.Picture(), "site="+first.Site, "site=SITE", 1),
		title:    title(words.SiteSentence(list)),
		subtitle: fmt.Sprintf("Care begun from %s to %s; %s", words.Date(first.PeriodFrom), words.Date(first.PeriodTo), asOf(r.Context())),
		madeUp:   r.Context().MadeUp,
		table:    table(drawn),
	}
	if list[0].Funnel.ID != "" {
		d := newFunnel(list)
		p.notes = []string{"Shaded: limits (99.8 %) of chance and the usual spread between sites; only sites beyond it are named. How returns are recorded differs too."}
		p.alt = "Funnel of the sites' returns over those expected, against the number expected: " + strings.Join(said, "; ") + "."
		p.body, p.draw = d.height(), d.draw
		return p.render()
	}
	d := siteDots(list)
	p.notes = []string{"Bar: exact 95 % interval. In the practice's order; how returns are recorded differs too, so this is no ranking. " + words.ManyIntervals}
	p.alt = "Dots with exact intervals of the sites' returns over those expected, in the practice's order: " + strings.Join(said, "; ") + "."
	p.body, p.draw = d.height(), d.draw
	return p.render()
}

func siteDots(list []words.SiteRatio) dots {
	d := dots{caption: "Returns over those expected", columns: [2]string{"Ratio", "People"}}
	top := 1.0
	for _, s := range list {
		row := dotRow{label: s.Label}
		f := s.Ratio
		if f.Value == nil {
			row.absent = words.Value(f)
			if f.Status == result.Hidden {
				row.absent += " (too few)"
			}
		} else {
			at := point{y: *f.Value, low: *f.Value, high: *f.Value}
			if f.Low != nil && f.High != nil {
				at.low, at.high = *f.Low, *f.High
			}
			top = max(top, at.high)
			row.estimate = &at
			row.words = [2]string{words.WithInterval(f), words.Persons(f)}
		}
		d.rows = append(d.rows, row)
	}
	d.scale = levelMarks(0, top)
	return d
}
