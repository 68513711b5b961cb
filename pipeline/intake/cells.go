package intake

import (
	"database/sql/driver"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/settings"
)

// The reasons for which a cell keeps its row out. A reason stands behind the
// name of its column: reps:not_a_number.
const (
	requiredEmpty  = "required_empty"
	unknownCode    = "unknown_code"
	notANumber     = "not_a_number"
	notWhole       = "not_a_whole_number"
	manyDecimals   = "too_many_decimals"
	notADate       = "not_a_date"
	notTrueFalse   = "not_true_or_false"
	notReps        = "not_repetitions"
	outOfRange     = "out_of_range"
	tooLong        = "too_long"
	blanksAround   = "blanks_around"
	notReadable    = "not_readable"
	rewrittenKey   = "rewritten_by_a_spreadsheet"
	noughtsLost    = "noughts_lost"
	notThisSenders = "not_this_senders"
)

// fault is why a cell cannot stand: a reason and the same in words.
type fault struct{ reason, words string }

// cellReader turns the text of one column's cells into values, and knows every
// code it has seen.
type cellReader struct {
	export.Column
	codes  map[string]driver.Value // the codes allowed, ready as values
	known  []string                // the same, in order, for the nearest one
	own    map[string]bool         // of the codes allowed, those this sender may use; nil: all
	reject bounds
	warn   bounds
	padded map[string]string // keys of the sender that begin with noughts, by what is left without them
	filled string            // what an empty cell means, where that is a value
	digits *numbersSaid      // numbers read before
	texts  textsSaid         // dates and repetitions read before
	key    string            // the key read last, and the same as a value
	isKey  driver.Value
}

// bounds is a closed range in units of the fourth decimal.
type bounds struct {
	set       bool
	low, high int64
}

const scale = 10_000 // 10 to the power of export.Scale

func boundsOf(r *export.Range) bounds {
	if r == nil {
		return bounds{}
	}
	return bounds{true, int64(math.Round(r.Low * scale)), int64(math.Round(r.High * scale))}
}

func (b bounds) holds(v int64) bool { return !b.set || (v >= b.low && v <= b.high) }

func (b bounds) String() string { return number(b.low) + " to " + number(b.high) }

// number writes a value in units of the fourth decimal.
func number(v int64) string { return strconv.FormatFloat(float64(v)/scale, 'f', -1, 64) }

func newCellReader(c export.Column, codes []string) *cellReader {
	r := &cellReader{Column: c, known: codes, reject: boundsOf(c.Reject), warn: boundsOf(c.Warn)}
	switch c.Type {
	case export.Code, export.CodeSet:
		r.codes = make(map[string]driver.Value, len(codes))
		for _, code := range codes {
			r.codes[code] = code
		}
	case export.Boolean:
		r.codes = map[string]driver.Value{"true": true, "false": false}
	case export.Date, export.Reps:
		r.texts = textsSaid{}
	default:
	}
	if c.Default != "" {
		if _, _, f := r.read(c.Default, nil); f == nil {
			r.filled = c.Default
		}
	}
	return r
}

// read turns a text into a value, nil for an empty one, and appends what it
// means to content, so that texts that mean the same add the same. size is the
// value in units of the fourth decimal, for the checks of ranges.
func (r *cellReader) read(text string, content []byte) (v driver.Value, out []byte, f *fault) {
	if text == "" {
		return nil, append(content, r.filled...), nil
	}
	switch r.Type {
	case export.Integer, export.Decimal:
		return r.number(text, content)
	case export.Date:
		return r.date(text, content)
	case export.Boolean:
		if v, ok := r.codes[text]; ok {
			return v, append(content, text...), nil
		}
		return nil, content, &fault{notTrueFalse, fmt.Sprintf("%q is neither true nor false", text)}
	case export.Code:
		if v, ok := r.codes[text]; ok {
			return r.allowed(text, v, content)
		}
		return nil, content, r.unknown(text)
	case export.CodeSet:
		return r.codeSet(text, content)
	case export.Reps:
		if v, ok := r.texts[text]; ok {
			return v, append(content, text...), nil
		}
		if !repsBySet(text) {
			return nil, content, &fault{notReps, fmt.Sprintf("%q is not a list of repetitions such as 30/15/15/15", text)}
		}
		return r.texts.keep(text, text), append(content, text...), nil
	case export.Key:
		return r.keyText(text, content)
	default:
		if f := checkText(text, export.MaxText); f != nil {
			return nil, content, f
		}
		return text, append(content, text...), nil
	}
}

