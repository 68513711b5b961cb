package awkward

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
)

// offsets writes the layouts of senders whose exports carry the month in which
// care started, and every other date as whole days from that month's first day.
func (m *made) offsets(t *testing.T, dir folder.Dir) {
	t.Helper()
	for _, site := range m.sites {
		for _, with := range tables() {
			var b strings.Builder
			fmt.Fprintf(&b, "sender = %q\nversion = \"1\"\n\n[file]\nmatch = \"%s*\"\n\n[[table]]\nname = %q\n[table.columns]\n", site, m.fileOf(with), with.Name)
			for _, c := range with.Columns {
				switch {
				case with.Name == "bouts" && c.Type == export.Date: // no start of care stands beside a bout
				case c.Name == "start_date":
					b.WriteString("start_date = { heading = \"start_month\", date = \"year-month\" }\n")
				case c.Type == export.Date && with.Name == "episodes":
					fmt.Fprintf(&b, "%[1]s = { heading = \"%[1]s_day\", days_after = \"start_date\" }\n", c.Name)
				case c.Type == export.Date:
					fmt.Fprintf(&b, "%[1]s = { heading = \"%[1]s_day\", days_after = \"episode_start\" }\n", c.Name)
				default:
					fmt.Fprintf(&b, "%[1]s = { heading = %[1]q }\n", c.Name)
				}
			}
			if err := folder.WriteFile(filepath.Join(dir.Layouts(), site+"_"+with.Name+".toml"), []byte(b.String())); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// fileOf is the name of a table's file. A start must have arrived before days are
// counted from it, and files are read in the order of their names.
func (m *made) fileOf(with *table) string {
	if !m.offset {
		return with.Name
	}
	return fmt.Sprintf("%d_%s", slices.Index(tables(), with), with.Name)
}

// inDays turns the rows of a table into what such an export holds. Days run from
// the day on which care started, of which the export tells the month alone.
func (m *made) inDays(with *table, rows []record) (headings []string, cells [][]string) {
	starts := map[string]record{}
	m.each("episodes", func(r record) { starts[r.get("episode_id")] = r })
	for _, c := range with.Columns {
		switch {
		case c.Name == "start_date":
			headings = append(headings, "start_month")
		case c.Type == export.Date:
			headings = append(headings, c.Name+"_day")
		default:
			headings = append(headings, c.Name)
		}
	}
	for _, r := range rows {
		line := make([]string, len(r.cells))
		for i, c := range with.Columns {
			cell := r.cells[i]
			switch {
			case c.Name == "start_date":
				cell = cell[:len("2024-01")]
			case c.Type == export.Date && with.Name == "bouts":
				cell = ""
			case c.Type == export.Date && cell != "":
				start := starts[r.get("episode_id")].day("start_date")
				cell = strconv.Itoa(int(day(cell).Sub(start).Hours() / 24))
			}
			line[i] = cell
		}
		cells = append(cells, line)
	}
	return headings, cells
}
