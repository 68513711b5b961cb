package pages

import (
	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// received is the reconciliation of all rows, by sender, with the sum. Rows that a
// layout passes over and rows that a complete delivery leaves out are counted
// apart; where there are none they have no column.
func received(r *disclosure.Released) table {
	t := table{
		Caption: words.FileRule,
		Head:    append([]string{"Sender"}, words.FileColumns...),
	}
	sum := make([]int, len(words.FileColumns))
	for _, f := range r.Context().Files {
		line := row{Label: f.Sender}
		for i, n := range words.FileCounts(f) {
			line.Cells = append(line.Cells, words.Count(n))
			sum[i] += n
		}
		t.Rows = append(t.Rows, line)
	}
	if len(t.Rows) > 1 {
		total := row{Label: "All senders", Sum: true}
		for _, n := range sum {
			total.Cells = append(total.Cells, words.Count(n))
		}
		t.Rows = append(t.Rows, total)
	}
	return t.without(len(words.FileColumns)-words.FileAside, sum)
}

// without leaves out the columns from one on whose sum is 0.
func (t table) without(from int, sum []int) table {
	keep := func(cells []string) []string {
		var kept []string
		for i, c := range cells {
			if i < from || sum[i] > 0 {
				kept = append(kept, c)
			}
		}
		return kept
	}
	t.Head = append(t.Head[:1:1], keep(t.Head[1:])...)
	for i := range t.Rows {
		t.Rows[i].Cells = keep(t.Rows[i].Cells)
	}
	return t
}

// forms says in which form the files of each sender were read.
func forms(r *disclosure.Released) table {
	t := table{Caption: "The form in which files were read", Head: []string{"Sender", "Form", "Files"}}
	for _, f := range r.Context().Files {
		for _, form := range f.Forms {
			t.Rows = append(t.Rows, row{Label: f.Sender, Cells: []string{words.Form(form), words.Count(form.Files)}})
		}
	}
	return t
}

// reach says how far each site's data go.
func reach(r *disclosure.Released) table {
	t := table{Caption: "How far the data reach", Head: []string{"Site", "Data through", ""}}
	for _, s := range r.Context().Sites {
		t.Rows = append(t.Rows, row{Label: s.Label, Cells: []string{words.Date(s.DataThrough), reachNote(s)}})
	}
	return t
}

func reachNote(s result.Site) string {
	switch {
	case s.DataThrough.IsZero():
		return "nothing received"
	case s.Silent:
		return "silent: nothing newer has come"
	default:
		return ""
	}
}

// usable says, group by group, how many episodes began and could be used for each
// question, and what one more recorded item would have added.
func usable(r *disclosure.Released, caption, head string, groups []words.Group) table {
	t := table{Caption: caption, Head: append(append([]string{head}, words.UsableColumns...), "One more item would have added, people", "The item")}
	for _, g := range groups {
		line := row{Label: g.Label, Sum: g.Whole()}
		for _, f := range words.Usable(r, g) {
			cell := words.None
			if f.ID != "" {
				cell = words.Value(f)
			}
			line.Cells = append(line.Cells, cell)
		}
		people, item, _ := words.OneMoreCells(r, g)
		line.Cells = append(line.Cells, people, item)
		t.Rows = append(t.Rows, line)
	}
	return t
}

func usableBySite(r *disclosure.Released) table {
	return usable(r, "What could be used by site, episodes", "Site, in the practice's order", words.UsableSites(r))
}

func usableByType(r *disclosure.Released) table {
	return usable(r, "What could be used by injury type, episodes", "Injury type", words.UsableTypes(r))
}
