package guard

import "strings"

// sampled is how many different values of a column are judged together, and
// tried how many cells are looked through for them at most.
const sampled, tried = 64, 4096

// sample holds the first different values of a column with their lines.
type sample struct {
	tries int
	texts []string
	lines []int
	known map[string]bool
}

func (s *sample) full() bool { return len(s.texts) == sampled || s.tries >= tried }

func (s *sample) add(line int, text string) {
	if s.full() {
		return
	}
	if s.tries++; s.known[text] {
		return
	}
	if s.known == nil {
		s.known = map[string]bool{}
	}
	text = strings.Clone(text) // it would keep its whole row
	s.known[text] = true
	s.texts, s.lines = append(s.texts, text), append(s.lines, line)
}

// matches counts the values for which is holds and returns the line of the
// first of them.
func (s *sample) matches(is func(string) bool) (count, line int) {
	for i, text := range s.texts {
		if is(text) {
			if count == 0 {
				line = s.lines[i]
			}
			count++
		}
	}
	return count, line
}

// Years are counted from firstYear on, in one byte's range.
const (
	firstYear = 1860
	yearRange = 256
)

// years counts the dates of a column by year.
type years struct {
	total int
	count [yearRange]int
	line  [yearRange]int
}

func (c *column) countYear(year, line int) {
	at := year - firstYear
	if at < 0 || at >= yearRange {
		return
	}
	if c.years == nil {
		c.years = &years{}
	}
	y := c.years
	if y.count[at] == 0 {
		y.line[at] = line
	}
	y.count[at]++
	y.total++
}

// newestYear is the last year in which more than a slip's worth of the dates
// lie; 0 without dates.
func (c *column) newestYear() int {
	if c.years == nil {
		return 0
	}
	least := 1 + c.years.total/200
	for at := yearRange - 1; at >= 0; at-- {
		if c.years.count[at] >= least {
			return firstYear + at
		}
	}
	return 0
}

// How far before the newest year of the file a date must lie to be one of birth,
// and which share of a column's dates must, for the column to be refused. A date
// column of an export table may hold an old complaint or a slip.
const (
	adult, adultShare       = 18, 0.25
	generation, datesLeast  = 25, 3
	generationShare         = 0.5
	freeShare               = 0.2 // different long texts among all long ones
	postcodeShare           = 0.5
	keyShare, keysLeast     = 0.9, 5
	nameShare, namesLeast   = 0.3, 3
	shapeShare, shapesLeast = 0.6, 5
)

// judge looks at a column as a whole. newest is the newest year of the file.
func (c *column) judge(newest int) (kind Kind, line int) {
	if c.own {
		return "", 0
	}
	if line := c.birthLine(newest); line > 0 {
		return Birth, line
	}
	if n := len(c.long.texts); n > 0 && (len(c.long.texts) == sampled || float64(n) > freeShare*float64(c.longs)) {
		return FreeText, c.long.lines[0]
	}
	all := len(c.sample.texts)
	if all == 0 {
		return "", 0
	}
	enough := func(is func(string) bool, share float64, least int) bool {
		var n int
		n, line = c.sample.matches(is)
		return n >= least && float64(n) >= share*float64(all)
	}
	if c.form != asCode && enough(isPostcode, postcodeShare, 1) {
		return Postcode, line
	}
	if kind, line := c.numbered(newest); kind != "" {
		return kind, line
	}
	if !c.things {
		if enough(holdsListedName, nameShare, namesLeast) || (c.form != asKey && enough(hasShapeOfName, shapeShare, shapesLeast)) {
			return Name, line
		}
	}
	return "", 0
}

// numbered finds numbers of persons that only a whole column gives away: one
// pseudonym in eleven has a right check digit by chance, but not all of them.
func (c *column) numbered(newest int) (Kind, int) {
	all := len(c.sample.texts)
	for _, n := range numbers {
		count, line := c.sample.matches(func(text string) bool { return n.is(text, newest) })
		if count >= n.least && float64(count) >= keyShare*float64(all) {
			return n.kind, line
		}
	}
	return "", 0
}

// birthLine is the line of the first date that makes the column one of birth
// dates; 0 when it is none.
func (c *column) birthLine(newest int) int {
	if c.years == nil || newest == 0 {
		return 0
	}
	before, share, least := adult, adultShare, 1
	if c.canonical {
		before, share, least = generation, generationShare, datesLeast
	}
	old, line := 0, 0
	for at := 0; at <= newest-before-firstYear; at++ {
		if n := c.years.count[at]; n > 0 {
			old += n
			if line == 0 || c.years.line[at] < line {
				line = c.years.line[at]
			}
		}
	}
	if old >= least && float64(old) >= share*float64(c.years.total) {
		return line
	}
	return 0
}
