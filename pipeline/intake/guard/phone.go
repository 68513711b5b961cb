package guard

import (
	"regexp"
	"strings"
)

var (
	// What may be a phone number inside a text.
	dialled = regexp.MustCompile(`(?:\+|\(\+?)?\d[\d ()/.–-]{5,}\d`)

	// Digits in groups of three, three and four.
	threeThreeFour = regexp.MustCompile(`^\(?\d{3}\)?[ .-]{1,2}\d{3}[ .-]\d{4}$`)

	// Things that are written with the same letters.
	notDialled = regexp.MustCompile(`^-?\d+[.,]\d+$|^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|^\d{4}-\d{2}-\d{2}|^\d{1,3}(/\d{1,3})+$`)
)

// holdsPhone says whether a phone number stands in a text. In a column of keys
// digits without blanks or a plus are left to the column as a whole.
func holdsPhone(text string, key bool) bool {
	for _, part := range dialled.FindAllString(text, -1) {
		part = strings.TrimSpace(part)
		if notDialled.MatchString(part) {
			continue
		}
		if key && !strings.ContainsAny(part, "+( /") {
			continue
		}
		if isPhone(part) {
			return true
		}
	}
	return false
}

// isPhone says whether a text of digits and joints is dialled: with a country
// before it, with the one zero of a long-distance call, or in the groups of
// North America.
func isPhone(text string) bool {
	bare := digitsOf(text)
	switch {
	case strings.HasPrefix(text, "+") || strings.HasPrefix(text, "(+"):
		return len(bare) >= 9 && len(bare) <= 15
	case strings.HasPrefix(bare, "00"):
		return len(bare) >= 11 && len(bare) <= 16 && bare[2] != '0' && bare != text
	case strings.HasPrefix(bare, "0"):
		return len(bare) >= 9 && len(bare) <= 12 && (bare != text || len(bare) >= 10)
	default:
		return threeThreeFour.MatchString(text) || spanishGroups.MatchString(text)
	}
}

// spanishGroups are nine digits from 6 to 9 on, as they are written in Spain.
var spanishGroups = regexp.MustCompile(`^[6-9]\d{2} \d{3} \d{3}$|^[6-9]\d{2} \d{2} \d{2} \d{2}$`)

func digitsOf(text string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, text)
}
