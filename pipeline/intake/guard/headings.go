package guard

import (
	_ "embed"
	"slices"
	"strings"
	"unicode"
)

// phrase is a heading, or part of one, that names an identifier. A loose one
// does so only where no word beside it names a thing: "name" but not "exercise
// name".
type phrase struct {
	words []string
	kind  Kind
	loose bool
}

//go:embed headings.txt
var headingsText string

//go:embed things.txt
var thingsText string

var (
	phrases = parsePhrases(headingsText)
	things  = listed(thingsText)
)

// sections of headings.txt and the kinds they are of.
var sections = map[string]Kind{
	"name": Name, "birth": Birth, "email": Email, "phone": Phone, "address": Address, "postcode": Postcode, "record": Record,
	"insurance": Insurance, "national": National, "licence": Licence, "account": Account, "web": Web,
}

// keyWords end the headings of keys and references.
var keyWords = wordSet(`id ids key keys ref reference pseudonym identifier uid uuid guid token no nr nummer number kennung schlussel kurzel cle identifiant clave identificador numero sleutel kenmerk`)

var ageWords = wordSet(`age ages alter lebensalter edad leeftijd ageyears`)

func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, word := range strings.Fields(list) {
		set[word] = true
	}
	return set
}

func parsePhrases(text string) []phrase {
	var all []phrase
	kind := Kind("")
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || strings.HasPrefix(line, "#"):
		case strings.HasPrefix(line, "["):
			kind = sections[strings.Trim(line, "[]")]
		default:
			for one := range strings.SplitSeq(line, ",") {
				one = strings.TrimSpace(one)
				bare := strings.TrimSuffix(one, "?")
				all = append(all, phrase{words: strings.Fields(bare), kind: kind, loose: bare != one})
			}
		}
	}
	// The longest phrase names what is meant best: "postal code" before "code".
	slices.SortFunc(all, func(a, b phrase) int {
		if len(a.words) != len(b.words) {
			return len(b.words) - len(a.words)
		}
		return strings.Compare(strings.Join(a.words, " "), strings.Join(b.words, " "))
	})
	return all
}

// headingKind says what a heading, given as folded words, names; empty when it
// names no identifier.
func headingKind(words []string, more []phrase) Kind {
	for _, list := range [][]phrase{more, phrases} {
		for _, p := range list {
			if at := indexOf(words, p.words); at >= 0 && (!p.loose || !besideThing(words, at, len(p.words))) {
				return p.kind
			}
		}
	}
	return ""
}

func indexOf(words, part []string) int {
	for i := 0; i+len(part) <= len(words); i++ {
		if slices.Equal(words[i:i+len(part)], part) {
			return i
		}
	}
	return -1
}

func besideThing(words []string, at, length int) bool {
	for i, w := range words {
		if (i < at || i >= at+length) && things[w] {
			return true
		}
	}
	return false
}

func namesThings(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return things[w] })
}

func namesKeys(words []string) bool { return len(words) > 0 && keyWords[words[len(words)-1]] }

func namesAges(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return ageWords[w] })
}

// fold takes a heading apart into words of small letters without accents.
// firstName, FIRST_NAME and first-name are the same.
func fold(heading string) []string {
	var words []string
	var word strings.Builder
	end := func() {
		if word.Len() > 0 {
			words = append(words, word.String())
			word.Reset()
		}
	}
	wasLower := false
	for _, r := range heading {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			if !unicode.Is(unicode.Mn, r) { // accents written apart from their letters
				end()
			}
			wasLower = false
			continue
		}
		if unicode.IsUpper(r) && wasLower {
			end()
		}
		wasLower = unicode.IsLower(r)
		word.WriteString(plainLetter(unicode.ToLower(r)))
	}
	end()
	return words
}

// plainLetter takes away a letter's accent.
func plainLetter(r rune) string {
	if r < 0x80 {
		return string(r)
	}
	const accented = "àáâãäåèéêëìíîïòóôõöøùúûüýÿçñ"
	const bare = "aaaaaaeeeeiiiioooooouuuuyycn"
	if at := strings.IndexRune(accented, r); at >= 0 {
		return bare[at/2 : at/2+1] // every accented letter above has two bytes
	}
	switch r {
	case 'ß':
		return "ss"
	case 'æ':
		return "ae"
	case 'œ':
		return "oe"
	default:
		return string(r)
	}
}
