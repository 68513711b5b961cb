package propose

import (
	"regexp"
	"slices"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings/notation"
	"evenlimb/seeds/reference"
)

// pairsInOneCell are columns that people write into one cell.
var pairsInOneCell = [][2]string{{"systolic_mmhg", "diastolic_mmhg"}, {"sets", "reps"}, {"applied_pressure_mmhg", "occlusion_pressure_mmhg"}}

var twoNumbers = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)?\s*([/x×])\s*(\d+(?:[.,]\d+)?)?$`)

// joined finds two columns whose numbers stand in one cell, such as 134/83.
func (m matcher) joined(p *profile) ([]Column, bool) {
	sign := ""
	parts := [2][]float64{}
	for _, text := range p.texts {
		found := twoNumbers.FindStringSubmatch(text)
		if found == nil || sign != "" && found[2] != sign {
			return nil, false
		}
		sign = found[2]
		for i, one := range []string{found[1], found[3]} {
			if v, ok := m.number(one); ok {
				parts[i] = append(parts[i], v)
			}
		}
	}
	if len(p.texts) < 3 {
		return nil, false
	}
	for _, names := range pairsInOneCell {
		first, ok := m.def.Column(names[0])
		second, ok2 := m.def.Column(names[1])
		if !ok || !ok2 || !m.speaksOf(p, names) || !inRange(first, parts[0]) || !inRange(second, parts[1]) {
			continue
		}
		why := "two numbers in a cell, each in the range of its column, and the heading speaks of them"
		return []Column{
			{Heading: p.heading, Examples: p.examples(), Column: names[0], Why: why, Split: sign, Take: 1},
			{Heading: p.heading, Examples: p.examples(), Column: names[1], Why: why, Split: sign, Take: 2},
		}, true
	}
	return nil, false
}

// speaksOf says whether a heading names one of two columns, or the unit of both.
func (m matcher) speaksOf(p *profile, names [2]string) bool {
	said := meant(p.words)
	for _, name := range names {
		for _, w := range meant(words(name)) {
			if _, unit := unitNamed(w); !unit && slices.Contains(said, w) {
				return true
			}
		}
	}
	return names[0] == "systolic_mmhg" && slices.Contains(said, "pressure")
}

func inRange(c export.Column, numbers []float64) bool {
	for _, v := range numbers {
		if c.Reject != nil && (v < c.Reject.Low || v > c.Reject.High) {
			return false
		}
	}
	return len(numbers) > 0
}

// measureWords are the words of one measure, by its code and by its label.
type measureWords struct {
	code  string
	names [][]string
	sided bool
	unit  string
}

func measureNames() []measureWords {
	var all []measureWords
	for _, code := range reference.Codes("measures") {
		kind, _ := reference.Cell("measures", code, "kind")
		unit, _ := reference.Cell("measures", code, "unit")
		name := words(code)
		if kind == "strength" { // a form says force where a code says strength
			name = append(slices.Clone(name[1:]), "force")
		}
		all = append(all, measureWords{code, [][]string{words(code), words(reference.Label("measures", code)), name}, kind != "score" && kind != "body" && kind != "pain", unit})
	}
	return all
}

// ofLimb takes the side and the trial from the end of a heading: L, R2, left.
var ofLimb = regexp.MustCompile(`^(l|r|left|right)(\d?)$`)

// wide finds a sheet with a heading for each measure and side.
func (m matcher) wide() (t Table, score float64) {
	t.Name = m.def.Name
	measures := measureNames()
	var rest []int
	for i, p := range m.columns {
		c, ok := m.measureOf(p, measures)
		if !ok {
			rest = append(rest, i)
			continue
		}
		t.Columns = append(t.Columns, c)
	}
	if len(t.Columns) < 3 {
		return Table{}, 0
	}
	wide := t.Columns
	t.Columns = nil
	found := map[int]bool{}
	for _, i := range rest {
		found[i] = true
	}
	taken, heading := map[int]bool{m.place("measure"): true, m.place("side"): true, m.place("value"): true, m.place("trial"): true}, map[int]bool{}
	for _, one := range m.pairs(found) {
		if heading[one.heading] || taken[one.column] {
			continue
		}
		heading[one.heading], taken[one.column] = true, true
		t.Columns = append(t.Columns, m.column(m.columns[one.heading], one))
		score += one.score
	}
	wideOnes := map[int]bool{}
	for i := range m.columns {
		wideOnes[i] = !found[i]
	}
	for _, one := range m.leftOver(func(i int) bool { return heading[i] || wideOnes[i] }, taken) {
		heading[one.heading], taken[one.column] = true, true
		t.Columns = append(t.Columns, m.column(m.columns[one.heading], one))
		score += one.score
	}
	for _, i := range rest {
		if !heading[i] {
			t.Unread = append(t.Unread, Column{Heading: m.columns[i].heading, Examples: m.columns[i].examples()})
		}
	}
	for i, c := range m.def.Columns {
		if c.Required && !taken[i] {
			t.Absent = append(t.Absent, c.Name)
			score -= 0.6
		}
	}
	t.Columns = append(t.Columns, wide...)
	return t, score + 0.8*float64(len(wide))
}

// measureOf finds the measure that a heading names.
func (m matcher) measureOf(p *profile, measures []measureWords) (Column, bool) {
	if len(p.texts) > 0 && p.share(len(p.numbers)) < 0.8 {
		return Column{}, false
	}
	list := slices.Clone(p.words)
	side, trial := "", ""
	for i, w := range list {
		if found := ofLimb.FindStringSubmatch(w); found != nil {
			side, trial = map[byte]string{'l': "left", 'r': "right"}[found[1][0]], found[2]
			list = slices.Delete(list, i, i+1)
			break
		}
	}
	if n := len(list); n > 1 {
		if _, unit := unitNamed(list[n-1]); unit && p.unit != "" {
			list = list[:n-1]
		}
	}
	best, second, at := 0.0, 0.0, -1
	for i, one := range measures {
		like := 0.0
		for _, name := range one.names {
			like = max(like, overlap(list, name))
		}
		switch {
		case like > best:
			best, second, at = like, best, i
		case like > second:
			second = like
		}
	}
	if at < 0 || best < 0.5 || best-second < 0.05 || measures[at].sided != (side != "") {
		return Column{}, false
	}
	if side == "" {
		side = "none"
	}
	c := Column{Heading: p.heading, Examples: p.examples(), Column: "value", Why: "names a measure" + map[bool]string{true: " and a side"}[side != "none"], Measure: measures[at].code, Side: side, Trial: trial}
	if own, ok := notation.FindUnit(measures[at].unit); ok {
		if named, ok := notation.FindUnit(p.unit); ok && named.Name != own.Name && named.Converts(own) {
			c.Unit = named.Name
		}
	}
	return c, true
}

// overlap is the share of words that two names have in common.
func overlap(a, b []string) float64 {
	shared := 0.0
	for _, w := range a {
		if w == "weight" {
			w = "mass"
		}
		best := 0.0
		for _, other := range b {
			best = max(best, similar(w, other))
			if w == other {
				best = 1
			}
		}
		shared += best
	}
	return 2 * shared / float64(len(a)+len(b))
}
