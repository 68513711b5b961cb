package practice

import (
	"cmp"
	"fmt"
	"slices"
	"sync"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/seeds/practice/dress"
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

// sheet is the rows of one table in one post.
type sheet struct {
	lines   [][]byte
	planted map[int][]int // line -> items of the planted list
}

// post is everything one desk drops before one night.
type post struct {
	sheets [tableCount]sheet
	again  []again
	extra  []File // further files, named in full
}

// again is a sheet that goes out once more, under a name of its own.
type again struct {
	table int
	name  string
	lines [][]byte
	items []int // of the planted list, about the file
}

// mail is all posts, by delivery and desk.
type mail struct {
	p      *Practice
	nights []day
	desks  []desk
	posts  [][]post
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

// sort puts every version of every record into the delivery in which it goes
// out. Of several versions that came up between two nights only the last goes.
func (p *Practice) sort() *mail {
	m := &mail{p: p, nights: p.Scenario.nights(), desks: p.Scenario.desks()}
	m.posts = make([][]post, len(m.nights))
	for k := range m.posts {
		m.posts[k] = make([]post, len(m.desks))
	}
	from := make([]int, p.Scenario.Sites)
	for i, d := range m.desks {
		for _, site := range d.sites {
			from[site] = i
		}
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
		deliveries[k] = Delivery{ReceivedOn: night.time()}
	}
	// A desk's nights come one after the other: what stands follows from them.
	files := make([][][]File, len(m.desks))
	m.p.w.inParallel(len(m.desks), func(i int) {
		st := standing{}
		for k := range m.nights {
			files[i] = append(files[i], m.files(k, i, st))
		}
	})
	for k := range deliveries {
		d := &deliveries[k]
		for i, from := range m.desks {
			d.Files = append(d.Files, files[i][k]...)
			if last := i+1 == len(m.desks) || m.desks[i+1].sender != from.sender; !last {
				continue
			}
			statement := m.statement(k, from.sender)
			if statement != nil && slices.ContainsFunc(d.Files, func(f File) bool { return f.Sender == from.sender }) {
				d.Files = append(d.Files, File{Sender: from.sender, Name: d.ReceivedOn.Format(time.DateOnly) + "_delivery.csv", Data: statement})
			}
		}
		slices.SortStableFunc(d.Files, func(a, b File) int {
			return cmp.Or(cmp.Compare(a.Sender, b.Sender), cmp.Compare(a.Name, b.Name))
		})
	}
	return deliveries
}

// files writes one desk's files of one delivery. A table with nothing new is
// sent only by a desk that sends it whole.
func (m *mail) files(k, i int, st standing) []File {
	d := dress.Drop{Night: k, Date: m.nights[k].time().Format(time.DateOnly)}
	var planted []map[int][]int // of each sheet of the drop
	var aside [][]int           // items about the file of each sheet
	put := func(table int, name string, lines [][]byte, items map[int][]int, about []int) {
		d.Sheets = append(d.Sheets, dress.Sheet{Table: tableOf(table), Name: name, Rows: lines})
		planted, aside = append(planted, items), append(aside, about)
	}
	for table := range m.posts[k][i].sheets {
		sh := &m.posts[k][i].sheets[table]
		var about []int
		if m.desks[i].whole(table) {
			sh, about = m.whole(st, table, sh)
		}
		if len(sh.lines) > 0 {
			put(table, "", sh.lines, sh.planted, about)
		}
	}
	for _, a := range m.posts[k][i].again {
		put(a.table, a.name, a.lines, nil, a.items)
	}
	d.Note = func(sheet, row int, file string, line int) {
		for _, item := range planted[sheet][row] {
			m.p.planted[item].File, m.p.planted[item].Line = file, line
		}
		if row == 0 {
			for _, item := range aside[sheet] {
				m.p.planted[item].File = file
			}
		}
	}
	written, err := m.desks[i].dress.Files(d)
	if err != nil {
		panic(err) // the rows are written by this package and tested
	}
	var files []File
	for _, f := range written {
		files = append(files, File{Sender: m.desks[i].sender, Name: f.Name, Data: f.Data})
	}
	return append(files, m.posts[k][i].extra...)
}

var exportTables = sync.OnceValue(export.Tables)

func tableOf(table int) export.Table { return exportTables()[table] }

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
