package disclosure

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"evenlimb/pipeline/result"
)

// equation is one way in which counts sum to a total.
type equation struct {
	whole *row
	parts []*row
}

// balance groups the totals into equations. One whole can be split in several
// ways (all episodes by injury type, and again by site): parts belong together
// when the same characteristics pick them out.
func balance(rows []*row, totals []result.Total) ([]equation, error) {
	byID := make(map[string]*row, len(rows))
	for _, r := range rows {
		byID[r.figure.ID] = r
	}
	type split struct{ whole, by string }
	parts := map[split]map[string]*row{}
	for _, t := range totals {
		whole, part := byID[t.Whole], byID[t.Part]
		if whole == nil || part == nil || whole == part {
			return nil, fmt.Errorf("total %s has the part %s: both must be figures of the set, and two of them", t.Whole, t.Part)
		}
		key := split{t.Whole, splitBy(part.figure)}
		if parts[key] == nil {
			parts[key] = map[string]*row{}
		}
		parts[key][t.Part] = part
	}
	keys := slices.SortedFunc(maps.Keys(parts), func(a, b split) int {
		return cmp.Or(cmp.Compare(a.whole, b.whole), cmp.Compare(a.by, b.by))
	})
	equations := make([]equation, 0, len(keys))
	for _, key := range keys {
		e := equation{whole: byID[key.whole]}
		for _, id := range slices.Sorted(maps.Keys(parts[key])) {
			e.parts = append(e.parts, parts[key][id])
		}
		if err := e.check(); err != nil {
			return nil, err
		}
		equations = append(equations, e)
	}
	return equations, nil
}

// sameCounts are the equations between counts of everybody in one group that
// stand in several pictures, as each question begins with those who began care:
// hidden in one of them, the number must not be read in another.
func sameCounts(rows []*row) []equation {
	type group struct{ statistic, injury, site, cohort, stratum, from, to string }
	first := map[group]*row{}
	var equations []equation
	for _, r := range rows {
		f := r.figure
		if r.kind != PersonsInTotal || f.Value == nil {
			continue
		}
		key := group{f.Statistic, f.InjuryType, f.Site, f.Cohort, f.Stratum, f.PeriodFrom.Format(time.DateOnly), f.PeriodTo.Format(time.DateOnly)}
		switch before := first[key]; {
		case before == nil:
			first[key] = r
		case *before.figure.Value == *f.Value:
			equations = append(equations, equation{whole: before, parts: []*row{r}})
		}
	}
	return equations
}

// splitBy names which characteristics pick a part out.
func splitBy(f result.Figure) string {
	by := []byte("----")
	for i, value := range []string{f.InjuryType, f.Site, f.Cohort, f.Stratum} {
		if value != "" {
			by[i] = '+'
		}
	}
	return string(by)
}

func (e equation) members() []*row { return append(slices.Clone(e.parts), e.whole) }

// check refuses a total that does not add up: what it protects would be wrong.
func (e equation) check() error {
	for _, r := range e.members() {
		if r.figure.Value == nil {
			return nil
		}
		if !r.counts() {
			return fmt.Errorf("figure %s stands in a total and is no count of persons", r.figure.ID)
		}
	}
	sum := 0.0
	for _, p := range e.parts {
		sum += *p.figure.Value
	}
	if math.Abs(sum-*e.whole.figure.Value) > 0.5 {
		return fmt.Errorf("the parts of %s sum to %g, and it is %g", e.whole.figure.ID, sum, *e.whole.figure.Value)
	}
	return nil
}

// leastWidth is the least number of values that a hidden count must still be
// able to have when everything shown in one total is taken off it.
const leastWidth = 5

// hideComplements hides further counts until no total, taken by itself, gives
// a hidden count away. Each pass that changes something hides one figure more,
// so this ends.
func hideComplements(equations []equation, floor int) {
	for changed := true; changed; {
		changed = false
		for _, e := range equations {
			if !e.safe(floor) {
				changed = e.hideOne(floor) || changed
			}
		}
	}
}

// hiddenParts are the parts that are hidden, and the sum of their true values:
// what is left of the whole when the shown parts are taken off.
func (e equation) hiddenParts() (parts []*row, sum float64) {
	for _, p := range e.parts {
		if p.hidden != "" {
			parts = append(parts, p)
			sum += *p.figure.Value
		}
	}
	return parts, sum
}

// complete says that every member has a value; a total with a figure that its
// method withheld does not add up to anything.
func (e equation) complete() bool {
	return !slices.ContainsFunc(e.members(), func(r *row) bool { return r.figure.Value == nil })
}

// safe says that the total narrows no hidden count to fewer than leastWidth
// values (or to fewer than the floor leaves, where that is less). A reader
// knows of a count under the floor that it is from 0 to the floor less one, and
// of any other hidden count that it is the floor or more.
func (e equation) safe(floor int) bool {
	if !e.complete() {
		return true
	}
	hidden, sum := e.hiddenParts()
	if e.whole.hidden != "" {
		return len(hidden) > 0 // else the parts sum to it
	}
	for _, r := range hidden {
		least, most := 0.0, 0.0 // what the others can hold
		for _, other := range hidden {
			if other != r {
				low, high := other.bounds(floor)
				least, most = least+low, most+high
			}
		}
		low, high := r.bounds(floor)
		low, high = max(low, sum-most), min(high, sum-least)
		if high-low+1 < float64(min(leastWidth, floor)) {
			return false
		}
	}
	return true
}

// bounds are the values that a reader must think possible for a hidden count
// looked at alone.
func (r *row) bounds(floor int) (low, high float64) {
	if r.below > 0 {
		return 0, float64(r.below - 1)
	}
	return float64(floor), math.Inf(1)
}

// hideOne hides one more member of an unsafe total and reports whether it found
// one. It prefers what costs the reader least: a part that is zero, where that
// helps, printed as if it were a small count; then the smallest part that makes
// the total safe; then the whole. Equals go by id.
func (e equation) hideOne(floor int) bool {
	hidden, sum := e.hiddenParts()
	zeroHelps := e.whole.hidden != "" || (len(hidden) == 1 && sum >= leastWidth-1)
	var zero, companion *row
	for _, p := range e.parts {
		switch v := *p.figure.Value; {
		case p.hidden != "":
		case v == 0 && zero == nil:
			zero = p
		case v == 0:
		case e.whole.hidden == "" && sum+v-float64(floor) < leastWidth-1:
		case companion == nil || v < *companion.figure.Value:
			companion = p
		}
	}
	switch {
	case zero != nil && zeroHelps:
		zero.hideAsSmall(floor)
	case companion != nil:
		companion.hideBeside()
	case e.whole.hidden == "":
		e.whole.hideBeside()
	default:
		return false
	}
	return true
}

func (r *row) hideBeside() {
	r.hide("Hidden so that a smaller count cannot be worked out from a total.")
}
