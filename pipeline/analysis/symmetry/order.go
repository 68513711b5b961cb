package symmetry

import (
	"cmp"
	"slices"

	"evenlimb/pipeline/warehouse"
)

// inOrder returns the input with its rows in order of their keys. Rows that come
// so are not copied: they are many.
func inOrder(in Input) Input {
	in.Episodes = sorted(in.Episodes, func(a, b warehouse.SymmetryEpisode) int { return cmp.Compare(a.EpisodeKey, b.EpisodeKey) })
	in.Pairs = sorted(in.Pairs, func(a, b warehouse.SidePair) int {
		return cmp.Or(cmp.Compare(a.EpisodeKey, b.EpisodeKey), cmp.Compare(a.Measure, b.Measure), cmp.Compare(a.Day, b.Day))
	})
	in.Changes = sorted(in.Changes, func(a, b warehouse.LimbChange) int {
		return cmp.Or(cmp.Compare(a.EpisodeKey, b.EpisodeKey), cmp.Compare(a.Measure, b.Measure), cmp.Compare(a.Day, b.Day))
	})
	return in
}

func sorted[R any](rows []R, order func(a, b R) int) []R {
	if slices.IsSortedFunc(rows, order) {
		return rows
	}
	rows = slices.Clone(rows)
	slices.SortFunc(rows, order)
	return rows
}

// picture is an injury type and a measure.
type picture struct{ injury, measure string }

// places are where the rows of a picture stand in the input, in its order.
type places struct{ pairs, changes []int }

// index finds the rows of every picture, so that not all rows are looked at for
// each.
func (m *maker) index() {
	m.rowsOf = map[picture]places{}
	for i := range m.in.Pairs {
		key := picture{m.in.Pairs[i].InjuryType, m.in.Pairs[i].Measure}
		at := m.rowsOf[key]
		at.pairs = append(at.pairs, i)
		m.rowsOf[key] = at
	}
	for i := range m.in.Changes {
		key := picture{m.in.Changes[i].InjuryType, m.in.Changes[i].Measure}
		at := m.rowsOf[key]
		at.changes = append(at.changes, i)
		m.rowsOf[key] = at
	}
}
