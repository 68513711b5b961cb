package dress

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"evenlimb/pipeline/export"
)

// script is how a desk writes: its headings, and its way of putting a cell.
type script struct {
	// tables are the headings of each export table and the columns they stand
	// for. Two columns joined by a slash share a cell: 134/83.
	tables map[string][]heading
	// codes are the desk's own words for codes, by column; what is not there is
	// written as it is.
	codes map[string]map[string]string
	// units are those that numbers of a column are written in, by column.
	units map[string]unit
	// missing are the words for a cell that is not recorded, by turns.
	missing []string

	yes, no  string // empty: true and false
	date     func(iso string) string
	decimals func(number string) string
}

// heading is one heading of a desk's own.
type heading struct{ name, columns string }

// pen writes the cells of one table.
type pen struct {
	*script
	table export.Table
	heads []string
	parts [][]part // of each heading
}

// part is one column that a heading stands for.
type part struct {
	at    int // in the table; the state stands behind the last
	kind  export.Type
	codes map[string]string
	unit  unit
}

func (s *script) pen(t export.Table) *pen {
	p := &pen{script: s, table: t}
	for _, h := range s.tables[t.Name] {
		p.heads = append(p.heads, h.name)
		var parts []part
		for name := range strings.SplitSeq(h.columns, "/") {
			at := slices.IndexFunc(t.Columns, func(c export.Column) bool { return c.Name == name })
			one := part{at: at, codes: s.codes[name], unit: s.units[name]}
			if at >= 0 {
				one.kind = t.Columns[at].Type
			} else {
				one.at = len(t.Columns) // row_state
			}
			parts = append(parts, one)
		}
		p.parts = append(p.parts, parts)
	}
	return p
}

// cells writes the row i of a file.
func (p *pen) cells(i int, r record) []string {
	out := make([]string, len(p.parts))
	for n, parts := range p.parts {
		var texts []string
		empty := true
		for _, one := range parts {
			text := p.cell(one, r)
			empty = empty && text == ""
			texts = append(texts, text)
		}
		switch {
		case !empty:
			out[n] = strings.Join(texts, "/")
		case len(p.missing) > 0 && parts[0].at < len(p.table.Columns):
			out[n] = p.missing[(i+n)%len(p.missing)]
		}
	}
	return out
}

func (p *pen) cell(one part, r record) string {
	text := r.state
	if one.at < len(r.cells) {
		text = r.cells[one.at]
	}
	if text == "" {
		return ""
	}
	if word, ok := one.codes[text]; ok {
		return word
	}
	switch one.kind {
	case export.Date:
		if p.date != nil && isISO(text) {
			return p.date(text)
		}
	case export.Boolean:
		switch {
		case text == "true" && p.yes != "":
			return p.yes
		case text == "false" && p.no != "":
			return p.no
		}
	case export.Decimal, export.Integer:
		if one.unit.size != 0 {
			text = one.unit.write(text)
		}
		if p.decimals != nil {
			return p.decimals(text)
		}
	case export.CodeSet:
		if one.codes != nil {
			words := strings.Split(text, ";")
			for i, code := range words {
				if word, ok := one.codes[code]; ok {
					words[i] = word
				}
			}
			return strings.Join(words, ";")
		}
	default:
	}
	return text
}

func isISO(text string) bool {
	return len(text) == len("2006-01-02") && text[4] == '-' && text[7] == '-'
}

// dayFirst writes 2025-03-31 as 31.03.2025.
func dayFirst(iso string) string { return iso[8:] + "." + iso[5:7] + "." + iso[:4] }

// decimalComma writes 12.5 as 12,5.
func decimalComma(number string) string {
	if _, err := strconv.ParseFloat(number, 64); err != nil {
		return number
	}
	return strings.Replace(number, ".", ",", 1)
}

// unit is a unit that a desk writes in.
type unit struct {
	size     float64 // how many of the column's own unit go into one
	decimals int     // that the column's own numbers have
}

// The sizes of units.
const (
	inch       = 2.54            // cm
	pound      = 0.45359237      // kg
	poundForce = 4.4482216152605 // N
	kilopascal = 7.5006157584566 // mmHg
	fraction   = 100             // %
)

// write writes a number in the unit, with as few decimals as give the number
// back when it is turned round again and rounded to its own decimals.
func (u unit) write(number string) string {
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return number
	}
	near := 0.45 * math.Pow10(-u.decimals)
	for places := 0; ; places++ {
		text := strconv.FormatFloat(v/u.size, 'f', places, 64)
		back, err := strconv.ParseFloat(text, 64)
		if err == nil && math.Abs(back*u.size-v) < near || places == 9 {
			return text
		}
	}
}
