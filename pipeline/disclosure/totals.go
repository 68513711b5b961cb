package disclosure

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

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

// hideComplements hides further counts until no equation has exactly one
// hidden member, which anybody could work out from the others. Each pass that
// changes something hides one figure more, so this ends.
func hideComplements(equations []equation) {
	for changed := true; changed; {
		changed = false
		for _, e := range equations {
			if companion := e.companion(); companion != nil {
				companion.hide("Hidden so that a smaller count cannot be worked out from a total.")
				changed = true
			}
		}
	}
}

// companion returns the figure to hide beside the only hidden one: the smallest
// other part above zero, the first by id among equals; the whole when no other
// part is above zero. Nil when nothing has to be hidden.
func (e equation) companion() *row {
	var lone *row
	for _, r := range e.members() {
		switch {
		case r.figure.Value == nil:
			return nil // withheld by its method, so the others do not add up to anything
		case r.hidden != "" && lone != nil:
			return nil
		case r.hidden != "":
			lone = r
		}
	}
	if lone == nil {
		return nil
	}
	var smallest *row
	for _, p := range e.parts {
		if p == lone || *p.figure.Value == 0 {
			continue
		}
		if smallest == nil || *p.figure.Value < *smallest.figure.Value {
			smallest = p
		}
	}
	if smallest == nil && lone != e.whole {
		return e.whole
	}
	return smallest
}
