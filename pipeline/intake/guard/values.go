package guard

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// place is what is known about where a value stands.
type place struct {
	things bool // in a column of codes or things: no persons are named there
	key    bool // in a column of keys
}

// valueKind says what a single value gives away by itself; empty when nothing.
func valueKind(text string, at place) Kind {
	text = strings.TrimSpace(text)
	if len(text) < 4 {
		return ""
	}
	hasDigit, hasLetter, hasAt, hasHigh := traits(text)
	switch {
	case hasAt && email.MatchString(text):
		return Email
	case hasLetter && web.MatchString(text):
		return Web
	}
	if hasDigit {
		if kind := singleNumber(text, hasLetter); kind != "" {
			return kind
		}
		if holdsPhone(text, at.key) {
			return Phone
		}
	}
	if !hasLetter && !hasHigh {
		return ""
	}
	switch {
	case hasDigit && address.MatchString(text):
		return Address
	case hasDigit && born.MatchString(text):
		return Birth
	case !at.things && titled.MatchString(text):
		return Name
	case !at.things && isListedName(text):
		return Name
	default:
		return ""
	}
}

func traits(text string) (hasDigit, hasLetter, hasAt, hasHigh bool) {
	mask := byte(0)
	for i := range len(text) {
		c := text[i]
		mask |= class[c]
		hasAt = hasAt || c == '@'
		hasHigh = hasHigh || c >= utf8.RuneSelf
	}
	return mask&digit != 0, mask&(lower|upper) != 0, hasAt, hasHigh
}

var (
	email = regexp.MustCompile(`[\pL\d._%+'-]@[\pL\d-]+(\.[\pL\d-]+)*\.\pL{2,}`)
	web   = regexp.MustCompile(`(?i)\b(https?://|www\.)\pL`)

	// A street with a number behind or before it.
	address = regexp.MustCompile(`(?i)\b\d{1,4}[a-z]?,? ([\pL'.]+ ){1,3}(street|st|road|rd|lane|ln|avenue|ave|drive|close|court|crescent|terrace|gardens|grove|way|place|square|boulevard|blvd)\b\.?` +
		`|\pL*(stra(ß|ss)e|str\.|gasse|weg|allee|platz|ufer|damm|straat|laan|plein|gracht|dijk|kade) \d{1,4}\b` +
		`|\b\d{1,4}( ?(bis|ter))?,? (rue|avenue|av\.|boulevard|bd|chemin|allée|impasse|quai|place|route) \pL` +
		`|\b(calle|c/|avenida|avda\.?|paseo|plaza|carrer|camino|ronda) [\pL' .]+,? ?(n[º°.]+ ?)?\d{1,4}\b` +
		`|\b(p\.? ?o\.? box|postfach|apartado|postbus) \d`)

	// A birth date said in words.
	born = regexp.MustCompile(`(?i)(\b(born|dob|d\.o\.b\.|date of birth|geb\.?|geboren|geburtsdatum|née?|né\(e\)|nacid[oa]|geboortedatum)\b|(^|\s)\*\s?)\W{0,3}((le|el|am|on|op|in)\s)?\d`)

	// A title with a capital behind it.
	titled = regexp.MustCompile(`(^|[\s(,;])((Mr|Mrs|Ms|Miss|Dr|Prof|Mme|Mlle|Sr|Sra|Srta|Dhr|Mevr|Mw|Fr|Hr)\.?|Herr|Herrn|Frau|Madame|Monsieur|M\.|Señora?|Don|Doña|Mevrouw|Meneer) (Dr\.? )?\p{Lu}[\pL'’-]+`)
)

// longText is how many bytes a text may have before it is long.
const longText = 60

// isLong says whether a text is long enough to tell about a person: more than a
// line's worth of words.
func isLong(text string) bool {
	words, letters := 0, 0
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) }) {
		words++
		for _, r := range word {
			if unicode.IsLetter(r) {
				letters++
			}
		}
	}
	return words >= 6 && letters*2 > len(text)
}

// dateShape takes apart dates such as 3.5.1961, 03/05/61 and 1961-05-03, with or
// without a time behind them.
var dateShape = regexp.MustCompile(`^(?:(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})|(\d{1,2})[-/. ](\d{1,2}|\pL{3,9}\.?)[-/. ](\d{4}|\d{2}))(?:[T ]\d{1,2}:\d{2}.*)?$`)

// yearOf is the year of a date in any of the usual spellings, and 0 for a text
// that is no date. Of two digits, those above the present century's youth mean
// the last century.
func yearOf(text string) int {
	if len(text) < 6 || len(text) > 30 || class[text[0]] != digit {
		return 0
	}
	m := dateShape.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	year, err := strconv.Atoi(m[1] + m[6])
	if err != nil {
		return 0
	}
	if len(m[6]) == 2 {
		const youth = 30
		if year += 2000; year >= 2000+youth {
			year -= 100
		}
	}
	return year
}

// overEightyNine says whether an age or a band of ages says more than that
// somebody is over 89.
func overEightyNine(text string) bool {
	if text == "90+" || text == ">89" || text == ">=90" || text == "≥90" {
		return false
	}
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r < '0' || r > '9' }) {
		if n, err := strconv.Atoi(part); err == nil && n > 89 && n < 130 {
			return true
		}
	}
	return false
}
