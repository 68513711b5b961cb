// Package propose drafts a layout for files that nobody has described yet, from
// their headings and some of their cells. It guesses, and says of every guess
// what it rests on: a person decides. It reads no files and knows no database.
package propose

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// Input is what is known of a file.
type Input struct {
	Sender   string
	File     string             // its path below the sender's folder
	Sheets   []Sheet            // one without a name where the format has no sheets
	Practice *settings.Practice // for the codes of sites and ways; nil: not known
}

// Sheet is the headings of a sheet and some of its rows.
type Sheet struct {
	Name     string
	Headings []string
	Rows     [][]string // each as long as the headings
}

// Draft is a layout as it may be.
type Draft struct {
	Sender  string
	Match   string // the names of the files that it is for
	From    string // the day from which on it holds; NotYet until a person says so
	Decimal string // "." or ","
	Dates   []Guess
	Missing []Guess
	Tables  []Table
}

// Guess is a word of a draft and what it rests on.
type Guess struct{ Text, Why string }

// Table is one export table that a sheet seems to hold.
type Table struct {
	Name    string
	Sheet   string
	Why     string
	Columns []Column
	Unread  []Column // headings that no column was found for
	Absent  []string // columns that the table needs and no heading was found for
}

// Column is what a heading seems to stand for.
type Column struct {
	Heading  string
	Examples []string // cells under it, the most frequent first
	Column   string   // of the table; empty for one that is not read
	Why      string
	Measure  string // where the heading is one of many that hold a measure each
	Side     string // of that measure
	Trial    string
	Unit     string // that differs from the column's own
	Split    string
	Take     int
	Codes    []Code
}

// Code is a word in cells and the code that it seems to stand for; empty where
// none was found.
type Code struct{ Word, Code, Why string }

// New drafts a layout. It fails when no sheet looks like an export table.
func New(in Input) (Draft, error) {
	d := Draft{Sender: in.Sender, Match: pattern(in.File), From: NotYet, Decimal: "."}
	e := newEvidence(in.Sheets)
	d.Decimal, d.Dates, d.Missing = e.decimal, e.dates, e.missing
	for i, s := range in.Sheets {
		if len(s.Headings) == 0 {
			continue
		}
		if t, ok := e.table(in, i); ok {
			d.Tables = append(d.Tables, t)
		}
	}
	if len(d.Tables) == 0 {
		return Draft{}, fmt.Errorf("nothing in %s looks like an export table; `evenlimb tables` lists them", in.File)
	}
	return d, nil
}

// number is what a file's name has for its day or count.
var number = regexp.MustCompile(`\d[\d._-]*\d|\d`)

// pattern makes a file's name one that the files of other days have too.
func pattern(name string) string { return number.ReplaceAllString(name, "*") }

// table finds the export table that a sheet comes nearest to.
func (e *evidence) table(in Input, i int) (Table, bool) {
	s := in.Sheets[i]
	best, most := Table{}, 0.0
	for _, def := range export.Tables() {
		m := matcher{evidence: e, def: def, practice: in.Practice, sender: in.Sender, columns: e.columns[i]}
		t, score := m.match()
		t.Sheet = s.Name
		named := max(nameScore(def.Name, s.Name), nameScore(def.Name, in.File))
		if named > 0 {
			t.Why = "its name, and "
		}
		t.Why += fmt.Sprintf("%d of its %d headings, fit this table best", len(s.Headings)-len(t.Unread), len(s.Headings))
		if score += named; score > most && len(t.Columns) > 1 {
			best, most = t, score
		}
	}
	return best, most > 0
}

// nameScore is what a file's or a sheet's name says for a table.
func nameScore(table, name string) float64 {
	joined := strings.Join(words(name), " ")
	if joined != "" && strings.Contains(joined, strings.Join(words(table), " ")) {
		return 1.5
	}
	return 0
}

// pair is a heading and a column that it may stand for.
type pair struct {
	heading int
	column  int
	score   float64
	why     string
}

// matcher matches the headings of a sheet with the columns of one table.
type matcher struct {
	*evidence
	def      export.Table
	practice *settings.Practice
	sender   string
	columns  []*profile
}

// enough is the score from which on a heading is taken for a column.
const enough = 0.42

