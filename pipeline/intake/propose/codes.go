package propose

import (
	"slices"
	"strings"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
	"evenlimb/seeds/reference"
)

// known are the codes of a column and the words for them.
type known struct {
	codes   []string
	labels  map[string]string // by code; empty where there are none
	several bool
}

// known returns the codes that a column may hold.
func (m matcher) known(c export.Column) known {
	k := known{labels: map[string]string{}, several: c.Type == export.CodeSet}
	switch {
	case c.Type == export.Boolean:
		k.codes = []string{"true", "false"}
	case c.From == "":
		k.codes = c.Codes
	case c.From == "sites" || c.From == "plan_codes":
		if m.practice == nil {
			return k
		}
		if c.From == "sites" {
			for _, s := range m.practice.Sites {
				if slices.Contains(m.practice.SitesOf(m.sender), s.Code) {
					k.codes, k.labels[s.Code] = append(k.codes, s.Code), s.Label
				}
			}
			return k
		}
		for _, w := range m.practice.Ways {
			k.codes, k.labels[w.Code] = append(k.codes, w.Code), w.Label
		}
	default:
		k.codes = reference.Codes(c.From)
		for _, code := range k.codes {
			k.labels[code] = reference.Label(c.From, code)
		}
	}
	return k
}

// yesNo are words for true and false.
var yesNo = map[string]string{
	"true": "true", "yes": "true", "y": "true", "t": "true", "1": "true", "x": "true",
	"false": "false", "no": "false", "n": "false", "f": "false", "0": "false",
}

func yesOrNo(p *profile) bool {
	for _, word := range p.distinct[:min(len(p.distinct), 4)] {
		if yesNo[strings.ToLower(word)] == "" {
			return false
		}
	}
	return len(p.distinct) > 0 && len(p.distinct) <= 5
}

// find returns the code that a word seems to stand for and why; exactly says
// that it is written as the code itself.
func (k known) find(word string) (code, why string, exactly bool) {
	if slices.Contains(k.codes, word) {
		return word, "", true
	}
	if slices.Contains(k.codes, "true") {
		if code := yesNo[strings.ToLower(word)]; code != "" {
			return code, "a usual word for it", false
		}
	}
	plain := strings.Join(words(word), " ")
	begins := ""
	many := 0
	for _, code := range k.codes {
		name := strings.Join(words(code), " ")
		label := strings.Join(words(k.labels[code]), " ")
		switch {
		case plain == name:
			return code, "the same but for its spelling", false
		case plain != "" && plain == label:
			return code, "its label", false
		case plain != "" && strings.HasPrefix(name, plain):
			begins, many = code, many+1
		}
	}
	if many == 1 {
		return begins, "it begins so", false
	}
	if sides := map[string]string{"l": "left", "r": "right", "l+r": "bilateral", "both": "bilateral", "l/r": "bilateral"}; slices.Contains(k.codes, sides[strings.ToLower(word)]) {
		return sides[strings.ToLower(word)], "a usual word for it", false
	}
	if near := settings.Near(plain, k.codes); near != "" && len(plain) > 3 {
		return near, "spelled like it", false
	}
	return "", "", false
}

// mostCodes is how many words a column of codes may hold at most.
const mostCodes = 60

// codesFor lists the words under a heading that are no codes themselves, and
// what they seem to stand for.
func codesFor(k known, p *profile) []Code {
	var list []Code
	for _, word := range k.wordsOf(p) {
		if len(list) == mostCodes {
			break
		}
		if code, why, exactly := k.find(word); !exactly {
			list = append(list, Code{word, code, why})
		}
	}
	return list
}

func (k known) wordsOf(p *profile) []string {
	if !k.several {
		return p.distinct
	}
	var list []string
	for _, text := range p.distinct {
		for word := range strings.SplitSeq(text, ";") {
			if !slices.Contains(list, word) {
				list = append(list, word)
			}
		}
	}
	return list
}

// codesFit says how well words fit the codes of a column.
func (m matcher) codesFit(c export.Column, p *profile) (float64, string) {
	k := m.known(c)
	list := k.wordsOf(p)
	if len(k.codes) == 0 {
		if len(list) > 20 || p.share(p.dates) > 0.5 || p.share(len(p.numbers)) > 0.5 {
			return -1, ""
		}
		return 0, ""
	}
	if p.share(p.dates) > 0.5 || p.share(len(p.numbers)) > 0.5 || len(list) > 2*len(k.codes)+10 {
		return -1, ""
	}
	cells, fit, exact := 0, 0, 0
	for _, word := range list {
		n := max(1, p.count[word])
		cells += n
		switch code, why, exactly := k.find(word); {
		case exactly:
			exact += n
			fit += n
		case code != "" && why != "spelled like it":
			fit += n
		}
	}
	switch share := float64(fit) / float64(cells); {
	case exact*10 > cells*9:
		return 1, "its codes"
	case share > 0.9:
		return 0.9, "words for its codes"
	case share > 0.4:
		return 0.3, "some are its codes"
	case len(list) <= len(k.codes)+2:
		return -0.2, "words that are not its codes"
	default:
		return -0.8, ""
	}
}
