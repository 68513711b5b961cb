package monthly

import (
	"fmt"
	"slices"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/reports/words"
	"evenlimb/reports/workbooks"
)

// dataSheet is the reconciliation of what came in.
func dataSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Data",
		Heading: "What was received",
		Lead:    []string{where(r), words.FileRule + ". What a layout passes over and what is gone from a complete delivery is counted apart."},
		Columns: []workbooks.Column{{Heading: "Sender", Width: 46}},
	}
	for _, heading := range words.FileColumns {
		s.Columns = append(s.Columns, workbooks.Column{Heading: heading, Width: 12})
	}
	s.Columns = append(s.Columns, workbooks.Column{Heading: "Form, number of files", Width: 60})
	for _, f := range r.Context().Files {
		row := []workbooks.Cell{workbooks.Text(f.Sender)}
		for _, n := range words.FileCounts(f) {
			row = append(row, wholeCell(n))
		}
		var forms []string
		for _, form := range f.Forms {
			forms = append(forms, words.Form(form)+": "+words.Count(form.Files))
		}
		s.Rows = append(s.Rows, append(row, workbooks.Text(strings.Join(forms, "; "))))
	}
	for _, site := range r.Context().Sites {
		note := site.Label + ": data through " + words.Date(site.DataThrough)
		if site.DataThrough.IsZero() {
			note = site.Label + ": nothing received"
		} else if site.Silent {
			note += " (silent: nothing newer has come)"
		}
		s.Notes = append(s.Notes, note+".")
	}
	shown, hidden, withheld := r.Counts()
	s.Notes = append(s.Notes, fmt.Sprintf("Figures, a curve counted once: %s shown, %s hidden by the small-count rules, %s withheld by their method.",
		words.Count(shown), words.Count(hidden), words.Count(withheld)))
	for _, h := range r.HiddenBy() {
		s.Notes = append(s.Notes, fmt.Sprintf("Hidden, %s: %s", words.Count(h.Figures), h.Reason))
	}
	return s
}

// usableSheet says, by site and by injury type, what could be used for each
// question and what one more recorded item would have added.
func usableSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Used",
		Heading: "What could be used, episodes by site and by injury type",
		Lead:    []string{where(r), "Sites and injury types stand in the practice's order. " + words.OneMoreMeaning},
		Columns: []workbooks.Column{{Heading: "Site or injury type", Width: 46}, {Heading: "Data through", Width: 20}},
	}
	for _, heading := range words.UsableColumns {
		s.Columns = append(s.Columns, workbooks.Column{Heading: heading, Width: 16})
	}
	s.Columns = append(s.Columns, workbooks.Column{Heading: "One more item would have added, people", Width: 20}, workbooks.Column{Heading: "The item", Width: 50})
	through := map[string]string{}
	for _, site := range r.Context().Sites {
		through[site.Code] = words.Date(site.DataThrough)
	}
	for _, g := range slices.Concat(words.UsableSites(r), words.UsableTypes(r)) {
		row := []workbooks.Cell{workbooks.Text(g.Label), workbooks.Text(through[g.Site])}
		for _, f := range words.Usable(r, g) {
			if f.ID == "" {
				row = append(row, workbooks.Cell{})
				continue
			}
			row = append(row, value(f))
		}
		people, item := workbooks.Cell{}, workbooks.Cell{}
		if f, text, ok := words.OneMore(r, g); ok {
			people, item = value(f), workbooks.Text(text)
		}
		s.Rows = append(s.Rows, append(row, people, item))
	}
	return s
}

func methodsSheet(r *disclosure.Released) workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Methods",
		Heading: "How the figures are made",
		Columns: []workbooks.Column{{Heading: "Topic", Width: 32}, {Heading: "In plain words", Width: 110}},
		Notes:   words.Settings(r),
	}
	for _, m := range words.Methods(r) {
		s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(m.Head), workbooks.Text(m.Text)})
	}
	return s
}

func dictionarySheet() workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Dictionary",
		Heading: "What each figure means",
		Columns: []workbooks.Column{{Heading: "Figure", Width: 46}, {Heading: "Statistic", Width: 32}, {Heading: "Unit", Width: 10}, {Heading: "Meaning", Width: 100}},
	}
	for _, e := range words.Dictionary() {
		s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(e.Label), workbooks.Text(e.Statistic), workbooks.Text(e.Unit), workbooks.Text(e.Meaning)})
	}
	return s
}

func cautionsSheet() workbooks.Sheet {
	s := workbooks.Sheet{
		Name:    "Cautions",
		Heading: "Before anybody acts on these figures",
		Columns: []workbooks.Column{{Heading: "Caution", Width: 120}},
	}
	for _, caution := range words.Cautions() {
		s.Rows = append(s.Rows, []workbooks.Cell{workbooks.Text(caution)})
	}
	return s
}
