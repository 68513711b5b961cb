package propose

import (
	"math"
	"strings"
	"unicode"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/settings/notation"
)

// alike are words that headings and the names of columns use for the same.
var alike = map[string]string{
	"no": "id", "nr": "id", "number": "id", "num": "id", "code": "id", "key": "id", "ref": "id", "#": "id",
	"on": "date", "day": "date", "dated": "date",
	"repetitions": "reps", "repetition": "rep", "why": "reason", "because": "reason", "cause": "reason",
	"branch": "site", "clinic": "site", "location": "site", "practice": "site",
	"diagnosis": "injury", "therapist": "clinician", "bp": "pressure", "length": "minutes", "duration": "minutes",
	"status": "state", "kind": "type", "sex": "sex", "gender": "sex", "maximum": "1rm", "max": "1rm",
	"weight": "load", "rpe": "effort", "precision": "precision", "exact": "precision", "followup": "contact",
	"visit": "session", "appointment": "session", "case": "episode", "client": "person", "patient": "person",
	"record": "row", "repeat": "recurrence", "where": "setting",
	"percent": "%", "pct": "%", "percentage": "%", "fraction": "%", "share": "%",
}

// small words say little by themselves.
var small = map[string]bool{"of": true, "the": true, "a": true, "an": true, "to": true, "in": true, "for": true, "and": true, "by": true}

// words takes a heading apart into words of small letters: loadPercent1rm,
// LOAD_PERCENT_1RM and "load percent 1rm" are the same.
func words(heading string) []string {
	var list []string
	var word strings.Builder
	letters := 0 // of the word so far
	end := func() {
		letters = 0
		if word.Len() > 0 {
			list = append(list, word.String())
			word.Reset()
		}
	}
	lower := false
	for _, r := range heading {
		switch {
		case r == '#' || r == '%':
			end()
			list = append(list, string(r))
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			end()
		default:
			if unicode.IsUpper(r) && lower || unicode.IsDigit(r) && letters > 2 {
				end()
			}
			if unicode.IsLetter(r) {
				letters++
			}
			word.WriteRune(unicode.ToLower(r))
		}
		lower = unicode.IsLower(r)
	}
	end()
	return list
}

// heading is what a heading says: its words and the unit in it.
func readHeading(text string) (list []string, unit string) {
	bare := text
	for _, brackets := range [...][2]string{{"(", ")"}, {"[", "]"}, {",", ""}, {"–", ""}, {"/", ""}} {
		before, rest, found := strings.Cut(bare, brackets[0])
		if !found {
			continue
		}
		inside, after := rest, ""
		if brackets[1] != "" {
			inside, after, _ = strings.Cut(rest, brackets[1])
		}
		if name, ok := unitNamed(strings.TrimSpace(inside)); ok {
			unit, bare = name, before+" "+after
		} else if brackets[1] == ")" && strings.Trim(inside, "0123456789-–. ") == "" {
			bare = before + " " + after // a range: it says nothing about the column
		}
	}
	list = words(bare)
	if n := len(list); unit == "" && n > 1 {
		if name, ok := unitNamed(list[n-1]); ok && list[n-1] != "min" {
			unit = name
		}
	}
	return list, unit
}

// otherUnits are names of units that people write and notation does not.
var otherUnits = map[string]string{
	"inch": "in", "inches": "in", "lbs": "lb", "pounds": "lb", "kilograms": "kg", "kilogram": "kg", "kpa": "kPa", "mmhg": "mmHg", "mm hg": "mmHg",
	"newton": "N", "newtons": "N", "sec": "s", "secs": "s", "seconds": "s", "minutes": "min", "mins": "min", "hours": "h", "percent": "%", "centimetres": "cm", "millimetres": "mm",
}

func unitNamed(text string) (string, bool) {
	if text == "" {
		return "", false
	}
	if name, ok := otherUnits[strings.ToLower(text)]; ok {
		return name, true
	}
	for _, name := range notation.UnitNames() {
		if strings.EqualFold(name, text) && (len(text) > 1 || name == text) {
			return name, true
		}
	}
	return "", false
}

// names are the names of a table's columns as words, and how much each word
// tells them apart.
type names struct {
	columns [][]string
	about   []map[string]bool
	weight  map[string]float64
}

func newNames(t export.Table) *names {
	n := &names{weight: map[string]float64{}}
	count := map[string]int{}
	add := func(name, about string) {
		list := meant(words(name))
		n.columns = append(n.columns, list)
		for _, w := range list {
			count[w]++
		}
		said := map[string]bool{}
		for _, w := range meant(words(about)) {
			said[w] = true
		}
		n.about = append(n.about, said)
	}
	for _, c := range t.Columns {
		add(c.Name, c.About)
	}
	add(export.RowState, "taken back withdrawn void")
	for w, many := range count {
		n.weight[w] = 1 / (1 + math.Log2(float64(many)))
	}
	n.weight["id"], n.weight["date"] = 0.25, 0.35
	for w := range count {
		if _, unit := unitNamed(w); unit {
			n.weight[w] = 0.15
		}
	}
	return n
}

// meant replaces words by those that mean the same.
func meant(list []string) []string {
	var out []string
	for _, w := range list {
		if same, ok := alike[w]; ok {
			w = same
		}
		if !small[w] {
			out = append(out, w)
		}
	}
	return out
}

// like says how well a heading's words fit the name of a column: 1 for the same.
func (n *names) like(heading []string, column int) float64 {
	mine, theirs := meant(heading), n.columns[column]
	if len(mine) == 0 {
		return 0
	}
	shared, all := 0.0, 0.0
	found := map[int]bool{}
	for _, w := range mine {
		best, at := 0.0, -1
		for i, other := range theirs {
			if s := similar(w, other); s > best && !found[i] {
				best, at = s, i
			}
		}
		weight := n.weightOf(w)
		if at >= 0 {
			found[at] = true
			weight = n.weightOf(theirs[at])
		} else if n.about[column][w] {
			best = 0.45
		}
		shared += best * weight
		all += weight
	}
	for i, other := range theirs {
		if !found[i] {
			all += n.weightOf(other)
		}
	}
	if all == 0 {
		return 0
	}
	whole := similar(strings.Join(heading, ""), strings.Join(n.columns[column], ""))
	return max(shared/all, whole*whole)
}

func (n *names) weightOf(word string) float64 {
	if w, ok := n.weight[word]; ok {
		return w
	}
	if _, unit := unitNamed(word); unit {
		return 0.15
	}
	return 0.7
}

// similar says how alike two words are by their spelling.
func similar(a, b string) float64 {
	if a == b {
		return 1
	}
	short, long := min(len(a), len(b)), max(len(a), len(b))
	if short < 3 {
		return 0
	}
	if strings.HasPrefix(a, b) || strings.HasPrefix(b, a) {
		return 0.6 + 0.4*float64(short)/float64(long)
	}
	if far := float64(settings.Distance(a, b)) / float64(long); far <= 0.34 {
		return 1 - far
	}
	return 0
}
