package pages

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"time"

	"evenlimb/reports/words"
)

// Issue is one published report in the list of all.
type Issue struct {
	Folder     string    // under reports/, with slashes: "2026-06" or "2026-06/r2"
	Month      time.Time // first day of the month it reports
	Revision   int       // 1 for the first issue
	Batch      int
	ReceivedOn time.Time
}

// Index writes reports/index.html: every report, newest month first, and of one
// month the newest issue first. It holds no figure, so it takes none.
func Index(practice string, madeUp bool, issues []Issue) ([]byte, error) {
	sorted := slices.Clone(issues)
	slices.SortFunc(sorted, func(a, b Issue) int {
		return cmp.Or(b.Month.Compare(a.Month), cmp.Compare(b.Revision, a.Revision), cmp.Compare(a.Folder, b.Folder))
	})
	view := indexView{frame: frame{
		Title: practice + ": reports", Practice: practice, MadeUp: madeUp, Caution: words.CautionInBrief,
	}, Cautions: words.Cautions()}
	for i, s := range sorted {
		item := indexItem{
			Name:   words.Month(s.Month),
			Page:   path.Join(s.Folder, "monthly.html"),
			Book:   path.Join(s.Folder, "monthly.xlsx"),
			Source: fmt.Sprintf("batch %d, received %s", s.Batch, words.Date(s.ReceivedOn)),
		}
		if s.Revision > 1 {
			item.Name += fmt.Sprintf(", issue %d", s.Revision)
		}
		item.Replaced = i > 0 && sorted[i-1].Month.Equal(s.Month)
		view.Issues = append(view.Issues, item)
	}
	return render("index.html.tmpl", view)
}

type indexView struct {
	frame
	Issues   []indexItem
	Cautions []string
}

type indexItem struct {
	Name, Page, Book, Source string
	Replaced                 bool // a newer issue of the same month exists
}
