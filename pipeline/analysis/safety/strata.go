package safety

import (
	"cmp"
	"maps"
	"slices"

	"evenlimb/pipeline/warehouse"
)

// The strata that are no kind of event.
const (
	otherKinds = "other_kinds"
	serious    = "serious"
)

func (m *maker) seriousOnes(practice group) group {
	return practice.only(serious, "serious", func(e warehouse.SafetyEvent) bool { return e.Serious != nil && *e.Serious })
}

// strata are the events by kind. Kinds that fewer than KindFloor persons had
// are one stratum; where they are still fewer, the rarest of the others joins
// them, as else the few would be what is left of the total (decision: rare
// kinds).
func (m *maker) strata(practice group) []group {
	had := map[string]map[int]bool{} // who had it, by kind
	for _, e := range practice.events {
		if m.period.inRate(e) {
			if had[e.Kind] == nil {
				had[e.Kind] = map[int]bool{}
			}
			had[e.Kind][e.PersonKey] = true
		}
	}
	kinds := slices.SortedFunc(maps.Keys(had), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(had[a]), len(had[b])), cmp.Compare(a, b))
	})
	merged, others := 0, map[int]bool{}
	for _, kind := range kinds {
		if len(had[kind]) >= m.in.KindFloor && (merged == 0 || len(others) >= m.in.KindFloor) {
			break
		}
		merged++
		maps.Copy(others, had[kind])
	}
	var groups []group
	for _, kind := range slices.Sorted(slices.Values(kinds[merged:])) {
		groups = append(groups, practice.only(kind, "kind = "+literal(kind), func(e warehouse.SafetyEvent) bool { return e.Kind == kind }))
	}
	if merged > 0 {
		rest := slices.Sorted(slices.Values(kinds[:merged]))
		groups = append(groups, practice.only(otherKinds, "kind in "+literals(rest), func(e warehouse.SafetyEvent) bool { return slices.Contains(rest, e.Kind) }))
	}
	return groups
}
