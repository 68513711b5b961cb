package guard

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

// ofPersons is a kind of number that a whole column gives away: nearly all of
// its values, and at least as many as it takes for chance to be no explanation,
// have its form and its check digit.
type ofPersons struct {
	kind  Kind
	least int
	is    func(text string, newest int) bool
}

var numbers = []ofPersons{
	{Phone, 3, func(text string, _ int) bool { return isKeyPhone(text) }},
	{National, keysLeast, func(text string, _ int) bool { return len(text) == 10 && weighedEleven(text) }},
	{National, keysLeast, func(text string, _ int) bool { return len(text) == 9 && elevenProof(text) }},
	{National, 3, func(text string, _ int) bool { return lettered.MatchString(text) && checkLetter(text) }},
	{National, keysLeast, func(text string, _ int) bool { return insuredUK.MatchString(text) }},
	{National, keysLeast, func(text string, _ int) bool { return len(text) == 11 && taxDigit(text) }},
	{Insurance, 3, func(text string, _ int) bool { return insured.MatchString(text) && insuredDigit(text) }},
	{Insurance, 3, func(text string, newest int) bool {
		return pensioned.MatchString(text) && validDay(text[2:8], "020106", newest)
	}},
	{Birth, keysLeast, holdsBirthDate},
	{Postcode, keysLeast, func(text string, _ int) bool { return closePostcode.MatchString(text) }},
}

var (
	lettered  = regexp.MustCompile(`^([XYZxyz]\d{7}|\d{8})-?[A-Za-z]$`)               // Spain: eight digits and a letter
	insuredUK = regexp.MustCompile(`^[A-CEGHJ-PR-TW-Z][A-CEGHJ-NPR-TW-Z]\d{6}[A-D]$`) // two letters, six digits, a letter
	insured   = regexp.MustCompile(`^[A-Z]\d{9}$`)                                    // Germany, health insurance
	pensioned = regexp.MustCompile(`^\d{8}[A-Z]\d{3}$`)                               // Germany, pension insurance

	socialUS  = regexp.MustCompile(`\b\d{3}-\d{2}-\d{4}\b`)
	swiss     = regexp.MustCompile(`\b756\.\d{4}\.\d{4}\.\d{2}\b`)
	spacedUK  = regexp.MustCompile(`\b[A-Z]{2} \d{2} \d{2} \d{2} [A-D]\b`)
	spacedNHS = regexp.MustCompile(`\b\d{3} \d{3} \d{4}\b`)
	french    = regexp.MustCompile(`\b[12] ?\d{2} ?\d{2} ?\d[\dABab] ?\d{3} ?\d{3} ?\d{2}\b`)
	banked    = regexp.MustCompile(`\b[A-Z]{2}\d{2} ?[A-Z\d]{4}[A-Z\d ]{7,28}\b`)
	driverUK  = regexp.MustCompile(`\b[A-Z9]{5}\d[0156]\d{4}[A-Z9]{2}[A-Z\d]{3}\b`)
)

// singleNumber finds the numbers that one value gives away.
func singleNumber(text string, hasLetter bool) Kind {
	switch {
	case socialUS.MatchString(text), swiss.MatchString(text), hasLetter && spacedUK.MatchString(text):
		return National
	case hasLetter && driverUK.MatchString(text):
		return Licence
	}
	if m := spacedNHS.FindString(text); m != "" && weighedEleven(digitsOf(m)) {
		return National
	}
	if m := french.FindString(text); m != "" && nirKey(strings.ReplaceAll(m, " ", "")) {
		return Insurance
	}
	if hasLetter {
		if m := banked.FindString(text); m != "" && ibanCheck(strings.ReplaceAll(m, " ", "")) {
			return Account
		}
	}
	return ""
}

// isKeyPhone says whether a key is a phone number without its blanks.
func isKeyPhone(text string) bool {
	return class[text[0]] == digit && classes(text)&^(digit|joint) == 0 && isPhone(text) && !notDialled.MatchString(text)
}

// weighedEleven is the check of ten digits of which the last makes their sum,
// weighed 10 to 1, a multiple of eleven.
func weighedEleven(text string) bool { return weighed(text, 1) }

// elevenProof is the check of nine digits weighed 9 to 2 and minus one.
func elevenProof(text string) bool { return weighed(text, -1) && text != "000000000" }

