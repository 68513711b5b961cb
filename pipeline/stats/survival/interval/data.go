// Package interval estimates from event times known only to lie between two
// visits: a curve without assumptions (Turnbull) and Weibull regression.
package interval

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
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
	if d.Weight != nil {
		if err := stats.CheckLength("weight", len(d.Weight), n); err != nil {
			return err
		}
		if err := stats.CheckFinite("weight", d.Weight); err != nil {
			return err
		}
	}
	if d.Person != nil {
		if err := stats.CheckLength("person", len(d.Person), n); err != nil {
			return err
		}
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
	for i, w := range d.Weight {
		if w <= 0 {
			return fmt.Errorf("weight[%d] is %v, it must be above 0: %w", i, w, stats.ErrRange)
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

// persons numbers the persons 0..m-1 in order of first appearance.
func (d Data) persons() (codes []int, m int) {
	codes = make([]int, len(d.Lower))
	if d.Person == nil {
		for i := range codes {
			codes[i] = i
		}
		return codes, len(codes)
	}
	seen := make(map[int]int, len(d.Person))
	for i, p := range d.Person {
		c, ok := seen[p]
		if !ok {
			c = len(seen)
			seen[p] = c
		}
		codes[i] = c
	}
	return codes, len(seen)
}
