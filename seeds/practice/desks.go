package practice

import (
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice/dress"
)

// desk is one system that writes files for a sender, and the sites it is for.
type desk struct {
	sender string
	sites  []int
	dress  dress.Dress
}

// Habits of single senders: one has a blank line now and then, one ends lines
// as some systems do, one begins with a byte-order mark, one never states how
// far its data reach.
const (
	withBlankLines = "harbour"
	withCRLF       = "eastern"
	withMark       = "millrace"
	withoutWord    = "quarry"
)

// desks in order of their senders. A sender has one, and one more for each of
// its sites whose system writes files of its own kind.
func (s Scenario) desks() []desk {
	var desks []desk
	for i, at := range s.sites() {
		d := desk{sender: at.sender, sites: []int{i}}
		if s.OwnFormats {
			d.dress = dress.Own(at.code)
		}
		if d.dress == nil {
			d.dress = dress.Canonical{BlankLines: at.sender == withBlankLines && !s.Clean, CRLF: at.sender == withCRLF, Mark: at.sender == withMark}
			if same := slices.IndexFunc(desks, func(o desk) bool { return o.sender == d.sender && o.dress == d.dress }); same >= 0 {
				desks[same].sites = append(desks[same].sites, i)
				continue
			}
		}
		desks = append(desks, d)
	}
	slices.SortStableFunc(desks, func(a, b desk) int { return strings.Compare(a.sender, b.sender) })
	return desks
}

// Layouts returns the layout files by which the files of the senders are read.
func (p *Practice) Layouts() []dress.File {
	var nights []string
	for _, night := range p.Scenario.nights() {
		nights = append(nights, night.time().Format(time.DateOnly))
	}
	var files []dress.File
	for _, d := range p.Scenario.desks() {
		files = append(files, d.dress.Layouts(nights)...)
	}
	return files
}

// Sending says what a site sends.
type Sending struct {
	Site   string `json:"site"`
	Sender string `json:"sender"`
	About  string `json:"about"`
}

// Sends lists what every site sends, in the order of the settings.
func (p *Practice) Sends() []Sending {
	sends := make([]Sending, p.Scenario.Sites)
	for _, d := range p.Scenario.desks() {
		for _, site := range d.sites {
			sends[site] = Sending{siteTable[site].label, d.sender, d.dress.About()}
		}
	}
	return sends
}

// whole says whether the desk sends all rows of a table every night.
func (d desk) whole(table int) bool {
	w, ok := d.dress.(interface{ Whole(t export.Table) bool })
	return ok && w.Whole(tableOf(table))
}

// keeps says whether the desk's files say what a column holds.
func (d desk) keeps(table int, column string) bool {
	k, ok := d.dress.(interface {
		Keeps(t export.Table, column string) bool
	})
	return !ok || k.Keeps(tableOf(table), column)
}

// plain is the first desk that keeps to the export tables; the first of all
// where none does.
func (m *mail) plain() int {
	return max(0, slices.IndexFunc(m.desks, func(d desk) bool {
		_, canonical := d.dress.(dress.Canonical)
		return canonical
	}))
}

// of is the desk that writes for a site.
func (m *mail) of(site int) desk {
	return m.desks[slices.IndexFunc(m.desks, func(d desk) bool { return slices.Contains(d.sites, site) })]
}
