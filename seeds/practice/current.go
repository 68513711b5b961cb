package practice

import (
	"bytes"
	"fmt"
	"time"
)

// DrawBrief draws the same practice as Draw, but for the bouts of sessions on
// the landmark or after it, of which most are and on which no published row
// rests. It takes about half as long.
func DrawBrief(s Scenario) (*Practice, error) { return draw(s, true) }

// mute lets no cell of a bout be written that a brief practice leaves out.
func (r *recorder) mute(on int) { r.out.mute = r.brief && on >= r.st.episode.injury.landmark }

func (r *recorder) speak() { r.out.mute = false }

// Each calls do for the current version of every record of a table, in the
// order of Tables and much faster: with the cells of the columns named, which
// hold only until do returns.
func (p *Practice) Each(table string, columns []string, do func(cells [][]byte)) error {
	for at, name := range tableNames {
		if name != table {
			continue
		}
		places := make([]int, len(columns))
		for i, c := range columns {
			if places[i] = column(at, c); places[i] < 0 {
				return fmt.Errorf("made-up practice: table %s has no column %q", table, c)
			}
		}
		var all [64][]byte // more than any table has columns
		wanted := make([][]byte, len(columns))
		for _, r := range latest(p.rows[at]) {
			n := cellsIn(r.line, all[:])
			for i, place := range places {
				if place >= n {
					return fmt.Errorf("made-up %s: a row of %d cells: %s", table, n, r.line)
				}
				wanted[i] = all[place]
			}
			do(wanted)
		}
		return nil
	}
	return fmt.Errorf("made-up practice: no table %q", table)
}

// cellsIn splits a line that this package wrote into its cells and counts them.
func cellsIn(line []byte, into [][]byte) int {
	n := 0
	for {
		if len(line) > 0 && line[0] == '"' {
			end := 1
			for end < len(line) && (line[end] != '"' || end+1 < len(line) && line[end+1] == '"') {
				if line[end] == '"' {
					end++
				}
				end++
			}
			into[n] = bytes.ReplaceAll(line[1:end], []byte(`""`), []byte(`"`))
			line = line[end+1:]
		} else {
			end := bytes.IndexByte(line, ',')
			if end < 0 {
				end = len(line)
			}
			into[n], line = line[:end], line[end:]
		}
		n++
		if len(line) == 0 {
			return n
		}
		line = line[1:]
	}
}

// Reach is the last day on which each site's records say anything, by code.
func (p *Practice) Reach() map[string]time.Time {
	reach := map[string]time.Time{}
	for i, at := range p.Scenario.sites() {
		reach[at.code] = p.w.siteEnds[i].time()
	}
	return reach
}
