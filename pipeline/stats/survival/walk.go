package survival

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/order"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Test is the outcome of a test of whether groups differ.
type Test struct {
	Statistic float64 // chi-square
	DF        int
	P         float64
	Observed  []float64 // events by group
	Expected  []float64 // events by group had the groups not differed
	N         int       // rows
	Events    int
	Method    string
	Warnings  []stats.Warning
}

// step is what happens at one distinct time in one stratum.
type step struct {
	risk   []float64   // at risk just before, by group
	events [][]float64 // by cause, 1 first, and group
}

// sum over groups.
func sum(xs []float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x
	}
	return s
}

// groups is follow-up dealt to groups and strata, ready to be walked.
type groups struct {
	in     Data
	group  []int
	n      int // groups
	causes int
	strata [][]int32 // rows by time, stratum by stratum
	enter  [][]int32 // the same rows by entry, nil without late entry
}

// newGroups checks and sorts the rows. strata nil is a single stratum.
func newGroups(in Data, group []int, n, causes int, strata []int) (*groups, error) {
	if err := in.Check(causes); err != nil {
		return nil, err
	}
	if in.Weight != nil {
		return nil, fmt.Errorf("the test takes no weights; use the score test of a weighted Cox model: %w", stats.ErrRange)
	}
	if err := stats.CheckLength("group", len(group), len(in.Time)); err != nil {
		return nil, err
	}
	if strata != nil {
		if err := stats.CheckLength("strata", len(strata), len(in.Time)); err != nil {
			return nil, err
		}
	}
	seen := map[int]bool{}
	for i, g := range group {
		if g < 0 || g >= n {
			return nil, fmt.Errorf("group[%d] is %d, it must lie in 0..%d: %w", i, g, n-1, stats.ErrRange)
		}
		seen[g] = true
	}
	if len(seen) < 2 {
		return nil, fmt.Errorf("%d of %d groups have rows: %w", len(seen), n, stats.ErrOneGroup)
	}
	gs := &groups{in: in, group: group, n: n, causes: causes}
	gs.strata = deckByStratum(order.Of(in.Time), strata)
	if in.Entry != nil {
		gs.enter = deckByStratum(order.Of(in.Entry), strata)
	}
	return gs, nil
}

// deckByStratum splits sorted rows by stratum, strata in ascending order.
func deckByStratum(rows []int32, strata []int) [][]int32 {
	if strata == nil {
		return [][]int32{rows}
	}
	names := slices.Compact(slices.Sorted(slices.Values(strata)))
	out := make([][]int32, len(names))
	for _, r := range rows {
		s, _ := slices.BinarySearch(names, strata[r])
		out[s] = append(out[s], r)
	}
	return out
}

// walk visits the distinct times of stratum s in ascending order. The step is
// reused from call to call.
func (gs *groups) walk(s int, visit func(step)) {
	rows := gs.strata[s]
	st := step{risk: make([]float64, gs.n)}
	for range gs.causes {
		st.events = append(st.events, make([]float64, gs.n))
	}
	var enter []int32
	if gs.enter != nil {
		enter = gs.enter[s]
	} else {
		for _, r := range rows {
			st.risk[gs.group[r]]++
		}
	}
	for i := 0; i < len(rows); {
		t := gs.in.Time[rows[i]]
		for len(enter) > 0 && gs.in.Entry[enter[0]] < t {
			st.risk[gs.group[enter[0]]]++
			enter = enter[1:]
		}
		for _, ev := range st.events {
			clear(ev)
		}
		next := i
		for ; next < len(rows) && gs.in.Time[rows[next]] == t; next++ {
			if k := gs.in.Event[rows[next]]; k > 0 {
				st.events[k-1][gs.group[rows[next]]]++
			}
		}
		visit(st)
		for ; i < next; i++ {
			st.risk[gs.group[rows[i]]]--
		}
	}
}

// chiSquare tests that the scores u, with singular covariance v, have mean 0:
// u' v^- u over the eigenvectors whose eigenvalues are above 1e-10 of the
// largest, their number being the degrees of freedom.
func chiSquare(u []float64, v *mat.SymDense) (statistic float64, df int, p float64, err error) {
	var eigen mat.EigenSym
	if !eigen.Factorize(v, true) {
		return 0, 0, 0, fmt.Errorf("covariance of the scores: %w", stats.ErrNotConverged)
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	largest := values[len(values)-1]
	if !(largest > 0) {
		return 0, 0, 0, fmt.Errorf("no two groups were at risk at the same event: %w", stats.ErrNoVariation)
	}
	for i, lambda := range values {
		if lambda <= 1e-10*largest {
			continue
		}
		dot := 0.0
		for j, x := range u {
			dot += x * vectors.At(j, i)
		}
		statistic += dot * dot / lambda
		df++
	}
	p = distuv.ChiSquared{K: float64(df)}.Survival(statistic)
	return statistic, df, math.Min(1, math.Max(0, p)), nil
}