// keyText reads a key. Neighbouring rows often belong to one and the same row of
// another table.
func (r *cellReader) keyText(text string, content []byte) (driver.Value, []byte, *fault) {
	if r.key == text {
		return r.isKey, append(content, text...), nil
	}
	if f := checkKey(text); f != nil {
		return nil, content, f
	}
	if key, lost := r.padded[text]; lost {
		return nil, content, &fault{noughtsLost, fmt.Sprintf("%q has lost the noughts before it, as %q is how the sender writes it; send the key as text", text, key)}
	}
	r.key, r.isKey = text, text
	return r.isKey, append(content, text...), nil
}

func (r *cellReader) allowed(text string, v driver.Value, content []byte) (driver.Value, []byte, *fault) {
	if r.own != nil && !r.own[text] {
		return nil, content, &fault{notThisSenders, fmt.Sprintf("the settings do not let this sender send for %q", text)}
	}
	return v, append(content, text...), nil
}

func (r *cellReader) unknown(text string) *fault {
	words := fmt.Sprintf("%q is not a known code", shown(text))
	if near := settings.Near(text, r.known); near != "" {
		words += fmt.Sprintf("; the nearest is %q", near)
	} else if len(r.known) <= 12 {
		words += "; known are " + strings.Join(r.known, ", ")
	}
	return &fault{unknownCode, words}
}

func (r *cellReader) codeSet(text string, content []byte) (driver.Value, []byte, *fault) {
	codes := strings.Split(text, ";")
	for _, code := range codes {
		if _, ok := r.codes[code]; !ok {
			return nil, content, r.unknown(code)
		}
	}
	slices.Sort(codes)
	set := strings.Join(slices.Compact(codes), ";")
	return set, append(content, set...), nil
}

// number reads a whole number or one with up to four decimals: digits with a
// point and a minus before them, nothing else.
func (r *cellReader) number(text string, content []byte) (driver.Value, []byte, *fault) {
	if r.digits == nil {
		r.digits = &numbersSaid{}
	}
	short := packedText(text)
	said := &r.digits[placeOf(short)]
	if short != 0 && said.text == short {
		return said.value, means(said.value, content), nil
	}
	v, decimals, ok := parseNumber(text)
	switch {
	case !ok:
		return nil, content, &fault{notANumber, notNumberWords(text)}
	case r.Type == export.Integer && decimals > 0:
		return nil, content, &fault{notWhole, fmt.Sprintf("%q is not a whole number", text)}
	case decimals > export.Scale:
		return nil, content, &fault{manyDecimals, fmt.Sprintf("%q has more than %d decimals", text, export.Scale)}
	case !r.reject.holds(v):
		return nil, content, &fault{outOfRange, fmt.Sprintf("%s lies outside %s and can only be a slip", text, r.reject)}
	}
	var value driver.Value = v
	if r.Type == export.Integer {
		value = int32(v / scale) //nolint:gosec // parseNumber takes nine digits at most
	}
	said.text, said.value = short, value
	return value, means(value, content), nil
}

// means appends what a number adds to the content of its row.
func means(v driver.Value, content []byte) []byte {
	switch n := v.(type) {
	case int32:
		return strconv.AppendInt(content, int64(n), 10)
	case int64:
		return strconv.AppendInt(content, n, 10)
	}
	return content
}

