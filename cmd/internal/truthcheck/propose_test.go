package truthcheck

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/intake/layout"
	"evenlimb/pipeline/intake/propose"
	"evenlimb/pipeline/intake/source"
	"evenlimb/pipeline/settings"
	"evenlimb/seeds/practice"
)

// TestDraftsOfWhatSitesSend drafts a layout from each file of the history and
// holds it against the one that a person wrote. The floor lies a little below
// what was measured.
func TestDraftsOfWhatSitesSend(t *testing.T) {
	s := practice.Default()
	s.Episodes, s.OwnFormats = 90, true
	p, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	set, layouts := settingsOf(t, p)
	d := p.Deliveries()[0]
	right, wrong, missed := 0, 0, 0
	for _, f := range d.Files {
		if strings.HasSuffix(f.Name, "_delivery.csv") || f.Sender == "harbour" {
			continue
		}
		sheets := sample(t, f)
		draft, err := propose.New(propose.Input{Sender: f.Sender, File: f.Name, Sheets: sheets, Practice: set})
		if err != nil {
			t.Errorf("%s/%s: %v", f.Sender, f.Name, err)
			continue
		}
		got, err := settings.ParseLayout(draft.TOML(), "layouts/draft.toml", set)
		if err != nil {
			t.Errorf("%s/%s: %v\n%s", f.Sender, f.Name, err, draft.TOML())
			continue
		}
		for _, sheet := range sheets {
			var want *settings.Layout
			for _, l := range layout.Candidates(layouts, f.Sender, f.Name, d.ReceivedOn) {
				if m, _ := layout.New(l, sheet.Name, sheet.Headings); m != nil {
					want = l
					break
				}
			}
			r, w, m := compareLayouts(t, f.Name+" "+sheet.Name, got, want, sheet)
			right, wrong, missed = right+r, wrong+w, missed+m
		}
	}
	all := right + wrong + missed
	t.Logf("of %d headings %d were drafted rightly, %d wrongly and %d not at all", all, right, wrong, missed)
	if right*100 < all*97 || wrong*100 > all {
		t.Errorf("of %d headings %d were drafted rightly, %d wrongly and %d not at all", all, right, wrong, missed)
	}
}

// sample reads the headings and the first rows of a file.
func sample(t *testing.T, f practice.File) []propose.Sheet {
	t.Helper()
	in := source.Input{TempDir: t.TempDir(), Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(f.Data)), nil }}
	form, err := source.Detect(in, source.Wish{})
	if err != nil {
		t.Fatal(err)
	}
	file, err := source.Open(in, form)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := file.Close(); err != nil {
			t.Error(err)
		}
	}()
	var sheets []propose.Sheet
	for _, s := range file.Sheets {
		one := propose.Sheet{Name: s.Name}
		if one.Headings, err = s.Headings(); err != nil {
			t.Fatal(err)
		}
		for len(one.Rows) < 2000 {
			rec, ok, err := s.Next()
			if err != nil {
				t.Fatal(err)
			}
			if !ok {
				break
			}
			if rec.Fault == "" && len(rec.Cells) == len(one.Headings) {
				one.Rows = append(one.Rows, rec.Cells)
			}
		}
		sheets = append(sheets, one)
	}
	return sheets
}

// means says what every heading of a sheet stands for in a layout: table,
// column, unit, part.
func means(l *settings.Layout, sheet propose.Sheet) map[string][]string {
	m, _ := layout.New(l, sheet.Name, sheet.Headings)
	meaning := map[string][]string{}
	if m == nil {
		return meaning
	}
	for _, made := range m.Tables {
		for _, t := range l.Tables {
			if t.Name != made.Name {
				continue
			}
			for _, c := range t.Columns {
				for _, h := range c.Heading {
					meaning[h] = append(meaning[h], strings.Join([]string{t.Name, c.Name, c.Cell.Unit, c.Cell.Split}, " "))
				}
			}
			for _, w := range t.Wide {
				for _, h := range w.Heading {
					text := t.Name + " " + w.Cell.Unit
					for _, s := range w.Set {
						if s.Column != "trial" {
							text += " " + s.Text
						}
					}
					meaning[h] = append(meaning[h], text)
				}
			}
		}
	}
	for _, list := range meaning {
		slices.Sort(list)
	}
	return meaning
}

func compareLayouts(t *testing.T, what string, got, want *settings.Layout, sheet propose.Sheet) (right, wrong, missed int) {
	t.Helper()
	drafted, written := means(got, sheet), means(want, sheet)
	for _, h := range sheet.Headings {
		switch {
		case slices.Equal(drafted[h], written[h]):
			right++
		case len(drafted[h]) == 0:
			missed++
			t.Logf("%s: %q is not drafted, meant %v", what, h, written[h])
		default:
			wrong++
			t.Logf("%s: %q is drafted as %v, meant %v", what, h, drafted[h], written[h])
		}
	}
	return right, wrong, missed
}
