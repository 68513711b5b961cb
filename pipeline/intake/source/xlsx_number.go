package source

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// numberKind says what the numbers of a style stand for.
type numberKind int

const (
	plainNumber numberKind = iota
	dateNumber             // days since the epoch
	timeNumber             // a time of day or a span, as a share of a day
)

// epoch is what day 0 of a workbook is.
type epoch int

const (
	epoch1900 epoch = iota // day 1 is 1 January 1900, and 1900 has a 29 February
	epoch1904              // day 0 is 1 January 1904
)

// kindOfBuiltIn is the kind of a number format that has no text: ECMA-376,
// part 1, 18.8.30.
func kindOfBuiltIn(id string) numberKind {
	n, err := strconv.Atoi(id)
	switch {
	case err != nil:
		return plainNumber
	case n >= 14 && n <= 17, n == 22, n >= 27 && n <= 31, n == 36, n >= 50 && n <= 54, n == 57, n == 58:
		return dateNumber
	case n >= 18 && n <= 21, n >= 32 && n <= 35, n >= 45 && n <= 47, n == 55, n == 56:
		return timeNumber
	default:
		return plainNumber
	}
}

// kindOfFormat tells by the letters of a number format what it shows: a date
// when it has a year or a day, a time when it has hours or seconds. Letters in
// quotes, behind a backslash and in brackets (colours, countries) do not count;
// spans of time in brackets, [h], do.
func kindOfFormat(code string) numberKind {
	code, _, _ = strings.Cut(strings.ToLower(code), ";")
	var letters strings.Builder
	for i := 0; i < len(code); i++ {
		switch code[i] {
		case '\\', '_', '*':
			i++
		case '"':
			i = closing(code, i+1, '"')
		case '[':
			end := closing(code, i+1, ']')
			if inside := strings.Trim(code[i+1:end], "hms"); inside == "" {
				letters.WriteByte('h')
			}
			i = end
		default:
			letters.WriteByte(code[i])
		}
	}
	text := strings.ReplaceAll(letters.String(), "general", "")
	switch {
	case strings.ContainsAny(text, "yd"):
		return dateNumber
	case strings.ContainsAny(text, "hs"):
		return timeNumber
	case strings.ContainsRune(text, 'm') && !strings.ContainsAny(text, "0#?"):
		return dateNumber
	default:
		return plainNumber
	}
}

func closing(code string, from int, end byte) int {
	if at := strings.IndexByte(code[from:], end); at >= 0 {
		return from + at
	}
	return len(code)
}

// numberText is a number of a workbook as the text of a cell: with the 15 digits
// that a spreadsheet shows, a date as ISO 8601 has it.
func numberText(text string, kind numberKind, e epoch) string {
	if kind == plainNumber && plainDigits(text) {
		return text
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) >= 1e15 {
		return text
	}
	switch kind {
	case dateNumber:
		return dateText(v, e, text)
	case timeNumber:
		if v >= 0 && v < 1000 {
			return clockText(int64(math.Round(v * daySeconds)))
		}
		return text
	default:
		return shortest(v)
	}
}

// plainDigits says whether a number is already written as it would be: a whole
// number without leading zeros.
func plainDigits(text string) bool {
	if len(text) == 0 || len(text) > 15 || (text[0] == '0' && len(text) > 1) {
		return false
	}
	for i := range len(text) {
		if text[i] < '0' || text[i] > '9' {
			return false
		}
	}
	return true
}

// shortest writes a number with at most 15 digits that count, and no more than
// it needs.
func shortest(v float64) string {
	if rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 14, 64), 64); err == nil {
		v = rounded
	}
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

const (
	daySeconds  = 86_400
	lastDay     = 2_958_465 // 31 December 9999, counted from 1900
	epochsApart = 1_462     // days
)

func dateText(v float64, e epoch, text string) string {
	seconds := int64(math.Round(v * daySeconds))
	last := int64(lastDay)
	if e == epoch1904 {
		last -= epochsApart
	}
	if seconds < 0 || seconds >= (last+1)*daySeconds {
		return text
	}
	day, clock := seconds/daySeconds, seconds%daySeconds
	first := time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC)
	switch {
	case e == epoch1904:
		first = time.Date(1904, time.January, 1, 0, 0, 0, 0, time.UTC)
	case day == 60:
		return "1900-02-29" // a day that never was: whoever reads it as a date must refuse it
	case day < 60:
		first = first.AddDate(0, 0, 1)
	}
	date := first.AddDate(0, 0, int(day)).Format(time.DateOnly)
	if clock == 0 {
		return date
	}
	return date + "T" + clockText(clock)
}

// clockText writes seconds as hours, minutes and seconds; a span may have more
// than 24 hours.
func clockText(seconds int64) string {
	two := func(n int64) string {
		if n < 10 {
			return "0" + strconv.FormatInt(n, 10)
		}
		return strconv.FormatInt(n, 10)
	}
	return two(seconds/3600) + ":" + two(seconds/60%60) + ":" + two(seconds%60)
}

// isoText shortens a date and time of ISO 8601 whose time is midnight to its
// date.
func isoText(text string) string {
	date, clock, _ := strings.Cut(text, "T")
	if strings.Trim(strings.TrimSuffix(clock, "Z"), "0:.") == "" {
		return date
	}
	return text
}
