package words

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// None stands where there is no number to print.
const None = "–"

// Decimal rounds v to the digits after the point, halves away from zero:
// Decimal(11.44, 1) is "11.4".
// What is not finite is None.
func Decimal(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return None
	}
	scale := math.Pow10(digits)
	s := strconv.FormatFloat(math.Round(v*scale)/scale, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // no minus before a zero
	}
	return strings.Replace(s, "-", "−", 1)
}

// Count prints a whole number with a comma between thousands.
func Count(n int) string {
	digits := strconv.Itoa(n)
	digits, negative := strings.CutPrefix(digits, "-")
	for i := len(digits) - 3; i > 0; i -= 3 {
		digits = digits[:i] + "," + digits[i:]
	}
	if negative {
		return "−" + digits
	}
	return digits
}

// Percent prints a share from 0 to 1 as a whole percentage, its sign after a
// space that does not break. What is above none or below all is never rounded
// to it.
func Percent(share float64) string {
	text := Decimal(100*share, 0)
	switch {
	case text == None:
		return None
	case text == "0" && share > 0:
		return "under 1\u00a0%"
	case text == "100" && share < 1:
		return "over 99\u00a0%"
	default:
		return text + "\u00a0%"
	}
}

// Range joins two rounded limits: "39 to 53". A limit that does not exist is
// said so.
func Range(low, high *float64, round func(float64) string) string {
	switch {
	case low == nil && high == nil:
		return None
	case low == nil:
		return "up to " + round(*high)
	case high == nil:
		return round(*low) + " or more"
	default:
		return round(*low) + " to " + round(*high)
	}
}

// Rate prints a rate per 1,000 sessions: with one decimal from 1 on and with
// more below, so that a rare event is never printed as 0.
func Rate(v float64) string {
	switch {
	case v >= 0.95:
		return Decimal(v, 1)
	case v >= 0.0095:
		return Decimal(v, 2)
	default:
		return Decimal(v, 4)
	}
}

// digitsOf is how many decimals a unit of measuring is printed with: as many as
// its instrument can tell.
func digitsOf(unit string) int {
	switch unit {
	case "cm", "kg", "sets a week", "sessions a week", "% of the other side", "points", "index points", "points of 10", unitTimes:
		return 1
	case unitCorrelation:
		return 2
	case unitAIC:
		return 1
	case unitP:
		return 3
	default:
		return 0
	}
}

// Units that are not those of an instrument.
const (
	unitTimes       = "times"
	unitCorrelation = "correlation"
	unitP           = "p" // of a test
	unitAIC         = "AIC"
)

// Measured prints a measured value with its unit: "1.4 cm", "84 %".
func Measured(v float64, unit string) string {
	switch {
	case unit == unitP && v < 0.001:
		return "under 0.001"
	case unit == unitP, unit == unitCorrelation, unit == unitAIC:
		return Decimal(v, digitsOf(unit)) // a pure number
	}
	return Rounded(v, digitsOf(unit)) + "\u00a0" + unitWords(unit)
}

// Rounded is Decimal with a comma between thousands where nothing stands after
// the point.
func Rounded(v float64, digits int) string {
	if digits > 0 || math.IsNaN(v) || math.Abs(v) > 1e15 {
		return Decimal(v, digits)
	}
	return Count(int(math.Round(v)))
}

// Points prints a difference of shares: "+8 points", "−3 points".
func Points(v float64) string {
	text := percentLimit(v)
	if v > 0 && text != "0" && text != None {
		text = "+" + text
	}
	return text + "\u00a0" + Plural(int(math.Abs(math.Round(100*v))), "point", "points")
}

// percentLimit is a limit inside a range of percentages, without the sign.
func percentLimit(share float64) string { return Decimal(100*share, 0) }

// Frequency is a share told as a number out of a round group of people.
type Frequency struct {
	OutOf int // 20, or 100 where 20 is too coarse
	About int
	Low   int
	High  int
}

// NaturalFrequency tells a share and its limits as people out of 20, or out of
// 100 where the share lies under a twentieth or over nineteen of them. It
// reports false when a number is missing or no share.
func NaturalFrequency(share, low, high *float64) (Frequency, bool) {
	for _, v := range []*float64{share, low, high} {
		if v == nil || !(*v >= 0 && *v <= 1) {
			return Frequency{}, false
		}
	}
	f := Frequency{OutOf: 20}
	if *share < 0.05 || *share > 0.95 {
		f.OutOf = 100
	}
	of := func(v float64) int { return int(math.Round(v * float64(f.OutOf))) }
	f.About, f.Low, f.High = of(*share), of(*low), of(*high)
	return f, true
}

// Interval is the part in brackets: "7 to 11".
func (f Frequency) Interval() string {
	if f.Low == f.High {
		return strconv.Itoa(f.Low)
	}
	return strconv.Itoa(f.Low) + " to " + strconv.Itoa(f.High)
}

// Small spells a whole number from 0 to 12 and prints the others in digits.
func Small(n int) string {
	spelled := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n >= 0 && n < len(spelled) {
		return spelled[n]
	}
	return Count(n)
}

// Plural is the noun for n of it: Plural(1, "site", "sites").
func Plural(n int, singular, plural string) string {
	if n == 1 {
		return singular
	}
	return plural
}

// Join lists words as a sentence does: "a, b and c".
func Join(list []string) string {
	switch len(list) {
	case 0:
		return ""
	case 1:
		return list[0]
	default:
		return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
	}
}

// properNames begin labels and keep their capital inside a sentence.
var properNames = []string{"Achilles"}

// InSentence lowers the first letter of a label, unless it begins with a
// proper name or an abbreviation: "Calf strain" becomes "calf strain".
func InSentence(label string) string {
	first, _, _ := strings.Cut(label, " ")
	if len(first) < 2 || first[1] < 'a' || first[1] > 'z' || slices.Contains(properNames, first) {
		return label
	}
	return strings.ToLower(label[:1]) + label[1:]
}
