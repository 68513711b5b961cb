package survival

import (
	"fmt"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/mat"
)

// LogRank tests whether groups of persons have the event at different rates,
// giving every time the same weight. It compares the events of each group with
// those expected from the persons then at risk.
//
// Input: Data with Event 0 or 1 (competing ends as 0: the test is then of the
// rate of the cause), Weight nil; group with a value 0..n-1 a row; n groups, of
// which some may be empty; strata with a value a row, nil for none: groups are
// compared within strata. Person is not used: rows count as independent.
//
// Output: a Test; DF is the number of groups that can be compared, less one.
//
// Errors: those of KaplanMeier, stats.ErrOneGroup, stats.ErrNoEvents, and
// stats.ErrNoVariation when no two groups were ever at risk together.
//
// Method: Mantel (Cancer Chemother Rep 1966;50:163) with the hypergeometric
// variance. Agrees with survival::survdiff.
//
// Cost: a radix sort, then linear in rows plus times x n^2.
func LogRank(in Data, group []int, n int, strata []int) (Test, error) {
	gs, err := newGroups(in, group, n, 1, strata)
	if err != nil {
		return Test{}, fmt.Errorf("log-rank test: %w", err)
	}
	out := Test{
		Observed: make([]float64, n), Expected: make([]float64, n), N: len(in.Time),
		Method: "log-rank test",
	}
	if len(gs.strata) > 1 {
		out.Method = fmt.Sprintf("log-rank test within %d strata", len(gs.strata))
	}
	v := mat.NewSymDense(n, nil)
	for s := range gs.strata {
		gs.walk(s, func(st step) {
			events := st.events[0]
			d, r := sum(events), sum(st.risk)
			if d == 0 {
				return
			}
			factor := 0.0 // a risk set of one has no variance
			if r > 1 {
				factor = d * (r - d) / (r - 1)
			}
			for g, x := range st.risk {
				out.Observed[g] += events[g]
				if x == 0 {
					continue
				}
				out.Expected[g] += d * x / r
				v.SetSym(g, g, v.At(g, g)+factor*x/r*(1-x/r))
				for h := g + 1; h < n; h++ {
					v.SetSym(g, h, v.At(g, h)-factor*x/r*st.risk[h]/r)
				}
			}
		})
	}
	out.Events = int(sum(out.Observed))
	if out.Events == 0 {
		return Test{}, fmt.Errorf("log-rank test: %w", stats.ErrNoEvents)
	}
	u := make([]float64, n)
	for g := range u {
		u[g] = out.Observed[g] - out.Expected[g]
	}
	if out.Statistic, out.DF, out.P, err = chiSquare(u, v); err != nil {
		return Test{}, fmt.Errorf("log-rank test: %w", err)
	}
	return out, nil
}
