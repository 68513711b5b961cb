package practice

import (
	"fmt"
	"slices"
	"time"
)

// Delivery is what all senders dropped before one night.
type Delivery struct {
	ReceivedOn time.Time
	Files      []File // by sender and name
}

// File is one dropped file: inbox/SENDER/NAME.
type File struct {
	Sender, Name string
	Data         []byte
}

// sheet is what becomes one file: rows of one table.
type sheet struct {
	lines   [][]byte
	planted map[int][]int // line -> items of the planted list
}

// post is everything one sender drops before one night.
type post struct {
	sheets [tableCount]sheet
	extra  []File // further files, named in full
}

// mail is all posts, by delivery and sender.
type mail struct {
	p       *Practice
	nights  []day
	senders []string
	posts   [][]post
}

// Deliveries returns one history and the dated nights after it, oldest first.
// Each holds what came on record, or changed, since the one before, and states
// up to which day it is complete.
func (p *Practice) Deliveries() []Delivery {
	if p.sent == nil {
		m := p.sort()
		if !p.Scenario.Clean {
			m.plant()
		}
		p.sent = m.write()
	}
	return p.sent
}

// senders in order, each once.
func (s Scenario) senders() []string {
	var names []string
	for _, at := range s.sites() {
		if !slices.Contains(names, at.sender) {
			names = append(names, at.sender)
		}
	}
	slices.Sort(names)
	return names
}

// sort puts every version of every record into the delivery in which it goes
// out. Of several versions that came up between two nights only the last goes.
func (p *Practice) sort() *mail {
	m := &mail{p: p, nights: p.Scenario.nights(), senders: p.Scenario.senders()}
	m.posts = make([][]post, len(m.nights))
	for k := range m.posts {
		m.posts[k] = make([]post, len(m.senders))
	}
	from := make([]int, p.Scenario.Sites)
	for i, at := range p.Scenario.sites() {
		from[i] = slices.Index(m.senders, at.sender)
	}
	for table := range p.rows {
		rows := p.rows[table]
		for i := range rows {
			k := m.delivery(rows[i].known)
			if i+1 < len(rows) && rows[i].key != "" && rows[i+1].key == rows[i].key && m.delivery(rows[i+1].known) == k {
				continue
			}
			sh := &m.posts[k][from[rows[i].site]].sheets[table]
			sh.lines = append(sh.lines, rows[i].line)
		}
	}
	return m
}

// delivery is the index of the first delivery after a day.
func (m *mail) delivery(known day) int {
	for k, night := range m.nights {
		if known < night {
			return k
		}
	}
	return len(m.nights) - 1
}

func (m *mail) write() []Delivery {
	deliveries := make([]Delivery, len(m.nights))
	for k, night := range m.nights {
		d := Delivery{ReceivedOn: night.time()}
		for i, sender := range m.senders {
			d.Files = append(d.Files, m.files(k, i, sender)...)
		}
		deliveries[k] = d
	}
	return deliveries
}

// files writes one sender's files of one delivery. A sender with nothing to
// say sends nothing.
func (m *mail) files(k, i int, sender string) []File {
	date := m.nights[k].time().Format(time.DateOnly)
	var files []File
	for table := range m.posts[k][i].sheets {
		sh := &m.posts[k][i].sheets[table]
		if len(sh.lines) == 0 {
			continue
		}
		name := fmt.Sprintf("%s_%s.csv", date, tableNames[table])
		files = append(files, File{Sender: sender, Name: name, Data: m.file(sender, name, table, sh)})
	}
	files = append(files, m.posts[k][i].extra...)
	if statement := m.statement(k, sender); len(files) > 0 && statement != nil {
		files = append(files, File{Sender: sender, Name: date + "_delivery.csv", Data: statement})
	}
	slices.SortStableFunc(files, func(a, b File) int { return compare(a.Name, b.Name) })
	return files
}

func compare(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
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

// file writes one file and notes the physical line of every planted row.
func (m *mail) file(sender, name string, table int, sh *sheet) []byte {
	end := "\n"
	if sender == withCRLF {
		end = "\r\n"
	}
	size := 1024
	for _, line := range sh.lines {
		size += len(line) + 2
	}
	data := make([]byte, 0, size)
	if sender == withMark && table == episodesTable {
		data = append(data, "\ufeff"...)
	}
	for i, h := range headings()[table] {
		if i > 0 {
			data = append(data, ',')
		}
		data = append(data, h...)
	}
	stated := withStates(table, sh)
	if stated {
		data = append(data, ",row_state"...)
	}
	data = append(data, end...)
	at := 2
	for i, line := range sh.lines {
		if sender == withBlankLines && i%500 == 37 && !m.p.Scenario.Clean {
			data = append(data, end...)
			at++
		}
		for _, item := range sh.planted[i] {
			m.p.planted[item].File, m.p.planted[item].Line = name, at
		}
		data = append(data, line...)
		if stated && !hasState(line, table) {
			data = append(data, ',')
		}
		data = append(data, end...)
		at++
		for _, b := range line {
			if b == '\n' {
				at++
			}
		}
	}
	return data
}

// statement says up to which day the sender's sites are complete.
func (m *mail) statement(k int, sender string) []byte {
	if sender == withoutWord {
		return nil
	}
	through := m.nights[k] - 1
	text := "site,complete_from,complete_to\n"
	said := false
	for i, at := range m.p.Scenario.sites() {
		if at.sender != sender || through > m.p.w.siteEnds[i] {
			continue
		}
		text += fmt.Sprintf("%s,%s,%s\n", at.code, m.p.Scenario.Start.Format(time.DateOnly), through.time().Format(time.DateOnly))
		said = true
	}
	if !said {
		return nil
	}
	return []byte(text)
}
