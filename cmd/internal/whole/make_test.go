package whole

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/testkit"
	"evenlimb/seeds/practice"
)

// dataDir holds the practice's files, flat: NIGHT_SENDER_TABLE.csv.gz.
const dataDir = "testdata/reference/whole"

var writeData = flag.Bool("write-data", false, "make the practice of testdata/reference/whole afresh; then rerun `go run ./cmd/dev reference whole`")

// perType is how many people of each injury type the practice keeps.
const perType = 110

// types are the injuries: three ladders' ends, three landmarks, one operation.
var types = []string{"calf_strain", "lateral_elbow_tendinopathy", "anterior_cruciate_reconstruction"}

// senderOf says which sites the practice has, and who sends for them.
var senderOf = map[string]string{"harbour": "harbour", "millrace": "millrace", "quarry": "quarry", "saltmarsh": "eastern", "ropewalk": "eastern"}

// maker holds the rows of the practice while they are made odd.
type maker struct {
	rng    *rand.Rand
	tables []export.Table
	rows   [2]map[string][]sent // by night and table, in order of arrival
	starts map[string]time.Time // of episodes

	unstaged map[string]bool // episodes without a stage at the start on their ladder
}

// sent is one row of a sender's file.
type sent struct {
	sender string
	cells  []string
	state  string // row_state
}

// TestWriteData makes the files that both the script in R and the pipeline are
// given. It runs on request alone: the files are data, kept as they were made.
func TestWriteData(t *testing.T) {
	if !*writeData {
		t.Skip("run with -write-data to make the practice afresh")
	}
	scenario := practice.Default()
	scenario.Seed, scenario.Episodes = 20, 3000
	p, err := practice.Draw(scenario)
	if err != nil {
		t.Fatal(err)
	}
	drawn, err := practice.Tables(p)
	if err != nil {
		t.Fatal(err)
	}
	m := &maker{rng: rand.New(rand.NewPCG(7, 7)), tables: export.Tables(), starts: map[string]time.Time{}, unstaged: map[string]bool{}}
	m.rows = [2]map[string][]sent{{}, {}}
	m.choose(drawn)
	m.odd()
	m.second()
	dir := filepath.Join(testkit.ModuleRoot(t), dataDir)
	old, err := filepath.Glob(filepath.Join(dir, "*.csv.gz"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range old {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
	for night := range m.rows {
		for _, table := range m.tables {
			for sender, lines := range m.files(night, table) {
				write(t, filepath.Join(dir, fmt.Sprintf("%d_%s_%s.csv.gz", night+1, sender, table.Name)), lines)
			}
		}
	}
	for sender, lines := range deliveries {
		write(t, filepath.Join(dir, fmt.Sprintf("2_%s_delivery.csv.gz", sender)), lines)
	}
}

// deliveries is what senders state: one leaves a gap, one is behind, one states
// a day that has not been yet, one states nothing.
var deliveries = map[string][][]string{
	"harbour":  {{"site", "complete_from", "complete_to"}, {"harbour", "2023-07-01", "2026-01-20"}},
	"millrace": {{"site", "complete_from", "complete_to"}, {"millrace", "2023-07-01", "2026-01-10"}, {"millrace", "2026-01-11", "2026-03-31"}},
	"eastern": {
		{"site", "complete_from", "complete_to"},
		{"saltmarsh", "", "2025-11-12"},
		{"ropewalk", "2023-07-01", "2025-02-28"},
		{"ropewalk", "2025-03-21", "2026-01-18"},
	},
}

// choose keeps the first people of each type at the practice's sites, with all
// rows of their episodes of these types.
func (m *maker) choose(drawn map[string][]practice.Row) {
	kept, sender, session := map[string]int{}, map[string]string{}, map[string]string{}
	for _, table := range m.tables {
		if table.Name == "adverse_events" {
			continue // none of the three questions asks about them
		}
		for _, cells := range drawn[table.Name] {
			row := sent{cells: slices.Clone(cells)}
			get := func(column string) string { return cells[m.column(table.Name, column)] }
			switch table.Name {
			case "episodes":
				injury, from := get("injury_type"), senderOf[get("site")]
				if from == "" || !slices.Contains(types, injury) || kept[injury] >= perType {
					continue
				}
				kept[injury]++
				sender[get("episode_id")] = from
				m.starts[get("episode_id")] = parse(get("start_date"))
				row.sender = from
			case "bouts":
				row.sender = session[get("session_id")]
			default:
				row.sender = sender[get("episode_id")]
				if table.Name == "sessions" {
					session[get("session_id")] = row.sender
				}
			}
			if row.sender != "" {
				m.rows[0][table.Name] = append(m.rows[0][table.Name], row)
			}
		}
	}
}

func (m *maker) column(table, name string) int {
	for _, t := range m.tables {
		if t.Name == table {
			return slices.IndexFunc(t.Columns, func(c export.Column) bool { return c.Name == name })
		}
	}
	return -1
}

// files are the lines of a table's files by sender, headings first.
func (m *maker) files(night int, table export.Table) map[string][][]string {
	files := map[string][][]string{}
	for _, row := range m.rows[night][table.Name] {
		if files[row.sender] == nil {
			var headings []string
			for _, c := range table.Columns {
				headings = append(headings, c.Name)
			}
			if night > 0 {
				headings = append(headings, export.RowState)
			}
			files[row.sender] = [][]string{headings}
		}
		cells := slices.Clone(row.cells)
		if night > 0 {
			cells = append(cells, row.state)
		}
		files[row.sender] = append(files[row.sender], cells)
	}
	return files
}

func write(t *testing.T, path string, lines [][]string) {
	t.Helper()
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if err := csv.NewWriter(z).WriteAll(lines); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, packed.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

func parse(text string) time.Time {
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic("a made-up date cannot be read: " + text) // written by seeds/practice and tested there
	}
	return day
}

func plus(day time.Time, days int) string { return day.AddDate(0, 0, days).Format(time.DateOnly) }
