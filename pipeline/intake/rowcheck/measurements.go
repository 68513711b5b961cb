package rowcheck

import (
	"fmt"
	"math"
	"strconv"

	"evenlimb/seeds/reference"
)

// slip is a unit that a value may have been written in by mistake: so many of
// the measure's own unit make one of it.
type slip struct {
	code  string
	words string
	times float64
}

// slips by the measure's own unit. A pound is 0.45359237 kg and an inch 2.54 cm
// by definition; a kilogram weighs 9.80665 N.
var slips = map[string][]slip{
	"cm": {{"looks_like_inches", "inches", 2.54}, {"looks_like_millimetres", "millimetres", 0.1}, {"looks_like_metres", "metres", 100}},
	"kg": {{"looks_like_pounds", "pounds", 0.45359237}, {"looks_like_newtons", "newtons", 1 / 9.80665}},
	"N":  {{"looks_like_kilograms", "kilograms", 9.80665}, {"looks_like_pounds_of_force", "pounds of force", 0.45359237 * 9.80665}},
	"s":  {{"looks_like_milliseconds", "milliseconds", 0.001}},
}

// measureSpan is what is usual and what is possible for one measure, in units of
// the fourth decimal.
type measureSpan struct {
	unit, kind string
	usual      [2]int64 // low and high
}

var spans = func() map[string]measureSpan {
	all := map[string]measureSpan{}
	for _, code := range reference.Codes("measures") {
		cell := func(column string) string {
			text, _ := reference.Cell("measures", code, column)
			return text
		}
		limit := func(column string) int64 {
			v, err := strconv.ParseFloat(cell(column), 64)
			if err != nil {
				panic(fmt.Sprintf("measures.csv: %s of %s: %v", column, code, err)) // only a broken build gets here
			}
			return int64(math.Round(v * unit))
		}
		all[code] = measureSpan{
			unit: cell("unit"), kind: cell("kind"),
			usual: [2]int64{limit("warn_low"), limit("warn_high")},
		}
	}
	return all
}()

var measurementRules = append(slipRules(), rule{
	table: "measurements", column: "side", code: "missing_for_a_limb",
	about:  "a measure of a limb stands without its side",
	source: meaning,
	reads:  []string{"side", "measure"},
	broken: func(r *row) bool {
		if r.text(0) != "none" {
			return false
		}
		switch r.span(1).kind {
		case "girth", "strength", "hop", "endurance", "range":
			return true
		default:
			return false
		}
	},
})

// slipRules makes one rule for each unit that a value may be in: it is unusual
// as it stands, and usual once converted.
func slipRules() []rule {
	var rules []rule
	for _, own := range []string{"cm", "kg", "N", "s"} {
		for _, s := range slips[own] {
			rules = append(rules, rule{
				table: "measurements", column: "value", code: s.code,
				about:  fmt.Sprintf("the value is unusual in %s and would be usual if it were in %s", own, s.words),
				source: "definitions of the units; what is usual: the code table of measures",
				reads:  []string{"value", "measure"},
				beside: []string{"unit"},
				broken: func(r *row) bool {
					span := r.span(1)
					if stated := r.text(2); span.unit != own || (stated != "" && stated != own) || inside(span.usual, r.number(0)) {
						return false
					}
					return inside(span.usual, s.convert(r.number(0)))
				},
				words: func(r *row) string {
					return fmt.Sprintf("%s %s are unusual for %s; %s %s would be %s %s",
						plain(r.number(0)), own, r.text(1), plain(r.number(0)), s.words, plain(s.convert(r.number(0))), own)
				},
			})
		}
	}
	return rules
}

// convert turns a value in the other unit into the measure's own.
func (s slip) convert(v int64) int64 {
	return int64(math.Round(float64(v) * s.times))
}

func inside(span [2]int64, v int64) bool { return v >= span[0] && v <= span[1] }

// Slip names, for a value that cannot be, the unit that it may be in; empty
// when none explains it. It is for the reason of a row that is kept out.
func Slip(measure string, value int64) string {
	span, known := spans[measure]
	if !known {
		return ""
	}
	for _, s := range slips[span.unit] {
		if inside(span.usual, s.convert(value)) {
			return fmt.Sprintf("if it is in %s, it is %s %s", s.words, plain(s.convert(value)), span.unit)
		}
	}
	return ""
}
