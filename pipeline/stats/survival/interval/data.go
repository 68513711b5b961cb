// Package interval estimates from event times known only to lie between two
// visits: a curve without assumptions (Turnbull) and Weibull regression.
package interval

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/rows"
)

// Data says between which times the event of each of n rows happened: after
// Lower and by Upper. Lower = Upper is an exact time, Lower = 0 below Upper one
// known only to lie before Upper, Upper = +Inf one not yet seen at Lower.
// Nothing in it is changed.
type Data struct {
	Lower  []float64 // at least 0
	Upper  []float64 // at least Lower; +Inf: not seen
	Weight []float64 // above 0; nil: 1 each
	Person []int     // who; rows of one person are not independent; nil: a person each
}

func (d Data) check() error {
	n := len(d.Lower)
	if n == 0 {
		return fmt.Errorf("lower: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("upper", len(d.Upper), n); err != nil {
		return err
	}
	if err := stats.CheckFinite("lower", d.Lower); err != nil {
		return err
	}
	if err := rows.Check(n, d.Weight, d.Person); err != nil {
		return err
	}
	for i, low := range d.Lower {
		switch high := d.Upper[i]; {
		case math.IsNaN(high):
			return fmt.Errorf("upper[%d]: %w", i, stats.ErrNotFinite)
		case low < 0:
			return fmt.Errorf("lower[%d] is %v, it must not be negative: %w", i, low, stats.ErrRange)
		case high < low:
			return fmt.Errorf("upper[%d] is %v, below lower %v: %w", i, high, low, stats.ErrRange)
		}
	}
	return nil
}

func (d Data) weight(i int) float64 {
	if d.Weight == nil {
		return 1
	}
	return d.Weight[i]
}

// seen is the number of rows whose event is known to have happened.
func (d Data) seen() int {
	n := 0
	for _, high := range d.Upper {
		if !math.IsInf(high, 1) {
			n++
		}
	}
	return n
}

// persons numbers the persons 0..m-1; with Person nil the rows are the persons.
func (d Data) persons() (codes []int, m int) {
	if d.Person != nil {
		return rows.Persons(d.Person)
	}
	codes = make([]int, len(d.Lower))
	for i := range codes {
		codes[i] = i
	}
	return codes, len(codes)
}
