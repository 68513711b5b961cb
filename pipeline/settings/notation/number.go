package notation

import (
	"math/big"
	"strings"
)

// Signs say how numbers are written.
type Signs struct {
	Decimal   string // "." or ","
	Thousands string // what stands between groups of three digits; empty: nothing
}

// Number writes a number in the one canonical way: digits, a point before the
// decimals where there are any, a minus before it where it is below zero. ok is
// false when the text is no number in the stated signs.
func (s Signs) Number(text string) (canonical string, ok bool) {
	minus := ""
	switch {
	case strings.HasPrefix(text, "-"):
		minus, text = "-", text[1:]
	case strings.HasPrefix(text, "\u2212"): // the minus of typesetters
		minus, text = "-", text[len("\u2212"):]
	case strings.HasPrefix(text, "+"):
		text = text[1:]
	}
	whole, decimals, point := strings.Cut(text, s.Decimal)
	if point && !digits(decimals) {
		return "", false
	}
	if s.Thousands != "" && strings.Contains(whole, s.Thousands) {
		groups := strings.Split(whole, s.Thousands)
		for i, g := range groups {
			if !digits(g) || len(g) > 3 || (i > 0 && len(g) != 3) {
				return "", false
			}
		}
		whole = strings.Join(groups, "")
	}
	if whole == "" && point {
		whole = "0"
	}
	if !digits(whole) {
		return "", false
	}
	whole = strings.TrimLeft(whole[:len(whole)-1], "0") + whole[len(whole)-1:]
	decimals = strings.TrimRight(decimals, "0")
	if decimals != "" {
		decimals = "." + decimals
	}
	if minus != "" && whole == "0" && decimals == "" {
		minus = ""
	}
	return minus + whole + decimals, true
}

func digits(text string) bool {
	return text != "" && strings.Trim(text, "0123456789") == ""
}

// Sum adds canonical numbers, exactly.
func Sum(numbers []string) string {
	total, most := new(big.Rat), 0
	for _, n := range numbers {
		value, ok := new(big.Rat).SetString(n)
		if !ok {
			continue // canonical numbers always are
		}
		_, decimals, _ := strings.Cut(n, ".")
		total, most = total.Add(total, value), max(most, len(decimals))
	}
	return round(total, most)
}