// parseNumber reads a number of at most nine digits before the point. v is in
// units of the fourth decimal; further decimals are counted, not read.
func parseNumber(text string) (v int64, decimals int, ok bool) {
	digits := text
	if digits != "" && digits[0] == '-' {
		digits = digits[1:]
	}
	before, point := 0, false
	for i := range len(digits) {
		switch c := digits[i]; {
		case c >= '0' && c <= '9' && !point:
			v, before = v*10+int64(c-'0'), before+1
			if before > 9 {
				return 0, 0, false
			}
		case c >= '0' && c <= '9':
			if decimals++; decimals <= export.Scale {
				v = v*10 + int64(c-'0')
			}
		case c == '.' && !point && before > 0:
			point = true
		default:
			return 0, 0, false
		}
	}
	if before == 0 || (point && decimals == 0) {
		return 0, 0, false
	}
	for range max(0, export.Scale-decimals) {
		v *= 10
	}
	if text[0] == '-' {
		v = -v
	}
	return v, decimals, true
}

func notNumberWords(text string) string {
	words := fmt.Sprintf("%q is not a number", shown(text))
	if _, _, ok := parseNumber(strings.Replace(text, ",", ".", 1)); ok {
		return words + "; decimals are written with a point"
	}
	if _, _, ok := parseNumber(strings.TrimSpace(text)); ok {
		return words + "; take away the blanks around it"
	}
	return words
}

// date reads an ISO 8601 date of the years 1900 to 2099.
func (r *cellReader) date(text string, content []byte) (driver.Value, []byte, *fault) {
	if v, ok := r.texts[text]; ok {
		return v, append(content, text...), nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		words := fmt.Sprintf("%q is not a date", shown(text))
		if len(text) == len(time.DateOnly) && text[4] == '-' && text[7] == '-' {
			return nil, content, &fault{notADate, words + " that exists"}
		}
		return nil, content, &fault{notADate, words + "; dates are written as 2026-03-31"}
	}
	if day.Year() < 1900 || day.Year() > 2099 {
		return nil, content, &fault{outOfRange, fmt.Sprintf("%q lies outside the years 1900 to 2099", text)}
	}
	return r.texts.keep(text, day), append(content, text...), nil
}

// repsBySet says whether a text is repetitions by set, such as 30/15/15/15: up
// to twelve numbers of up to three digits.
func repsBySet(text string) bool {
	sets, digits := 1, 0
	for i := range len(text) {
		switch c := text[i]; {
		case c == '/' && digits > 0:
			sets, digits = sets+1, 0
		case c < '0' || c > '9' || digits == 3 || (digits == 1 && text[i-1] == '0'):
			return false
		default:
			digits++
		}
	}
	return digits > 0 && sets <= 12
}

func checkKey(text string) *fault {
	if f := checkText(text, export.MaxKey); f != nil {
		return f
	}
	if text != strings.TrimSpace(text) {
		return &fault{blanksAround, fmt.Sprintf("%q has blanks around it", text)}
	}
	if strings.ContainsAny(text, "\n\t") {
		return &fault{notReadable, fmt.Sprintf("%q has a line break or tab in it", text)}
	}
	if rewritten(text) {
		return &fault{rewrittenKey, fmt.Sprintf("%q was turned into a number by a spreadsheet; send the key as text", text)}
	}
	return nil
}

// rewritten says whether a key looks like 1.2E+05: digits, a point, an E, a
// sign, digits.
func rewritten(text string) bool {
	mantissa, exponent, ok := strings.Cut(text, "E")
	if !ok || len(exponent) < 2 || (exponent[0] != '+' && exponent[0] != '-') || strings.Trim(exponent[1:], "0123456789") != "" {
		return false
	}
	_, _, isNumber := parseNumber(strings.Replace(mantissa, ",", ".", 1))
	return isNumber
}

func checkText(text string, most int) *fault {
	if len(text) > most {
		return &fault{tooLong, fmt.Sprintf("%d bytes are more than the %d that may stand here", len(text), most)}
	}
	if !utf8.ValidString(text) {
		return &fault{notReadable, "the text is not UTF-8"}
	}
	for i := range len(text) {
		if c := text[i]; c < ' ' && c != '\n' && c != '\t' || c == 0x7f {
			return &fault{notReadable, fmt.Sprintf("%q has a control character in it", text)}
		}
	}
	return nil
}

// shown is a cell as a message may show it.
func shown(text string) string {
	if len(text) > 40 {
		return strings.ToValidUTF8(text[:40], "?") + "..."
	}
	return strings.ToValidUTF8(text, "?")
}
