package practice

import (
	"math/rand/v2"
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice/dress"
)

// Where a planted item must turn up.
const (
	InQuarantine = "quarantine" // a quarantined row with the reason
	InFindings   = "finding"    // a finding of the check about the subject
	InFile       = "file"       // a finding or problem of the file
	InCounts     = "counts"     // the file's duplicates, corrections, withdrawals or rows gone
	InLayout     = "layout"     // the layout by which the file is read
	InDrift      = "drift"      // what moved in a sender's files against its own past
)

// Planted is one thing that was put into the deliveries on purpose and that
// must be reported.
type Planted struct {
	Item    string // what it is, a sentence
	Where   string // InQuarantine, InFindings, InFile, InCounts, InLayout or InDrift
	By      string // reason, check, file finding, count, layout or drift that must report it
	Subject string // what the finding names, for InFindings and InDrift
	Sender  string
	File    string // name of the file, empty for InFindings and InDrift
	Line    int    // physical line, where one row is meant
	Table   string
}

// Planted returns the list of what was planted, in order of planting.
func (p *Practice) Planted() []Planted {
	p.Deliveries()
	return slices.Clone(p.planted)
}

// cellsOf and joined take a line apart and put it together again.
func cellsOf(line []byte) []string {
	cells, err := dress.Split(line)
	if err != nil {
		panic("a made-up line cannot be read: " + string(line)) // written by this package and tested
	}
	return cells
}

func joined(texts []string) []byte {
	out := cells{fresh: true}
	for _, t := range texts {
		out.text(t)
	}
	return out.buf
}

// with returns the line with some cells changed, given as column, value pairs.
func with(table int, line []byte, changes ...string) []byte {
	texts := cellsOf(line)
	for pair := range slices.Chunk(changes, 2) {
		texts[column(table, pair[0])] = pair[1]
	}
	return joined(texts)
}

func cell(table int, line []byte, name string) string {
	return cellsOf(line)[column(table, name)]
}

// withdrawn is a row that names its key alone and takes the record back.
func withdrawn(table int, line []byte) []byte {
	t, _ := export.Find(tableNames[table])
	texts := cellsOf(line)
	for i, c := range t.Columns {
		if !slices.Contains(t.Key, c.Name) {
			texts[i] = ""
		}
	}
	return joined(append(texts, export.Withdrawn))
}

func hasState(line []byte, table int) bool { return dress.Stated(tableOf(table), line) }

// sower plants items into the posts.
type sower struct {
	m   *mail
	rng *rand.Rand
}

// put adds a line to a sheet and notes the items it stands for.
func (s *sower) put(k, desk, table int, line []byte, items ...Planted) {
	sh := &s.m.posts[k][desk].sheets[table]
	sh.lines = append(sh.lines, line)
	s.note(k, desk, table, len(sh.lines)-1, items...)
}

// note lists items about a line that is there already.
func (s *sower) note(k, desk, table, line int, items ...Planted) {
	sh := &s.m.posts[k][desk].sheets[table]
	if sh.planted == nil {
		sh.planted = map[int][]int{}
	}
	for _, item := range items {
		item.Sender, item.Table = s.m.desks[desk].sender, tableNames[table]
		s.m.p.planted = append(s.m.p.planted, item)
		sh.planted[line] = append(sh.planted[line], len(s.m.p.planted)-1)
	}
}

// replace puts another line in the place of one, which is then left alone.
func (s *sower) replace(k, desk, table, at int, line []byte) {
	sh := &s.m.posts[k][desk].sheets[table]
	if sh.planted == nil {
		sh.planted = map[int][]int{}
	}
	sh.lines[at] = line
	if _, noted := sh.planted[at]; !noted {
		sh.planted[at] = nil
	}
}

// list notes an item that is about no single line.
func (s *sower) list(item Planted) { s.m.p.planted = append(s.m.p.planted, item) }

// some returns a line of a sheet and where it stands; ok is false where the
// sheet has none that fits.
func (s *sower) some(k, desk, table int, fits func(line []byte) bool) (at int, line []byte, ok bool) {
	sh := &s.m.posts[k][desk].sheets[table]
	if len(sh.lines) == 0 {
		return 0, nil, false
	}
	from := s.rng.IntN(len(sh.lines))
	for i := range sh.lines {
		at := (from + i) % len(sh.lines)
		if _, busy := sh.planted[at]; busy || len(cellsOf(sh.lines[at])) != len(headings()[table]) {
			continue
		}
		if fits == nil || fits(sh.lines[at]) {
			return at, sh.lines[at], true
		}
	}
	return 0, nil, false
}

// fresh turns a copy of a record into a new one by giving it a key of its own.
func (s *sower) fresh(table int, line []byte) []byte {
	t, _ := export.Find(tableNames[table])
	id := key('x', s.m.p.Scenario.Seed, s.rng.Int())
	return with(table, line, t.Key[0], id)
}

func has(table int, column string, want ...string) func([]byte) bool {
	return func(line []byte) bool { return slices.Contains(want, cell(table, line, column)) }
}

func filled(table int, column string) func([]byte) bool {
	return func(line []byte) bool { return strings.TrimSpace(cell(table, line, column)) != "" }
}
