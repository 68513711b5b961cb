package pages

import (
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
	"evenlimb/reports/words"
)

// table is a table with a caption, column heads and a head to each row.
type table struct {
	Caption string
	Head    []string
	Rows    []row
}

type row struct {
	Label  string
	Depth  int  // how far it is set in: a part of what stands above
	Sum    bool // a total
	Cells  []string
	Figure string // the id that the row is from; empty where there are several
}

// Silent says that no cell of the table says anything.
func (t table) Silent() bool {
	return len(t.Rows) > 0 && !slices.ContainsFunc(t.Rows, func(r row) bool {
		return slices.ContainsFunc(r.Cells, func(cell string) bool {
			return !slices.Contains([]string{words.NotShown, words.Withheld, words.TooFew, words.FirstReport}, cell) && !empty(cell)
		})
	})
}

func empty(cell string) bool { return cell == "" || cell == words.None }

// Tidy leaves out columns in which no row has anything.
func (t table) Tidy() table {
	for i := len(t.Head) - 2; i >= 0; i-- {
		if !slices.ContainsFunc(t.Rows, func(r row) bool { return !empty(r.Cells[i]) }) {
			t.Head = slices.Delete(slices.Clone(t.Head), i+1, i+2)
			t.Rows = slices.Clone(t.Rows)
			for k, r := range t.Rows {
				t.Rows[k].Cells = slices.Delete(slices.Clone(r.Cells), i, i+1)
			}
		}
	}
	return t
}

// withoutEmptyColumns leaves out columns in which no row has anything.
func (t table) withoutEmptyColumns() table {
	for i := len(t.Head) - 2; i >= 0; i-- {
		if slices.ContainsFunc(t.Rows, func(r row) bool { return r.Cells[i] != words.None }) {
			continue
		}
		t.Head = slices.Delete(t.Head, i+1, i+2)
		for k := range t.Rows {
			t.Rows[k].Cells = slices.Delete(t.Rows[k].Cells, i, i+1)
		}
	}
	return t
}

// shares puts the leading shares under each other; a hidden one has no row.
func shares(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "Share back at their target", Head: []string{"By", "Share", "The data fit", words.MonthBefore, "People"}}
	for _, f := range g.Along(r, "share") {
		if f.Status == result.Hidden {
			continue
		}
		t.Rows = append(t.Rows, row{
			Label: "Week " + strconv.Itoa(int(*f.X)), Figure: f.ID,
			Cells: []string{words.Value(f), words.Interval(f), words.Before(r, f), words.Persons(f)},
		})
	}
	return t
}

// times are the quantiles and the mean.
func times(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "Time to return", Head: []string{"", "Weeks", "The data fit", words.MonthBefore, "People"}}
	add := func(f disclosure.Shown) {
		if f.Status == result.Hidden {
			return
		}
		t.Rows = append(t.Rows, row{
			Label: words.Label(f), Figure: f.ID,
			Cells: []string{strings.TrimSuffix(words.Value(f), " weeks"), words.Interval(f), strings.TrimSuffix(words.Before(r, f), " weeks"), words.Persons(f)},
		})
	}
	for _, statistic := range []string{"lower_quartile_weeks", "median_weeks", "upper_quartile_weeks"} {
		if f, ok := g.Figure(r, statistic, ""); ok {
			add(f)
		}
	}
	for _, f := range g.Along(r, "mean_weeks") {
		add(f)
	}
	return t
}

// flowOrder is the order in which people pass the counts, the parts of a count
// set in under it.
var flowOrder = []struct {
	statistic string
	depth     int
}{
	{"began", 0},
	{"no_usable", 1},
	{"at_target", 1},
	{"at_risk", 1},
	{"returned", 2},
	{"ended_otherwise", 2},
	{"not_followed", 2},
	{"in_care", 2},
}

