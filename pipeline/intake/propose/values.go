package propose

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings/notation"
)

// profile is what is known of the cells under one heading.
type profile struct {
	heading  string
	words    []string
	unit     string // named in the heading
	texts    []string
	distinct []string // the most frequent first
	count    map[string]int
	numbers  []float64 // of the cells that are numbers
	dates    int       // cells that are dates
}

// examples are a few cells to show. A draft is kept and passed on, so keys, and
// texts that hardly come twice, show their shape alone.
func (p *profile) examples() []string {
	list := slices.Clone(p.distinct[:min(len(p.distinct), 4)])
	if p.share(len(p.numbers)) > 0.8 || p.share(p.dates) > 0.8 || len(p.distinct) <= mostCodes && len(p.texts) >= 2*len(p.distinct) {
		return list
	}
	return shapes(list)
}

// shapes writes x for letters and 0 for digits.
func shapes(list []string) []string {
	var out []string
	for _, text := range list {
		shape := strings.Map(func(r rune) rune {
			switch {
			case unicode.IsLetter(r):
				return 'x'
			case unicode.IsDigit(r):
				return '0'
			default:
				return r
			}
		}, text)
		if !slices.Contains(out, shape) {
			out = append(out, shape)
		}
	}
	return out
}

func (p *profile) share(n int) float64 {
	if len(p.texts) == 0 {
		return 0
	}
	return float64(n) / float64(len(p.texts))
}

// veto is the value below which cells speak against a column whatever the
// heading says.
const veto = -0.99

// values says how well the cells under a heading fit a column: 1 for well, -1
// for not at all, 0 where they say nothing.
func (m matcher) values(c export.Column, p *profile) (score float64, why string) {
	if len(p.texts) == 0 {
		return 0, "no cell is filled"
	}
	switch c.Type {
	case export.Date:
		if p.share(p.dates) > 0.8 {
			return 1, "dates"
		}
		return -1, ""
	case export.Integer, export.Decimal:
		return m.numbersFit(c, p)
	case export.Boolean:
		if len(p.distinct) <= 4 && len(codesFor(m.known(c), p)) == 0 || yesOrNo(p) {
			return 0.8, "yes or no"
		}
		return -1, ""
	case export.Code, export.CodeSet:
		return m.codesFit(c, p)
	case export.Reps:
		if p.share(countIf(p.texts, repsLike.MatchString)) > 0.8 {
			return 1, "repetitions by set"
		}
		return -1, ""
	case export.Key:
		return m.keysFit(c, p)
	default:
		if p.share(len(p.numbers)) > 0.8 || p.share(p.dates) > 0.8 {
			return -0.5, ""
		}
		return 0, ""
	}
}

var repsLike = regexp.MustCompile(`^\d{1,3}(/\d{1,3})*$`)

func countIf(list []string, is func(string) bool) int {
	n := 0
	for _, one := range list {
		if is(one) {
			n++
		}
	}
	return n
}

func (m matcher) keysFit(c export.Column, p *profile) (float64, string) {
	if p.share(p.dates) > 0.5 || p.share(countIf(p.texts, func(s string) bool { return strings.Contains(s, " ") })) > 0.2 {
		return -1, ""
	}
	once := float64(len(p.distinct)) / float64(len(p.texts))
	switch own := c.Name == m.def.Key[0] && len(m.def.Key) == 1; {
	case own && once > 0.97:
		return 0.8, "no value stands twice"
	case own:
		return -0.4, ""
	case len(p.distinct) > 1:
		return 0.3, "keys"
	default:
		return 0, ""
	}
}

// numbersFit holds the numbers against what is possible and what is usual for a
// column, in its own unit and in the one that the heading names.
func (m matcher) numbersFit(c export.Column, p *profile) (float64, string) {
	if p.share(len(p.numbers)) < 0.8 {
		return -1, ""
	}
	times := 1.0
	if unit := m.unit(c, p); unit != "" {
		times = convert(unit, c.Unit)
	}
	whole, possible, usual := 0, 0, 0
	for _, v := range p.numbers {
		if v == float64(int64(v)) {
			whole++
		}
		if c.Reject == nil || v*times >= c.Reject.Low-0.01 && v*times <= c.Reject.High+0.01 {
			possible++
		}
		if c.Warn == nil || v*times >= c.Warn.Low-0.01 && v*times <= c.Warn.High+0.01 {
			usual++
		}
	}
	n := float64(len(p.numbers))
	switch {
	case float64(possible)/n < 0.8, c.Type == export.Integer && times == 1 && float64(whole)/n < 0.95:
		return -1, ""
	case float64(usual)/n < 0.5:
		return -0.2, "numbers that are possible and unusual"
	default:
		return 0.6, "numbers in its range"
	}
}

// unit names the unit of a column of numbers where it is another than its own.
func (m matcher) unit(c export.Column, p *profile) string {
	own, ok := notation.FindUnit(c.Unit)
	if !ok {
		return ""
	}
	if named, ok := notation.FindUnit(p.unit); ok && named.Name != own.Name && named.Converts(own) {
		return named.Name
	}
	if own.Name == "%" && len(p.numbers) > 0 && slices.Max(p.numbers) <= 1.6 && slices.Max(p.numbers) > 0 {
		return "fraction"
	}
	return ""
}

// convert is how many of one unit go into one of another.
func convert(from, to string) float64 {
	a, _ := notation.FindUnit(from)
	b, _ := notation.FindUnit(to)
	text, err := a.Convert("1000", b, 6)
	if err != nil {
		return 1
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 1
	}
	return v / 1000
}
