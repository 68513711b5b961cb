package layout

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// cell reads the cells under one heading.
type cell struct {
	def     export.Column
	spec    settings.LayoutCell
	heading string
	at      int // place in the record; -1: none
	signs   notation.Signs
	missing map[string]bool
	dates   []notation.DateFormat
	words   notation.DateWords
	codes   map[string]string // by word, and by folded word
	allowed map[string]bool   // codes that may stand; nil: anything
	known   map[string]reading
	turned  map[[3]string]string // by text, its unit and the column's
}

// reading is what a cell says.
type reading struct {
	text  string
	unit  string // that stood behind the number
	empty bool   // it says nothing
	month bool   // it named a month and no day
	fault *fault
}

type fault struct{ reason, words string }

// remembered is how many different cells of a column are read, and turned into
// another unit, once only.
const remembered = 1 << 16

func newCell(l *settings.Layout, def export.Column, spec settings.LayoutCell, at int) *cell {
	c := &cell{
		def: def, spec: spec, at: at,
		signs: l.Cells.Signs, missing: map[string]bool{"": true}, words: l.Cells.DateWords,
		codes: map[string]string{}, known: map[string]reading{}, turned: map[[3]string]string{},
	}
	if spec.Signs.Decimal != "" {
		c.signs.Decimal = spec.Signs.Decimal
		if c.signs.Thousands == c.signs.Decimal {
			c.signs.Thousands = ""
		}
	}
	if spec.Signs.Thousands != "" {
		c.signs.Thousands = spec.Signs.Thousands
	}
	for _, list := range [][]string{l.Cells.Missing, spec.Missing} {
		for _, word := range list {
			c.missing[fold(word)] = true
		}
	}
	c.dates = append(c.dates, isoDates...)
	if len(spec.Dates) > 0 {
		c.dates = append(c.dates, spec.Dates...)
	} else {
		c.dates = append(c.dates, l.Cells.Dates...)
	}
	for _, code := range spec.Codes {
		if folded := fold(code.Word); c.codes[folded] == "" {
			c.codes[folded] = code.Code
		}
		c.codes[code.Word] = code.Code
	}
	c.allowed = allowed(def)
	return c
}

// isoDates always count, since nothing else is written like them.
var isoDates = func() []notation.DateFormat {
	var list []notation.DateFormat
	for _, text := range []string{"year-month-day", "year-month-daytime", "year-month-day time"} {
		f, err := notation.ParseDateFormat(text)
		if err != nil {
			panic(err) // compiled in
		}
		list = append(list, f)
	}
	return list
}()

// allowed returns the codes that a column may hold where the program knows them.
func allowed(def export.Column) map[string]bool {
	list := def.Codes
	switch def.From {
	case "":
	case "sites", "plan_codes":
		return nil
	default:
		list = reference.Codes(def.From)
	}
	if def.Type == export.Boolean {
		list = []string{"true", "false"}
	}
	if list == nil {
		return nil
	}
	all := make(map[string]bool, len(list))
	for _, code := range list {
		all[code] = true
	}
	return all
}

// empty says whether the cell of a record says nothing.
func (c *cell) empty(cells []string) bool {
	if c.spec.Take.How == settings.TakeRows {
		return c.missing[fold(cells[c.at])]
	}
	return c.read(cells[c.at], 0).empty
}

// parts returns how many rows the cell of a record stands for; 0 for a cell that
// stands in all of them.
func (c *cell) parts(cells []string) int {
	if c.at < 0 || c.spec.Take.How != settings.TakeRows || c.missing[fold(cells[c.at])] {
		return 0
	}
	return strings.Count(cells[c.at], c.spec.Split) + 1
}

// read reads a cell. row says which of its parts is meant where it stands for
// several rows.
func (c *cell) read(raw string, row int) reading {
	if c.spec.Take.How == settings.TakeRows && !c.missing[fold(raw)] {
		parts := strings.Split(raw, c.spec.Split)
		raw = parts[min(row, len(parts)-1)]
	}
	if r, ok := c.known[raw]; ok {
		return r
	}
	r := c.text(strings.TrimSpace(raw))
	if r.fault != nil {
		r.text = ""
	}
	if len(c.known) < remembered {
		c.known[raw] = r
	}
	return r
}