// flow is what became of everybody who began.
func flow(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "What became of everybody", Head: []string{"", "Episodes"}}
	for _, o := range flowOrder {
		if f, ok := g.Figure(r, o.statistic, ""); ok {
			t.Rows = append(t.Rows, row{Label: words.Label(f), Depth: o.depth, Figure: f.ID, Cells: []string{words.Value(f)}})
		}
	}
	return t
}

// endings are why episodes of the whole practice ended otherwise, and how many of
// the returns are still provisional.
func endings(r *disclosure.Released) table {
	t := table{Caption: "The whole practice: counts too small to tell by injury type or site", Head: []string{"", "Episodes"}}
	for _, g := range words.Groups(r, "return") {
		if !g.Whole() {
			continue
		}
		for _, statistic := range []string{"ended.surgery", "ended.new_injury", "ended.not_returning", "ended.may_not_continue", "ended.died", "returned_provisional"} {
			f, ok := g.Figure(r, statistic, "")
			if !ok {
				continue
			}
			label := words.Label(f)
			if statistic == "returned_provisional" {
				label = "Returns still provisional"
			}
			t.Rows = append(t.Rows, row{Label: label, Figure: f.ID, Cells: []string{words.Value(f)}})
		}
	}
	return t
}

// sensitivities put the leading share beside what it would be by other rules.
func sensitivities(r *disclosure.Released, g words.Group) table {
	t := table{Caption: "What the share would be by other rules", Head: []string{"Share back by week"}}
	leads := g.Along(r, "share")
	if !slices.ContainsFunc(leads, func(f disclosure.Shown) bool { return f.Value != nil }) {
		return t
	}
	for _, f := range leads {
		t.Head = append(t.Head, strconv.Itoa(int(*f.X)))
	}
	for _, statistic := range words.ShareRules(r, g) {
		entry, _ := words.Lookup("return", statistic, true)
		line := row{Label: entry.Label}
		if statistic == "share" {
			line.Label = "As reported"
		}
		for _, lead := range leads {
			cell := words.None
			if f, ok := g.Figure(r, statistic, words.AtWeek(*lead.X)); ok {
				cell = words.Value(f)
			}
			line.Cells = append(line.Cells, cell)
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}

// bySite puts the flow of the sites side by side, in the practice's order.
func bySite(r *disclosure.Released) table {
	columns := []string{"began", "at_risk", "returned", "ended_otherwise", "not_followed", "in_care"}
	t := table{Caption: "Episodes by site, in the practice's order", Head: []string{"Site"}}
	for _, c := range columns {
		e, _ := words.Lookup("return", c, false)
		t.Head = append(t.Head, e.Label)
	}
	for _, g := range words.Groups(r, "return") {
		if !g.IsSite() {
			continue
		}
		line := row{Label: g.Label}
		for _, c := range columns {
			cell := words.None
			if f, ok := g.Figure(r, c, ""); ok {
				cell = words.Value(f)
			}
			line.Cells = append(line.Cells, cell)
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}

// hiddenFigures says how many figures are hidden, and why.
func hiddenFigures(r *disclosure.Released) table {
	shown, hidden, withheld := r.Counts()
	t := table{Caption: "Figures shown and hidden (a curve counts once)", Head: []string{"", "Figures"}}
	t.Rows = append(t.Rows, row{Label: "Shown", Cells: []string{words.Count(shown)}})
	t.Rows = append(t.Rows, row{Label: "Hidden by the small-count rules", Cells: []string{words.Count(hidden)}})
	for _, h := range r.HiddenBy() {
		t.Rows = append(t.Rows, row{Label: h.Reason, Depth: 1, Cells: []string{words.Count(h.Figures)}})
	}
	t.Rows = append(t.Rows, row{Label: "Withheld by their method", Cells: []string{words.Count(withheld)}})
	t.Rows = append(t.Rows, row{Label: "All", Sum: true, Cells: []string{words.Count(shown + hidden + withheld)}})
	return t
}
