package words

import (
	"fmt"
	"math"
	"strings"

	"evenlimb/pipeline/disclosure"
	"evenlimb/pipeline/result"
)

// The words for a number that is not there.
const (
	NotShown   = "not shown"
	NotReached = "not reached"
	Withheld   = "withheld"
)

// notReachedReason begins the reason of a quantile that the curve does not
// come to.
const notReachedReason = "Not reached: "

// entryOf finds a figure in the dictionary.
func entryOf(f disclosure.Shown) (Entry, bool) {
	_, _, x, err := result.SplitID(f.ID)
	if err != nil {
		return Entry{}, false
	}
	return Lookup(f.Question, f.Statistic, x != "")
}

// IsShare says that a figure is a share from 0 to 1, or a difference of two, printed as a percentage.
func IsShare(f disclosure.Shown) bool {
	e, _ := entryOf(f)
	return e.form == asPercent || e.form == asPoints
}

// Digits is how many decimals a figure's value is printed with.
func Digits(f disclosure.Shown) int {
	e, _ := entryOf(f)
	switch e.form {
	case asWeeks:
		return 1
	case asRate, asRatio:
		return 2
	case asMeasured:
		return digitsOf(f.Unit)
	default:
		return 0
	}
}

// Label names a figure: "Share back by week 12".
func Label(f disclosure.Shown) string {
	e, ok := entryOf(f)
	if code, staged := stageOf(f.Statistic); ok && staged {
		e.Label = strings.Replace(e.Label, "the stage", "the stage \""+InSentence(StageLabel(code))+"\"", 1)
	}
	switch {
	case !ok:
		return f.Statistic
	case f.X == nil:
		return e.Label
	case f.XUnit == "sets a week":
		return e.Label + ", at " + Decimal(*f.X, 0) + " sets a week"
	case f.XUnit == "days":
		return e.Label + " within " + Decimal(*f.X, 0) + " days"
	case e.form == asPercent || e.form == asPoints:
		return e.Label + " by week " + Decimal(*f.X, 0)
	case strings.HasPrefix(e.Statistic, "mean_"):
		return e.Label + ", of the first " + Decimal(*f.X, 0)
	default:
		return e.Label + " at week " + Decimal(*f.X, 0)
	}
}

// Value prints a figure's value with its unit, or why there is none.
func Value(f disclosure.Shown) string {
	switch {
	case f.ValueBelow > 0:
		return Fewer(f.ValueBelow)
	case f.Status == result.Hidden:
		return NotShown
	case f.Value == nil && strings.HasPrefix(f.Reason, notReachedReason):
		return NotReached
	}
	e, _ := entryOf(f)
	if f.Value == nil && f.High != nil && e.form == asRate { // no event was seen
		return "up to " + Rate(*f.High)
	}
	if f.Value == nil {
		return Withheld
	}
	v := *f.Value
	switch e.form {
	case asPercent:
		return Percent(v)
	case asWeeks:
		return Decimal(v, 1) + " weeks"
	case asDays:
		return Decimal(v, 0) + " " + Plural(int(math.Round(v)), "day", "days")
	case asRate:
		return Rate(v)
	case asMeasured:
		return Measured(v, f.Unit)
	case asPoints:
		return Points(v)
	case asRatio:
		return Decimal(v, 2)
	default:
		return Count(int(math.Round(v)))
	}
}

// Bare prints a measured value without its unit, for a table whose head has it.
func Bare(f disclosure.Shown) string {
	if f.Value == nil {
		return Value(f)
	}
	return Rounded(*f.Value, Digits(f))
}

// Interval prints a figure's limits without the unit: "39 to 53". A limit
// beyond the time watched is said so.
func Interval(f disclosure.Shown) string {
	_, _, x, err := result.SplitID(f.ID)
	if err != nil {
		return None
	}
	return Limits(f.Question, f.Statistic, x != "", f.Unit, f.Low, f.High)
}

// Limits does the same from the parts of a figure: its question and statistic,
// whether it stands at a position, its unit.
func Limits(question, statistic string, positioned bool, unit string, low, high *float64) string {
	e, _ := Lookup(question, statistic, positioned)
	switch e.form {
	case asPercent:
		return Range(low, high, percentLimit)
	case asWeeks:
		return Range(low, high, func(v float64) string { return Decimal(v, 1) })
	case asRate:
		return Range(low, high, Rate)
	case asMeasured:
		return Range(low, high, func(v float64) string { return Rounded(v, digitsOf(unit)) })
	case asPoints:
		return Range(low, high, percentLimit)
	case asRatio:
		return Range(low, high, func(v float64) string { return Decimal(v, 2) })
	default:
		return Range(low, high, func(v float64) string { return Decimal(v, 0) })
	}
}

// IsCurve says that a statistic is a point of a curve, or a number at risk
// under one.
func IsCurve(question, statistic string, positioned bool) bool {
	kind := disclosure.KindOf(question, statistic, positioned)
	return kind == disclosure.CurvePoint || kind == disclosure.NumberAtRisk
}

// WithInterval prints the value and, in brackets, its limits.
func WithInterval(f disclosure.Shown) string {
	if f.Value == nil || (f.Low == nil && f.High == nil) {
		return Value(f)
	}
	return Value(f) + " (" + Interval(f) + ")"
}

// Persons prints how many people a figure rests on.
func Persons(f disclosure.Shown) string {
	switch {
	case f.Persons == nil:
		return None
	case f.PersonsRounded:
		return "about " + Count(*f.Persons)
	default:
		return Count(*f.Persons)
	}
}

// Fewer is what stands for a count of 1 to floor less one.
func Fewer(floor int) string { return fmt.Sprintf("fewer than %d", floor) }
