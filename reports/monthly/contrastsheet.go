package monthly

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// contrastSheets are the differences between groups and the sites' returns over
// those expected; none without figures.
func contrastSheets(r *disclosure.Released) []workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Groups and sites",
		Heading: "Differences of the return within the practice",
		Lead:    []string{where(r), words.ContrastAside},
		Columns: columnsOfFigures("Group", 58, workbooks.Column{Heading: "Note", Width: 80}),
		Notes:   []string{"from, to: the range that the data fit (95 %; for the limits of chance and usual spread 99.8 %). Sites stand in the practice's order; this is no ranking. " + words.CautionInBrief},
	}
	add := func(label string, figures ...disclosure.Shown) {
		for _, f := range figures {
			if f.ID == "" {
				continue
			}
			note := f.Reason
			for _, w := range f.Warnings {
				note += w
			}
			s.Rows = append(s.Rows, figureCells(r, label, f, note))
		}
	}
	for _, c := range words.Contrasts(r) {
		add(c.Label, c.Figures(r)...)
	}
	for _, site := range words.SiteRatios(r) {
		add(site.Label, site.Ratio, site.Funnel)
	}
	return filled(s)
}
