package disclosure

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/result"
)

// atRiskWeeks are the weeks at which numbers at risk are printed.
var atRiskWeeks = []float64{0, 6, 12, 26, 52}

// decide hides the figure if it is too small on its own.
func (r *row) decide(l limits) {
	f := r.figure
	switch r.kind {
	case Rate:
		r.decideRate(l)
	case PersonsByOutcome, RoundedCount:
		r.decideCount(l)
	case PersonsInTotal:
		if named(f) {
			r.decideCount(l)
		}
	case EventCount:
		r.needPersons(l.groupFloor(f))
		if l.strict && small(f.Value, l.persons) {
			r.hideCount(l)
		}
	case CurvePoint:
		r.needWholeWeek()
		r.needPersons(l.curveFloor(f))
		if l.strict {
			r.needBothOutcomes(l)
		}
	case NumberAtRisk:
		r.needWholeWeek()
		r.needPersons(l.curveFloor(f))
		if f.X != nil && !slices.Contains(atRiskWeeks, *f.X) {
			r.hide("Numbers at risk are printed at weeks 0, 6, 12, 26 and 52 only.")
		}
		if l.strict && small(f.Value, l.persons) {
			r.hideCount(l)
		}
	case AlwaysCounted:
		if named(f) {
			r.decideCount(l)
		}
	case NotPersons:
	default:
		r.hide("The small-count table does not know this figure, so it is not shown.")
	}
}

func (r *row) decideRate(l limits) {
	r.needPersons(l.groupFloor(r.figure))
	if l.strict {
		r.needBothOutcomes(l)
	}
}

// decideCount hides a count of persons from 1 to the floor less one. A count
// of episodes that fewer than the floor of persons had is one too, and so is a
// count without a value.
func (r *row) decideCount(l limits) {
	f := r.figure
	switch {
	case f.Value == nil && f.Status != result.Withheld:
		r.hide("A count without a value is not shown.")
	case small(f.Value, l.persons), f.Persons != nil && smallInt(*f.Persons, l.persons):
		r.hideCount(l)
	}
}

func (r *row) hideCount(l limits) {
	if small(r.figure.Value, l.persons) {
		r.hideAsSmall(l.persons)
		return
	}
	r.hide(fmt.Sprintf("Fewer than %d people.", l.persons))
}

// hideAsSmall hides a value that is less than the floor and says only that.
func (r *row) hideAsSmall(floor int) {
	r.hide(fmt.Sprintf("Fewer than %d people.", floor))
	r.below = floor
}

// needPersons hides what rests on fewer persons than the floor, but for what rests
// on nobody: zero may be shown.
func (r *row) needPersons(floor int) {
	if f := r.figure; f.Persons == nil || *f.Persons < floor && *f.Persons > 0 {
		r.hide(fmt.Sprintf("Rests on fewer than %d people.", floor))
	}
}

// needBothOutcomes asks for the floor of persons with and without the outcome.
func (r *row) needBothOutcomes(l limits) {
	f := r.figure
	if f.Events == nil || f.Persons == nil {
		return
	}
	if smallInt(*f.Events, l.persons) || smallInt(*f.Persons-*f.Events, l.persons) {
		r.hide(fmt.Sprintf("Fewer than %d people with or without the outcome.", l.persons))
	}
}

func (r *row) needWholeWeek() {
	if f := r.figure; f.X == nil || *f.X < 0 || *f.X != math.Trunc(*f.X) {
		r.hide("Curves are shown at whole weeks only.")
	}
}

// groupFloor is the floor for a rate: higher at a single site.
func (l limits) groupFloor(f result.Figure) int {
	if f.Site != "" {
		return l.site
	}
	return l.persons
}

func (l limits) curveFloor(f result.Figure) int { return max(l.curve, l.groupFloor(f)) }

// named says that the group is picked out by a characteristic.
func named(f result.Figure) bool {
	return f.InjuryType != "" || f.Site != "" || f.Cohort != "" || f.Stratum != ""
}

func small(v *float64, floor int) bool { return v != nil && *v > 0 && *v < float64(floor) }

func smallInt(n, floor int) bool { return n > 0 && n < floor }
