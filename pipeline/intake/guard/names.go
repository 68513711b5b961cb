package guard

import (
	_ "embed"
	"strings"
	"unicode"

	"evenlimb/seeds/reference"
)

//go:embed given.txt
var givenText string

//go:embed family.txt
var familyText string

//go:embed domain.txt
var domainText string

var (
	given  = listed(givenText)
	family = listed(familyText)
	domain = domainWords()
)

// listed reads a word list; lines that begin with # are remarks.
func listed(text string) map[string]bool {
	set := map[string]bool{}
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "#") {
			for _, word := range strings.Fields(line) {
				set[word] = true
			}
		}
	}
	return set
}

// domainWords are the listed words of the trade and all words of the codes and
// labels of the code tables.
func domainWords() map[string]bool {
	set := listed(domainText)
	for _, t := range reference.Tables() {
		for _, code := range reference.Codes(t.Name) {
			for _, word := range fold(code + " " + reference.Label(t.Name, code)) {
				set[word] = true
			}
		}
	}
	for word := range things {
		set[word] = true
	}
	return set
}

// particles stand between the parts of a name.
var particles = wordSet("von van de der den del della di da dos la le el al bin ibn ter ten zu zur zum y und und van't")

// nameParts takes a text apart that may be a name: two to five words of letters,
// folded, particles left out. shaped says that each begins with a capital.
func nameParts(text string) (parts []string, shaped bool) {
	if len(text) > longText {
		return nil, false
	}
	shaped = true
	for _, word := range strings.FieldsFunc(text, func(r rune) bool {
		return r == ' ' || r == ',' || r == '.' || r == '_' || r == '-' || r == ';' || (r >= '0' && r <= '9')
	}) {
		var folded strings.Builder
		for i, r := range word {
			switch {
			case unicode.IsLetter(r):
				folded.WriteString(plainLetter(unicode.ToLower(r)))
			case r != '\'' && r != '’':
				return nil, false
			}
			if i == 0 && !unicode.IsUpper(r) && !particles[word] {
				shaped = false
			}
		}
		if part := folded.String(); !particles[part] {
			parts = append(parts, part)
		}
	}
	return parts, shaped
}

// count says how many of the words are listed as given and as family names,
// and whether one is a word of the trade.
func count(parts []string) (givens, families int, ours bool) {
	for _, p := range parts {
		switch {
		case given[p]:
			givens++
		case family[p]:
			families++
		case domain[p]:
			ours = true
		}
	}
	return givens, families, ours
}

// isListedName says whether a text is a person's name: a listed given name with
// a listed family name, or one of them beside other words with capitals of which
// none is of the trade.
func isListedName(text string) bool {
	parts, shaped := nameParts(text)
	if len(parts) < 2 || len(parts) > 5 {
		return false
	}
	givens, families, ours := count(parts)
	switch {
	case ours:
		return false
	case givens > 0 && givens+families >= 2:
		return true
	case givens+families > 0:
		return shaped && len(parts) <= 3
	default:
		return false
	}
}

// holdsListedName says whether any word of a text is a listed name.
func holdsListedName(text string) bool {
	parts, _ := nameParts(text)
	givens, families, ours := count(parts)
	return givens+families > 0 && !ours
}

// hasShapeOfName says whether a text is two or three words with capitals, none
// of the trade, as names are that no list knows.
func hasShapeOfName(text string) bool {
	if strings.ContainsAny(text, "0123456789") {
		return false
	}
	parts, shaped := nameParts(text)
	_, _, ours := count(parts)
	return shaped && !ours && len(parts) >= 2 && len(parts) <= 3 && shortest(parts) >= 2
}

func shortest(parts []string) int {
	least := len(parts[0])
	for _, p := range parts {
		least = min(least, len(p))
	}
	return least
}
