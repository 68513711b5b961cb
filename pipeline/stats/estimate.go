// Package stats holds what every family of statistics below it shares: the
// estimate they return, the errors they refuse bad input with, and the checks
// at their door. Nothing here or below reads a file, a clock, a database or a
// global; slices come in, estimates go out, and inputs are never changed.
package stats

import (
	"errors"
	"fmt"
	"math"
)

// Estimate is one number with its interval. Value, Low, High and SE are in the
// unit that the function's comment names; all are finite, or the function
// returned an error or a warning that says which one could not be computed.
type Estimate struct {
	Value float64
	Low   float64 // lower limit of the interval
	High  float64 // upper limit of the interval
	SE    float64 // standard error on the scale of Value; 0 where the method has none
	Level float64 // two-sided confidence level, such as 0.95

	N       int // persons or observations the estimate rests on
	Events  int // events among them, where the estimate counts events
	Missing int // observations left out because a needed value was missing

	Method   string // the method and its variance, in words a report can print
	Warnings []Warning
}

// Warning says that an estimate is shaky and why; reports print it as a footnote.
type Warning struct {
	Code string // short, stable, lower-case with hyphens: "boundary-fit"
	Text string // one plain sentence
}

// The errors that the families return for input they cannot use. Callers test
// for them with errors.Is; the wrapped text names the argument.
var (
	ErrEmpty        = errors.New("no observations")
	ErrLength       = errors.New("inputs differ in length")
	ErrNotFinite    = errors.New("a value is not a finite number")
	ErrRange        = errors.New("a value is outside its range")
	ErrOneGroup     = errors.New("fewer than two groups")
	ErrNoEvents     = errors.New("no events")
	ErrCollinear    = errors.New("columns are collinear")
	ErrSeparation   = errors.New("a covariate separates the outcome")
	ErrNotConverged = errors.New("the fit did not converge")
	ErrNoVariation  = errors.New("a value does not vary")
	ErrTooFew       = errors.New("too few observations")
)

// CheckFinite returns ErrNotFinite, naming the argument and the index, when xs
// holds NaN or an infinity.
func CheckFinite(name string, xs []float64) error {
	for i, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s[%d]: %w", name, i, ErrNotFinite)
		}
	}
	return nil
}

// CheckLength returns ErrLength, naming the argument, unless got equals want.
func CheckLength(name string, got, want int) error {
	if got != want {
		return fmt.Errorf("%s has %d values, %d expected: %w", name, got, want, ErrLength)
	}
	return nil
}

// CheckLevel returns ErrRange unless level lies strictly between 0 and 1.
func CheckLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("level %v: %w", level, ErrRange)
	}
	return nil
}
