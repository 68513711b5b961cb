// Package rare keeps injury types apart from those that too few people had to
// be told on their own. The few are told together, under result.OtherTypes:
// alone, each of their figures would be hidden, and the page of each type would
// be a list of what is not shown (decision: rare injury types).
package rare

// Split returns the types that at least floor persons had, and those that
// somebody had but fewer than that, both in the order given. A type that nobody
// had is in neither.
func Split(types []string, persons map[string]int, floor int) (own, few []string) {
	for _, t := range types {
		switch n := persons[t]; {
		case n >= floor && n > 0:
			own = append(own, t)
		case n > 0:
			few = append(few, t)
		}
	}
	return own, few
}

// Persons counts, by type, the distinct persons of rows.
func Persons[R any](rows []R, of func(row R) (injuryType string, person int, counts bool)) map[string]int {
	type had struct {
		injuryType string
		person     int
	}
	seen := map[had]bool{}
	counts := map[string]int{}
	for _, r := range rows {
		t, person, ok := of(r)
		if !ok || seen[had{t, person}] {
			continue
		}
		seen[had{t, person}] = true
		counts[t]++
	}
	return counts
}
