package queries

import (
	"fmt"
	"slices"
	"strings"
)

// Order returns the queries so that each comes after what it reads; among
// those that could come next the first by layer and name does. It fails when a
// query reads a table that nothing makes, and when queries read in a circle.
func Order(in []Query) ([]Query, error) {
	waiting := slices.SortedFunc(slices.Values(in), func(a, b Query) int {
		if d := slices.Index(Layers, a.Schema) - slices.Index(Layers, b.Schema); d != 0 {
			return d
		}
		return strings.Compare(a.Name, b.Name)
	})
	makers := map[string]Query{}
	for _, q := range in {
		makers[q.Table()] = q
	}
	for _, q := range waiting {
		for _, table := range q.Reads {
			schema, _, _ := strings.Cut(table, ".")
			if _, made := makers[table]; !made && !slices.Contains(Roots, schema) {
				return nil, fmt.Errorf("queries/%s reads %s, which no query makes", q.File, table)
			}
		}
	}
	done := map[string]bool{}
	ready := func(q Query) bool {
		return !slices.ContainsFunc(q.Reads, func(table string) bool {
			_, made := makers[table]
			return made && !done[table]
		})
	}
	ordered := make([]Query, 0, len(in))
	for len(waiting) > 0 {
		i := slices.IndexFunc(waiting, ready)
		if i < 0 {
			return nil, fmt.Errorf("queries read in a circle: %s", circle(waiting[0], makers, done))
		}
		ordered = append(ordered, waiting[i])
		done[waiting[i].Table()] = true
		waiting = slices.Delete(waiting, i, i+1)
	}
	return ordered, nil
}

// circle walks from q along tables that are not done until one comes again.
func circle(q Query, makers map[string]Query, done map[string]bool) string {
	var path []string
	for !slices.Contains(path, q.Table()) {
		path = append(path, q.Table())
		i := slices.IndexFunc(q.Reads, func(table string) bool {
			_, made := makers[table]
			return made && !done[table]
		})
		q = makers[q.Reads[i]]
	}
	start := slices.Index(path, q.Table())
	return strings.Join(append(path[start:], q.Table()), " reads ")
}

// ByUrgency returns the queries so that those come first from which the longest
// chain of others leads on; among equals the order stays. Each must come after
// what it reads.
func ByUrgency(in []Query) []Query {
	chain := map[string]int{}
	for _, q := range slices.Backward(in) {
		for _, table := range q.Reads {
			chain[table] = max(chain[table], chain[q.Table()]+1)
		}
	}
	out := slices.Clone(in)
	slices.SortStableFunc(out, func(a, b Query) int { return chain[b.Table()] - chain[a.Table()] })
	return out
}
