// Package guard looks at the headings and cells of a file before anything of it
// is kept, and refuses the file when they look like direct identifiers of a
// person: names, birth dates, addresses, numbers of records and insurances, or
// free text long enough to hold them.
//
// It refuses on suspicion, for a file with identifiers in the archive cannot be
// taken back. What it says names a column and a line and never a value. A
// practice can allow a false alarm for one heading of one sender; what such an
// allowance let through is told as well.
//
// The work is cheap where a file has the headings of an export table: a cell that
// reads as its column has it, a number, date, code or plain pseudonym, is passed
// over after one look at its bytes.
package guard

import (
	"fmt"
	"slices"
	"strings"
)

// Kind is what a column or cell looks like.
type Kind string

// The kinds of identifiers, as messages name them.
const (
	Name      Kind = "names of persons"
	Birth     Kind = "birth dates"
	Age       Kind = "ages over 89"
	Email     Kind = "e-mail addresses"
	Phone     Kind = "phone numbers"
	Address   Kind = "postal addresses"
	Postcode  Kind = "postcodes"
	Record    Kind = "record numbers"
	Insurance Kind = "insurance numbers"
	National  Kind = "national identity numbers"
	Licence   Kind = "licence or registration numbers"
	Account   Kind = "bank account numbers"
	Web       Kind = "web addresses or user accounts"
	FreeText  Kind = "free text long enough to hold identifiers"
	Named     Kind = "what the settings name as an identifier"
)

// Rules are what a practice adds for the files of one sender.
type Rules struct {
	Sender       string
	MoreHeadings []string // headings that are identifiers too, in any spelling
	Allow        []string // SENDER/HEADING of columns that were false alarms
}

// Suspicion is why a file is refused, or, for an allowed column, what was let
// through. It never holds a value.
type Suspicion struct {
	Column  int    // from 0
	Heading string // empty where the heading itself is what looks like an identifier
	Line    int    // first physical line concerned; that of the headings for a heading
	Kind    Kind
}

// Guard looks at one file. It is fed with Headings and then with Row, in the
// order of the file; a file of several sheets begins each with Headings.
type Guard struct {
	rules   Rules
	more    []phrase
	allowed map[string]bool // folded headings of this sender
	columns []column
	found   *Suspicion
	passed  []Suspicion
}

// New returns a guard for one file.
func New(rules Rules) *Guard {
	g := &Guard{rules: rules, allowed: map[string]bool{}}
	for _, h := range rules.MoreHeadings {
		if words := fold(h); len(words) > 0 {
			g.more = append(g.more, phrase{words: words, kind: Named})
		}
	}
	for _, a := range rules.Allow {
		if sender, heading, ok := strings.Cut(a, "/"); ok && sender == rules.Sender {
			g.allowed[strings.Join(fold(heading), " ")] = true
		}
	}
	return g
}

// Headings begins a file or sheet whose headings stand in that line. It returns
// a suspicion as soon as there is one; what then follows is not looked at.
func (g *Guard) Headings(line int, headings []string) *Suspicion {
	g.settle() // the sheet before
	g.columns = make([]column, len(headings), len(headings)+1)
	for i, h := range headings {
		c := &g.columns[i]
		*c = newColumn(i, h)
		c.allowed = g.allowed[strings.Join(c.folded, " ")]
	}
	for i := range g.columns {
		c := &g.columns[i]
		if c.canonical || c.own {
			continue
		}
		if kind := headingKind(c.folded, g.more); kind != "" {
			g.suspect(c, line, kind)
		} else if kind := valueKind(c.heading, place{}); kind != "" {
			c.heading = "" // it may be a row of a file without headings
			g.suspect(c, line, kind)
		}
	}
	return g.found
}

// Row looks at the cells of a row, of which there may be more or fewer than
// headings.
func (g *Guard) Row(line int, cells []string) {
	if g.found != nil {
		return
	}
	for i, text := range cells {
		if text == "" {
			continue
		}
		if i >= len(g.columns) {
			g.Broken(line, cells[i:])
			return
		}
		c := &g.columns[i]
		if c.form == asNumber && plainNumber(text) && !c.ages {
			continue
		}
		if !c.plain(line, text) {
			g.look(c, line, text)
		}
	}
}

// Broken looks at the text of a row that could not be taken apart.
func (g *Guard) Broken(line int, cells []string) {
	for _, text := range cells {
		if g.found != nil {
			return
		}
		if kind := valueKind(text, place{}); kind != "" {
			g.found = &Suspicion{Column: len(g.columns), Line: line, Kind: kind}
		}
	}
}

// Refused says whether the file is refused already: the rest needs no look.
func (g *Guard) Refused() bool { return g.found != nil }

// Verdict ends the file: nil when it may be kept.
func (g *Guard) Verdict() *Suspicion {
	g.settle()
	return g.found
}

// Passed returns what the allowances of the practice let through, each column
// once.
func (g *Guard) Passed() []Suspicion { return g.passed }

// settle judges the columns as wholes.
func (g *Guard) settle() {
	newest := 0
	for i := range g.columns {
		newest = max(newest, g.columns[i].newestYear())
	}
	for i := range g.columns {
		if g.found != nil {
			return
		}
		c := &g.columns[i]
		if kind, line := c.judge(newest); kind != "" {
			g.suspect(c, line, kind)
		}
	}
	g.columns = nil
}

// suspect notes what a column looks like, as refused or as let through.
func (g *Guard) suspect(c *column, line int, kind Kind) {
	s := Suspicion{Column: c.index, Heading: c.heading, Line: line, Kind: kind}
	switch {
	case !c.allowed:
		if g.found == nil {
			g.found = &s
		}
	case !slices.ContainsFunc(g.passed, func(p Suspicion) bool { return p.Heading == c.heading }):
		g.passed = append(g.passed, s)
	}
}

// Where says which column and line are meant, for people.
func (s Suspicion) Where() string {
	where := fmt.Sprintf("column %d", s.Column+1)
	if s.Heading != "" {
		where += fmt.Sprintf(" (%q)", shown(s.Heading))
	}
	return fmt.Sprintf("%s, line %d", where, s.Line)
}

// Words is the sentence of a refusal, with what to do next.
func (s Suspicion) Words(sender string) string {
	words := fmt.Sprintf("%s looks like %s; nothing of the file was kept. Take them out where the file is made and send it again under the same name", s.Where(), s.Kind)
	if s.Heading == "" {
		return words
	}
	return words + fmt.Sprintf("; if it is a false alarm, write allow = [%q] under [guard] in practice.toml", sender+"/"+shown(s.Heading))
}

// shown is a heading as a message may show it.
func shown(heading string) string {
	const most = 40
	if len(heading) > most {
		return strings.ToValidUTF8(heading[:most], "") + "..."
	}
	return strings.ToValidUTF8(heading, "?")
}
