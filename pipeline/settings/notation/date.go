// Package notation reads what people write in cells: dates in a stated order,
// numbers with a stated decimal sign, and values in a stated unit. Nothing is
// guessed: a text that does not fit what was stated is refused.
package notation

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// DateFormat is a way of writing dates, such as day.month.year.
type DateFormat struct {
	text  string
	parts []string // year, month, day, time, and the signs between them
}

// The words of a date format.
const (
	year  = "year"
	month = "month"
	day   = "day"
	clock = "time"
)

// ParseDateFormat reads a format: the words year, month and day in their order
// with the signs that stand between them, and time where a time of day follows
// that is to be passed over. A format without day is that of months.
func ParseDateFormat(text string) (DateFormat, error) {
	f := DateFormat{text: text}
	seen := map[string]bool{}
	for rest := text; rest != ""; {
		word := ""
		for _, w := range []string{year, month, day, clock} {
			if strings.HasPrefix(rest, w) {
				word = w
			}
		}
		if word == "" {
			sign, size := utf8.DecodeRuneInString(rest)
			if unicode.IsLetter(sign) || unicode.IsDigit(sign) {
				return DateFormat{}, fmt.Errorf("%q is not a way of writing dates; use the words year, month, day and time with the signs between them, such as day.month.year", text)
			}
			word = rest[:size]
		} else if seen[word] {
			return DateFormat{}, fmt.Errorf("%s stands twice in %q", word, text)
		}
		seen[word] = true
		f.parts = append(f.parts, word)
		rest = rest[len(word):]
	}
	if !seen[year] || !seen[month] {
		return DateFormat{}, fmt.Errorf("%q must name year and month, and day where dates have one", text)
	}
	return f, nil
}

// String returns the format as it was written.
func (f DateFormat) String() string { return f.text }

// OfMonths says whether the format has no day.
func (f DateFormat) OfMonths() bool {
	for _, p := range f.parts {
		if p == day {
			return false
		}
	}
	return true
}

// Like says whether some text could be read in both formats with different
// meaning: the same signs, another order.
func (f DateFormat) Like(other DateFormat) bool {
	if len(f.parts) != len(other.parts) {
		return false
	}
	for i, p := range f.parts {
		if wordOf(p) != wordOf(other.parts[i]) || (!wordOf(p) && p != other.parts[i]) || (p == year) != (other.parts[i] == year) {
			return false
		}
	}
	return true
}

func wordOf(part string) bool { return part == year || part == month || part == day || part == clock }

// DateWords is what a format needs to know beside the order.
type DateWords struct {
	Months  []string // twelve names, where months are written as words
	Century int      // first of the hundred years that two digits stand for; 0: they are refused
}

// Read reads a text in the format. ok is false when it is not written so or is
// no date of the calendar; why then says more, where there is more to say.
// A month is read as its first day.
func (f DateFormat) Read(text string, words DateWords) (date time.Time, ok bool, why string) {
	number := map[string]int{day: 1}
	rest, short := text, false
	for i, p := range f.parts {
		if !wordOf(p) {
			after, found := strings.CutPrefix(rest, p)
			if !found {
				return time.Time{}, false, ""
			}
			rest = after
			continue
		}
		if p == clock {
			if !timeOfDay(rest) {
				return time.Time{}, false, ""
			}
			rest = ""
			continue
		}
		if p == month && len(words.Months) > 0 {
			if n, length := monthNamed(rest, words.Months); n > 0 {
				number[month], rest = n, rest[length:]
				continue
			}
		}
		most := 2
		if p == year {
			most = 4
		}
		n := 0
		for n < most && n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
			n++
		}
		tight := i+1 < len(f.parts) && wordOf(f.parts[i+1]) || i > 0 && wordOf(f.parts[i-1])
		switch {
		case n == 0, tight && n < most, p == year && n == 3, p == year && n == 1:
			return time.Time{}, false, ""
		}
		v, err := strconv.Atoi(rest[:n])
		if err != nil {
			return time.Time{}, false, ""
		}
		if p == year && n == 2 {
			short = true
			v += words.Century - words.Century%100
			if v < words.Century {
				v += 100
			}
		}
		number[p], rest = v, rest[n:]
	}
	if rest != "" {
		return time.Time{}, false, ""
	}
	if short && words.Century == 0 {
		return time.Time{}, false, "the year has two digits, and it is not said which century they are of (two_digit_years_from)"
	}
	date = time.Date(number[year], time.Month(number[month]), number[day], 0, 0, 0, 0, time.UTC)
	if date.Year() != number[year] || int(date.Month()) != number[month] || date.Day() != number[day] {
		return time.Time{}, false, "there is no such day in the calendar"
	}
	return date, true, ""
}

// monthNamed finds the month whose name the text begins with, the longest
// first, and the length of that name.
func monthNamed(text string, names []string) (number, length int) {
	for i, name := range names {
		if len(name) > length && len(text) >= len(name) && strings.EqualFold(text[:len(name)], name) {
			number, length = i+1, len(name)
		}
	}
	return number, length
}

// timeOfDay says whether a text is a time such as 14:30, 14:30:00.5 or 2:30 pm.
func timeOfDay(text string) bool {
	text = strings.ToUpper(strings.TrimSpace(strings.TrimPrefix(text, "T")))
	for _, form := range []string{"15:04", "15:04:05", "15:04:05.999999999", "15:04:05Z07:00", "15:04:05.999999999Z07:00", "3:04 PM", "3:04PM", "3:04:05 PM"} {
		if _, err := time.Parse(form, text); err == nil {
			return true
		}
	}
	return false
}