func weighed(text string, last int) bool {
	sum := 0
	for i := range len(text) {
		d := int(text[i] - '0')
		if d > 9 {
			return false
		}
		weight := len(text) - i
		if weight == 1 {
			weight = last
		}
		sum += weight * d
	}
	return sum%11 == 0
}

// checkLetter is the check of the letter behind eight digits: their rest by 23.
func checkLetter(text string) bool {
	text = strings.ToUpper(strings.ReplaceAll(text, "-", ""))
	if at := strings.IndexByte("XYZ", text[0]); at >= 0 {
		text = strconv.Itoa(at) + text[1:]
	}
	n, err := strconv.Atoi(text[:8])
	return err == nil && "TRWAGMYFPDXBNJZSQVHLCKE"[n%23] == text[8]
}

// taxDigit is the check of eleven digits by ISO 7064, MOD 11,10.
func taxDigit(text string) bool {
	product := 10
	for i := range len(text) - 1 {
		d := int(text[i] - '0')
		if d > 9 {
			return false
		}
		sum := (d + product) % 10
		if sum == 0 {
			sum = 10
		}
		product = sum * 2 % 11
	}
	return text[0] != '0' && int(text[len(text)-1]-'0') == (11-product)%10
}

// insuredDigit is the check of a letter, written as its place in the alphabet,
// and eight digits, weighed 1, 2, 1, 2 with the digits of each product summed.
func insuredDigit(text string) bool {
	place := int(text[0]-'A') + 1
	digits := strconv.Itoa(place/10) + strconv.Itoa(place%10) + text[1:9]
	sum := 0
	for i := range len(digits) {
		product := int(digits[i]-'0') * (1 + i%2)
		sum += product/10 + product%10
	}
	return sum%10 == int(text[9]-'0')
}

// nirKey is the check of thirteen digits and their key by 97.
func nirKey(text string) bool {
	text = strings.NewReplacer("2A", "19", "2a", "19", "2B", "18", "2b", "18").Replace(text)
	if len(text) != 15 {
		return false
	}
	n, err := strconv.ParseInt(text[:13], 10, 64)
	key, keyErr := strconv.ParseInt(text[13:], 10, 64)
	return err == nil && keyErr == nil && 97-n%97 == key
}

// ibanCheck is the check by 97 of ISO 13616.
func ibanCheck(text string) bool {
	if len(text) < 15 || len(text) > 34 {
		return false
	}
	rest := 0
	for _, c := range []byte(text[4:] + text[:4]) {
		switch {
		case c >= '0' && c <= '9':
			rest = (rest*10 + int(c-'0')) % 97
		case c >= 'A' && c <= 'Z':
			rest = (rest*100 + int(c-'A') + 10) % 97
		default:
			return false
		}
	}
	return rest == 1
}

var (
	eightDigits = regexp.MustCompile(`(?:^|\D)(\d{8})(?:\D|$)`)
	sixAndFour  = regexp.MustCompile(`^(\d{6})[-+]\d{4}$`)
)

// holdsBirthDate says whether a key holds a day that an adult of the file can
// have been born on.
func holdsBirthDate(text string, newest int) bool {
	if m := eightDigits.FindStringSubmatch(text); m != nil {
		return validDay(m[1], "20060102", newest) || validDay(m[1], "02012006", newest)
	}
	if m := sixAndFour.FindStringSubmatch(text); m != nil {
		return validDay(m[1], "060102", newest) || validDay(m[1], "020106", newest)
	}
	return false
}

// agelessNewest stands for the newest year of a file in which no date stands.
const agelessNewest = 2015

func validDay(text, layout string, newest int) bool {
	if newest == 0 {
		newest = agelessNewest
	}
	day, err := time.Parse(layout, text)
	if err != nil {
		return false
	}
	year := day.Year()
	if len(layout) == 6 && year > newest-adult {
		year -= 100
	}
	return year >= 1900 && year <= newest-adult
}

var (
	// Postcodes that their form alone gives away: the United Kingdom, the
	// Netherlands, Canada and the long ones of the United States.
	spacedPostcode = regexp.MustCompile(`^([A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2}|\d{4} [A-Z]{2}|[A-Z]\d[A-Z] \d[A-Z]\d|\d{5}-\d{4})$`)
	closePostcode  = regexp.MustCompile(`^[A-Z]{1,2}\d[A-Z\d]?\d[A-Z]{2}$`)
)

func isPostcode(text string) bool { return spacedPostcode.MatchString(strings.TrimSpace(text)) }