func (c *cell) text(text string) reading {
	if c.missing[fold(text)] {
		return reading{text: c.spec.Empty, empty: true}
	}
	take := c.spec.Take
	if take.Part == 0 && (take.How == "" || take.How == settings.TakeRows) {
		return c.one(text)
	}
	parts := strings.Split(text, c.spec.Split)
	switch {
	case take.Part > len(parts):
		return failed(PartMissing, "which taken apart at %q has no value number %d; correct the cell", c.spec.Split, take.Part)
	case take.Part > 0:
		part := strings.TrimSpace(parts[take.Part-1])
		if c.missing[fold(part)] {
			return reading{text: c.spec.Empty, empty: true}
		}
		return c.one(part)
	case take.How == settings.TakeCount:
		return reading{text: strconv.Itoa(len(parts))}
	}
	var all []string
	for _, part := range parts {
		r := c.one(strings.TrimSpace(part))
		if r.fault != nil {
			return r
		}
		all = append(all, r.text)
	}
	switch {
	case take.How == settings.TakeSum:
		return reading{text: notation.Sum(all)}
	case c.def.Type == export.CodeSet:
		return reading{text: strings.Join(all, ";")}
	default:
		return reading{text: strings.Join(all, "/")}
	}
}

// one reads a single value.
func (c *cell) one(text string) reading {
	if code, ok := c.codes[text]; ok {
		return reading{text: code}
	}
	if code, ok := c.codes[fold(text)]; ok {
		return reading{text: code}
	}
	switch c.def.Type {
	case export.Code, export.CodeSet, export.Boolean:
		return c.code(text)
	case export.Integer, export.Decimal:
		return c.number(text)
	case export.Reps:
		if c.spec.Take.How == settings.TakeList {
			return c.number(text)
		}
		return reading{text: text}
	case export.Date:
		if c.spec.DaysAfter != "" {
			return c.days(text)
		}
		return c.date(text)
	default:
		return reading{text: text}
	}
}

func (c *cell) code(text string) reading {
	if c.allowed == nil || c.allowed[text] || c.def.Type == export.CodeSet && strings.Contains(text, ";") {
		return reading{text: text}
	}
	if folded := strings.ToLower(text); c.def.Type == export.Boolean && c.allowed[folded] {
		return reading{text: folded} // spreadsheets write them in capitals
	}
	reason := UnknownCode
	if c.def.Type == export.Boolean {
		reason = NotTrueFalse
	}
	if len(c.codes) == 0 {
		words := "which is not a known code"
		if near := settings.Near(text, slices.Sorted(maps.Keys(c.allowed))); near != "" {
			words += fmt.Sprintf(" (the nearest is %q)", near)
		}
		return failed(reason, "%s; correct the cell, or give the column codes in the layout", words)
	}
	return failed(reason, "which the layout has no code for; correct the cell, or add the word to the codes of %s", c.def.Name)
}

func (c *cell) number(text string) reading {
	if canonical, ok := c.signs.Number(text); ok {
		return reading{text: canonical}
	}
	if bare, unit, ok := withUnit(text); ok {
		if canonical, ok := c.signs.Number(bare); ok {
			return reading{text: canonical, unit: unit}
		}
	}
	words := fmt.Sprintf("which is not a number with the decimal sign %q", c.signs.Decimal)
	other := notation.Signs{Decimal: map[string]string{".": ",", ",": "."}[c.signs.Decimal]}
	if _, ok := other.Number(text); ok {
		words += fmt.Sprintf("; correct the cell, or say decimal = %q in the layout", other.Decimal)
	} else {
		words += "; correct the cell, or name the word under missing in the layout"
	}
	return failed(NotANumber, "%s", words)
}

// withUnit takes apart a number with a unit behind it.
func withUnit(text string) (bare, unit string, ok bool) {
	last := strings.LastIndexAny(text, "0123456789") + 1
	unit = strings.TrimSpace(text[last:])
	if _, ok := notation.FindUnit(unit); !ok {
		return "", "", false
	}
	return strings.TrimSpace(text[:last]), unit, true
}

func (c *cell) days(text string) reading {
	canonical, ok := c.signs.Number(text)
	if _, err := strconv.Atoi(canonical); !ok || err != nil || len(canonical) > 6 {
		return failed(NotDays, "which is not a number of whole days; correct the cell")
	}
	return reading{text: canonical}
}

func (c *cell) date(text string) reading {
	why := ""
	for i, f := range c.dates {
		words := c.words
		if i < len(isoDates) {
			words.Century = 0 // 05-01-26 is not read as a year, whatever the layout says of others
		}
		day, ok, more := f.Read(text, words)
		if ok {
			return reading{text: day.Format(time.DateOnly), month: f.OfMonths()}
		}
		if more != "" && i >= len(isoDates) || more != "" && len(c.dates) == len(isoDates) {
			why = more
		}
	}
	if why != "" {
		return failed(NotADate, "which cannot be taken as a date: %s; correct the cell", why)
	}
	var forms []string
	for _, f := range c.dates[len(isoDates):] {
		forms = append(forms, f.String())
	}
	return failed(NotADate, "which is not written as %s; correct the cell, or add its order to date in the layout", strings.Join(append([]string{"year-month-day"}, forms...), " or "))
}

func failed(reason, format string, args ...any) reading {
	return reading{fault: &fault{reason, fmt.Sprintf(format, args...)}}
}
