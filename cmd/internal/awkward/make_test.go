package awkward

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice"
)

// made is a practice as it would send its files: its records by table, how far
// the data of each site reach, and how its files are read.
type made struct {
	sites   []string
	tables  map[string][]record
	through map[string]time.Time // last day of the data, by site that sends any
	month   time.Time            // the month reported
	comes   time.Time            // the day on which its files come
	era     int                  // years by which all of it lies back
	offset  bool                 // exports carry the month of the start, and days from it
}

// record is one row: its cells in the order of the table's columns.
type record struct {
	table *table
	cells []string
}

// table is an export table with the places of its columns.
type table struct {
	export.Table
	at map[string]int
}

func (r record) get(column string) string       { return r.cells[r.table.at[column]] }
func (r record) set(column, cell string)        { r.cells[r.table.at[column]] = cell }
func (r record) day(column string) time.Time    { return day(r.get(column)) }
func (r record) setDay(c string, day time.Time) { r.set(c, day.Format(time.DateOnly)) }

func day(text string) time.Time {
	d, err := time.Parse(time.DateOnly, text)
	if err != nil {
		panic(err)
	}
	return d
}

var tables = sync.OnceValue(func() []*table {
	var list []*table
	for _, t := range export.Tables() {
		with := &table{t, map[string]int{}}
		for i, c := range t.Columns {
			with.at[c.Name] = i
		}
		list = append(list, with)
	}
	return list
})

// The made-up people that all practices are taken from begin care within these
// two years.
const (
	people = 500
	months = 24
)

var firstDay = practice.Default().Start

var drawn = sync.OnceValues(func() (map[string][]practice.Row, error) {
	s := practice.Default()
	s.Sites, s.Episodes, s.Months, s.Clean = 3, people, months, true
	p, err := practice.Draw(s)
	if err != nil {
		return nil, err
	}
	return practice.Tables(p)
})

// take makes a practice of the first people, at most so many, whose episodes want
// holds for. Its three sites send all there is, 20 days after the last month.
func take(t *testing.T, most int, want func(episode record) bool) *made {
	t.Helper()
	all, err := drawn()
	if err != nil {
		t.Fatal(err)
	}
	m := &made{
		sites: []string{"harbour", "millrace", "orchard"}, tables: map[string][]record{},
		month: firstDay.AddDate(0, months-1, 0), comes: firstDay.AddDate(0, months, 20), through: map[string]time.Time{},
	}
	for _, site := range m.sites {
		m.through[site] = m.comes.AddDate(0, 0, -1)
	}
	persons, known := map[string]bool{}, map[string]bool{}
	for _, with := range tables() {
		for _, cells := range all[with.Name] {
			r := record{with, cells}
			switch {
			case with.Name == "episodes":
				person := r.get("person_id")
				if !want(r) || !persons[person] && len(persons) == most {
					continue
				}
				persons[person], known[r.get("episode_id")] = true, true
			case with.Name == "bouts" && !known[r.get("session_id")], with.Name != "bouts" && !known[r.get("episode_id")]:
				continue
			case with.Name == "sessions":
				known[r.get("session_id")] = true
			}
			r = record{with, slices.Clone(cells)}
			if with.Name == "adverse_events" && r.get("reported_date") == "" {
				r.set("reported_date", r.get("aware_date")) // an open clock would run into the years of the next practice
			}
			m.tables[with.Name] = append(m.tables[with.Name], r)
		}
	}
	return m
}

// keep drops the rows of a table for which keep does not hold.
func (m *made) keep(table string, keep func(r record) bool) {
	m.tables[table] = slices.DeleteFunc(m.tables[table], func(r record) bool { return !keep(r) })
}

// each changes the rows of a table.
func (m *made) each(table string, change func(r record)) {
	for _, r := range m.tables[table] {
		change(r)
	}
}

// cut drops what happened more than some days after the start of its episode.
func (m *made) cut(days int) {
	last := map[string]string{}
	m.each("episodes", func(r record) {
		last[r.get("episode_id")] = r.day("start_date").AddDate(0, 0, days).Format(time.DateOnly)
	})
	for table, column := range map[string]string{
		"sessions": "session_date", "measurements": "measured_on", "milestones": "reached_on", "followups": "contact_on", "adverse_events": "onset_date",
	} {
		m.keep(table, func(r record) bool { return r.get(column) <= last[r.get("episode_id")] })
	}
	m.orphans()
}

// orphans drops the bouts and events whose session is not there.
func (m *made) orphans() {
	sessions := map[string]bool{"": true}
	m.each("sessions", func(r record) { sessions[r.get("session_id")] = true })
	m.keep("bouts", func(r record) bool { return sessions[r.get("session_id")] })
	m.keep("adverse_events", func(r record) bool { return sessions[r.get("session_id")] })
}

