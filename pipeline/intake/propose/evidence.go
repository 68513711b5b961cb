package propose

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"evenlimb/pipeline/settings/notation"
)

// evidence is what the cells of a file say together.
type evidence struct {
	decimal string
	dates   []Guess
	missing []Guess
	formats []notation.DateFormat
	columns [][]*profile // by sheet
}

var isoDate = mustFormat("year-month-day")

func mustFormat(text string) notation.DateFormat {
	f, err := notation.ParseDateFormat(text)
	if err != nil {
		panic(err) // compiled in
	}
	return f
}

func newEvidence(sheets []Sheet) *evidence {
	e := &evidence{decimal: "."}
	commas, points := 0, 0
	for _, s := range sheets {
		for _, row := range s.Rows {
			for _, cell := range row {
				switch {
				case commaNumber.MatchString(cell):
					commas++
				case pointNumber.MatchString(cell):
					points++
				}
			}
		}
	}
	if commas > points {
		e.decimal = ","
	}
	e.findDates(sheets)
	missing := e.findMissing(sheets)
	for _, s := range sheets {
		var columns []*profile
		for i, h := range s.Headings {
			if strings.TrimSpace(h) != "" { // a layout cannot name a column without a heading
				columns = append(columns, e.profile(h, s.Rows, i, missing))
			}
		}
		e.columns = append(e.columns, columns)
	}
	return e
}

var (
	commaNumber = regexp.MustCompile(`^-?\d+,\d{1,6}$`)
	pointNumber = regexp.MustCompile(`^-?\d+\.\d{1,6}$`)
	dateLike    = regexp.MustCompile(`^\d{1,4}([-./])\d{1,2}([-./])\d{1,4}( \d{1,2}:\d\d.*)?$`)
)

// dateOrders are the ways of writing dates that are tried, the commonest first.
var dateOrders = []string{"day%month%year", "month%day%year", "year%month%day", "day%month%year time", "month%day%year time", "year%month%day time"}

// findDates finds the orders in which dates are written, by the signs between
// their parts.
func (e *evidence) findDates(sheets []Sheet) {
	cells := map[string][]string{} // by sign
	for _, s := range sheets {
		for _, row := range s.Rows {
			for _, cell := range row {
				if m := dateLike.FindStringSubmatch(cell); m != nil && m[1] == m[2] {
					if _, iso, _ := isoDate.Read(cell, notation.DateWords{}); !iso {
						cells[m[1]] = append(cells[m[1]], cell)
					}
				}
			}
		}
	}
	for _, sign := range []string{".", "/", "-"} {
		if len(cells[sign]) < 3 {
			continue
		}
		var fit []notation.DateFormat
		for _, order := range dateOrders {
			f := mustFormat(strings.ReplaceAll(order, "%", sign))
			good := 0
			for _, cell := range cells[sign] {
				if _, ok, _ := f.Read(cell, notation.DateWords{Century: 1950}); ok {
					good++
				}
			}
			if good*100 >= len(cells[sign])*98 {
				fit = append(fit, f)
			}
		}
		if len(fit) == 0 {
			continue
		}
		why := fmt.Sprintf("all but a few of %d dates can only be read so", len(cells[sign]))
		if len(fit) > 1 {
			why = fmt.Sprintf("could also be %s: no day above 12 tells; ask the sender", fit[1])
		}
		e.formats = append(e.formats, fit[0])
		e.dates = append(e.dates, Guess{fit[0].String(), why})
	}
}

func (e *evidence) isDate(cell string) bool {
	for _, f := range append([]notation.DateFormat{isoDate}, e.formats...) {
		if _, ok, _ := f.Read(cell, notation.DateWords{Century: 1950}); ok {
			return true
		}
	}
	return false
}

func (e *evidence) number(cell string) (float64, bool) {
	text, ok := notation.Signs{Decimal: e.decimal}.Number(cell)
	if !ok {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}

// Words that people write where nothing is recorded: nothing always means so,
// perhaps may be a code too and counts among numbers and dates alone.
var (
	nothing = []string{"n/a", "na", "n.a.", "-", "–", "—", "--", "?", "null", "nan", "#n/a"}
	perhaps = []string{"none", "nil", "unknown", "not recorded", "missing", "999", "-1", "-99", "-999", "9999"}
)

// findMissing finds words for what is not recorded.
func (e *evidence) findMissing(sheets []Sheet) map[string]bool {
	always, among := map[string]int{}, map[string]int{} // headings under which a word stands
	for _, s := range sheets {
		for i := range s.Headings {
			count := map[string]int{}
			typed, filled := 0, 0
			for _, row := range s.Rows {
				cell := strings.TrimSpace(row[i])
				low := strings.ToLower(cell)
				switch {
				case cell == "":
					continue
				case slices.Contains(nothing, low):
					count[cell]++
					continue
				case slices.Contains(perhaps, low):
					count[cell]++
				}
				filled++
				if _, ok := e.number(cell); ok || e.isDate(cell) {
					typed++
				}
			}
			for word := range count {
				if slices.Contains(nothing, strings.ToLower(word)) {
					always[word]++
				} else if _, number := e.number(word); 2*typed > filled && (!number || e.alone(word, s.Rows, i)) {
					among[word]++
				}
			}
		}
	}
	found := map[string]bool{}
	for _, word := range sortedKeys(always) {
		found[word] = true
		e.missing = append(e.missing, Guess{word, "a usual word for what is not recorded, under " + counted(always[word], "heading")})
	}
	for _, word := range sortedKeys(among) {
		found[word] = true
		e.missing = append(e.missing, Guess{word, "stands among numbers or dates under " + counted(among[word], "heading")})
	}
	return found
}

// alone says whether a number stands far from all others under its heading, more
// than once.
func (e *evidence) alone(word string, rows [][]string, i int) bool {
	far, _ := e.number(word)
	times := 0
	for _, row := range rows {
		v, ok := e.number(strings.TrimSpace(row[i]))
		switch {
		case ok && v == far:
			times++
		case ok && (far > 0 && v > far/4 || far < 0 && v < 0):
			return false
		}
	}
	return times > 1
}

func counted(n int, thing string) string {
	if n == 1 {
		return "one " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func sortedKeys(m map[string]int) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

func (e *evidence) profile(heading string, rows [][]string, i int, missing map[string]bool) *profile {
	p := &profile{heading: heading, count: map[string]int{}}
	p.words, p.unit = readHeading(heading)
	for _, row := range rows {
		cell := strings.TrimSpace(row[i])
		if cell == "" || missing[cell] {
			continue
		}
		p.texts = append(p.texts, cell)
		if p.count[cell]++; p.count[cell] == 1 {
			p.distinct = append(p.distinct, cell)
		}
		if v, ok := e.number(cell); ok {
			p.numbers = append(p.numbers, v)
		}
		if e.isDate(cell) {
			p.dates++
		}
	}
	slices.SortStableFunc(p.distinct, func(a, b string) int { return p.count[b] - p.count[a] })
	return p
}