// match pairs headings and columns, the surest first.
func (m matcher) match() (t Table, score float64) {
	t.Name = m.def.Name
	if m.def.Name == "measurements" {
		if wide, score := m.wide(); len(wide.Columns) > 0 {
			return wide, score
		}
	}
	taken, heading := map[int]bool{}, map[int]Column{}
	rest := map[int]bool{}
	for i, p := range m.columns {
		if both, ok := m.joined(p); ok {
			heading[i] = both[0]
			t.Columns = append(t.Columns, both...)
			for _, c := range both {
				taken[m.place(c.Column)] = true
			}
			score += 1.5
			continue
		}
		rest[i] = true
	}
	for _, one := range m.pairs(rest) {
		if _, done := heading[one.heading]; done || taken[one.column] {
			continue
		}
		c := m.column(m.columns[one.heading], one)
		heading[one.heading], taken[one.column] = c, true
		t.Columns = append(t.Columns, c)
		score += one.score
	}
	for _, one := range m.leftOver(func(i int) bool { _, done := heading[i]; return done }, taken) {
		c := m.column(m.columns[one.heading], one)
		heading[one.heading], taken[one.column] = c, true
		t.Columns = append(t.Columns, c)
		score += one.score
	}
	for i, p := range m.columns {
		if _, done := heading[i]; !done {
			t.Unread = append(t.Unread, Column{Heading: p.heading, Examples: p.examples()})
		}
	}
	for i, c := range m.def.Columns {
		if c.Required && !taken[i] {
			t.Absent = append(t.Absent, c.Name)
			score -= 0.6
		}
	}
	slices.SortStableFunc(t.Columns, func(a, b Column) int { return cmp.Compare(m.place(a.Column), m.place(b.Column)) })
	return t, score
}

// leftOver finds headings for columns that the table needs by what is left: the
// one heading without a column whose cells fit.
func (m matcher) leftOver(done func(heading int) bool, taken map[int]bool) []pair {
	var found []pair
	for n, c := range m.def.Columns {
		if !c.Required || taken[n] {
			continue
		}
		var fit []pair
		for i, p := range m.columns {
			if done(i) || len(p.texts) == 0 || slices.ContainsFunc(found, func(o pair) bool { return o.heading == i }) {
				continue
			}
			value, why := m.values(c, p)
			if value >= 0.6 || c.Type == export.Key && value >= 0.3 {
				fit = append(fit, pair{i, n, 0.5 * value, "the only heading left whose cells fit; " + why})
			}
		}
		if len(fit) == 1 {
			found = append(found, fit[0])
		}
	}
	return found
}

// place is where a column stands in the table; row_state stands last.
func (m matcher) place(column string) int {
	at := slices.IndexFunc(m.def.Columns, func(c export.Column) bool { return c.Name == column })
	if at < 0 {
		return len(m.def.Columns)
	}
	return at
}

// pairs lists what may go together, the surest first.
func (m matcher) pairs(rest map[int]bool) []pair {
	names := newNames(m.def)
	var all []pair
	for i, p := range m.columns {
		if !rest[i] {
			continue
		}
		for n, c := range m.allColumns() {
			name := names.like(p.words, n)
			value, why := m.values(c, p)
			if value <= veto && name < 0.95 {
				continue
			}
			if score := name + 0.5*value; score >= enough && name > 0.2 {
				all = append(all, pair{i, n, score, because(name, why)})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b pair) int { return cmp.Compare(b.score, a.score) })
	return all
}

// allColumns are the columns of the table, and row_state.
func (m matcher) allColumns() []export.Column {
	return append(slices.Clone(m.def.Columns), export.Column{
		Name: export.RowState, Type: export.Code, Codes: []string{export.Current, export.Withdrawn}, About: "Whether the row holds or was taken back.",
	})
}

func because(name float64, values string) string {
	words := "spelled a little like it"
	switch {
	case name > 0.95:
		words = "called so"
	case name > 0.6:
		words = "spelled like it"
	}
	if values != "" {
		words += "; " + values
	}
	return words
}

// column describes a pair.
func (m matcher) column(p *profile, one pair) Column {
	def := m.allColumns()[one.column]
	c := Column{Heading: p.heading, Examples: p.examples(), Column: def.Name, Why: one.why}
	switch def.Type {
	case export.Key:
		c.Examples = shapes(c.Examples)
	case export.Integer, export.Decimal:
		c.Unit = m.unit(def, p)
	case export.Code, export.CodeSet, export.Boolean:
		c.Codes = codesFor(m.known(def), p)
	default:
	}
	return c
}