// settingsText is the text of the practice's practice.toml, for a number of practices
// in one folder: each site is sent for by a sender of its own name.
func settingsText(name string, sites []string) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "[practice]\nname = %q\ncode = \"awkward\"\nmade_up = true\n", name)
	for _, site := range sites {
		label := strings.ToUpper(site[:1]) + site[1:]
		label, _, _ = strings.Cut(label, "_")
		fmt.Fprintf(&b, "\n[[sites]]\ncode = %[1]q\nlabel = %[2]q\nsenders = [%[1]q]\n", site, label)
	}
	for _, way := range []string{"steady_cuff", "released_cuff", "without_cuff"} {
		fmt.Fprintf(&b, "\n[[ways]]\ncode = %[1]q\nlabel = %[1]q\n", way)
	}
	return []byte(b.String())
}

// back moves the whole practice years back and its sites under names of its own,
// so that several practices can lie in one folder.
func (m *made) back(years int) {
	suffix := fmt.Sprintf("_%d", years)
	shift := func(day time.Time) time.Time { return day.AddDate(-years, 0, 0) }
	for _, with := range tables() {
		for _, c := range with.Columns {
			if c.Type == export.Date {
				m.each(with.Name, func(r record) {
					if r.get(c.Name) != "" {
						r.setDay(c.Name, shift(r.day(c.Name)))
					}
				})
			}
		}
	}
	m.each("episodes", func(r record) { r.set("site", r.get("site")+suffix) })
	through := map[string]time.Time{}
	for site, last := range m.through {
		through[site+suffix] = shift(last)
	}
	for i := range m.sites {
		m.sites[i] += suffix
	}
	m.through, m.month, m.comes, m.era = through, shift(m.month), shift(m.comes), years
}

// drop writes the files of the practice, those of each site by a sender of its own.
func (m *made) drop(t *testing.T, dir folder.Dir) {
	t.Helper()
	siteOf := map[string]string{}
	for _, with := range tables() {
		bySite := map[string][]record{}
		for _, r := range m.tables[with.Name] {
			parent := "episode_id"
			switch with.Name {
			case "episodes":
				siteOf[r.get("episode_id")] = r.get("site")
			case "sessions":
				siteOf[r.get("session_id")] = siteOf[r.get("episode_id")]
			case "bouts":
				parent = "session_id"
			}
			site := siteOf[r.get(parent)]
			bySite[site] = append(bySite[site], r)
		}
		for _, site := range slices.Sorted(maps.Keys(bySite)) {
			headings, cells := asTheyAre(with, bySite[site])
			if m.offset {
				headings, cells = m.inDays(with, bySite[site])
			}
			write(t, filepath.Join(dir.InboxOf(site), m.fileOf(with)+".csv"), headings, cells)
		}
	}
	if m.offset {
		m.offsets(t, dir)
	}
	for site, last := range m.through {
		from := firstDay.AddDate(-m.era, 0, 0)
		write(t, filepath.Join(dir.InboxOf(site), "delivery.csv"), []string{"site", "complete_from", "complete_to"},
			[][]string{{site, from.Format(time.DateOnly), last.Format(time.DateOnly)}})
	}
}

func asTheyAre(with *table, rows []record) (headings []string, cells [][]string) {
	for _, c := range with.Columns {
		headings = append(headings, c.Name)
	}
	for _, r := range rows {
		cells = append(cells, r.cells)
	}
	return headings, cells
}

func write(t *testing.T, path string, headings []string, rows [][]string) {
	t.Helper()
	var text bytes.Buffer
	if err := csv.NewWriter(&text).WriteAll(append([][]string{headings}, rows...)); err != nil {
		t.Fatal(err)
	}
	if err := folder.WriteFile(path, text.Bytes()); err != nil {
		t.Fatal(err)
	}
}

// onlySites leaves the practice these sites.
func (m *made) onlySites(sites ...string) {
	for _, site := range m.sites {
		if !slices.Contains(sites, site) {
			delete(m.through, site)
		}
	}
	m.sites = sites
}

// before drops what is not known before a day.
func (m *made) before(known time.Time) {
	for table, column := range map[string]string{
		"sessions": "session_date", "measurements": "measured_on", "milestones": "reached_on", "followups": "contact_on", "adverse_events": "onset_date",
		"plans": "plan_from",
	} {
		m.keep(table, func(r record) bool { return r.day(column).Before(known) })
	}
	m.each("episodes", func(r record) {
		if r.get("end_date") != "" && !r.day("end_date").Before(known) {
			r.set("end_date", "")
			r.set("end_reason", "")
		}
	})
	m.orphans()
}
