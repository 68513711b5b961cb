package survival

import (
	"fmt"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/mat"
)

// GrayTest tests whether groups of persons differ in the share that has the
// end of cause 1 before any other end.
//
// Input: Data with Event 0, 1 (the cause tested) or 2 (any other end), Entry
// and Weight nil; group, n and strata as LogRank. Person is not used.
//
// Output: a Test of the subdistribution of cause 1; Observed counts its events.
//
// Errors: as LogRank; stats.ErrRange when Entry is given, as the test is not
// defined for late entry.
//
// Method: Gray (Ann Stat 1988;16:1141) with weight 1. With R the risk set of
// group k over its event-free share just before, the covariance of the scores
// sums, over the events of each group k, the squares of
//
//	a_ik + t (c_ik(end) - c_ik)   for cause 1, t = 1 - (1-F0)/S_k
//	       t (c_ik(end) - c_ik)   for others,  t = (1-F0)/S_k
//
// Agrees with cmprsk::cuminc.
//
// Cost: a radix sort, then two passes of rows plus times x n^3.
func GrayTest(in Data, group []int, n int, strata []int) (Test, error) {
	if in.Entry != nil {
		return Test{}, fmt.Errorf("test by Gray with late entry: %w", stats.ErrRange)
	}
	gs, err := newGroups(in, group, n, 2, strata)
	if err != nil {
		return Test{}, fmt.Errorf("test by Gray: %w", err)
	}
	out := Test{Observed: make([]float64, n), Expected: make([]float64, n), N: len(in.Time), Method: "Gray's test"}
	if len(gs.strata) > 1 {
		out.Method = fmt.Sprintf("Gray's test within %d strata", len(gs.strata))
	}
	v := mat.NewSymDense(n, nil)
	for s := range gs.strata {
		grayStratum(gs, s, &out, v)
	}
	out.Events = int(sum(out.Observed))
	if out.Events == 0 {
		return Test{}, fmt.Errorf("test by Gray, cause 1: %w", stats.ErrNoEvents)
	}
	u := make([]float64, n)
	for g := range u {
		u[g] = out.Observed[g] - out.Expected[g]
	}
	if out.Statistic, out.DF, out.P, err = chiSquare(u, v); err != nil {
		return Test{}, fmt.Errorf("test by Gray: %w", err)
	}
	return out, nil
}

func grayStratum(gs *groups, s int, out *Test, v *mat.SymDense) {
	g := newGray(gs.n)
	gs.walk(s, func(st step) {
		if !g.advance(st) {
			return
		}
		for k, e := range st.events[0] {
			out.Observed[k] += e
			if st.risk[k] > 0 && g.weighted > 0 {
				out.Expected[k] += g.d * st.risk[k] * (1 - g.incBefore[k]) / (g.freeBefore[k] * g.weighted)
			}
		}
	})
	end := g.c
	g = newGray(gs.n)
	reach := make([]float64, gs.n)
	gs.walk(s, func(st step) {
		if !g.advance(st) {
			return
		}
		for k, r := range st.risk {
			if r == 0 {
				continue
			}
			ratio := 0.0
			if g.free[k] > 0 {
				ratio = (1 - g.f0) / g.free[k]
			}
			if g.d > 0 {
				t, tie := 1-ratio, 1.0
				if g.d > 1 {
					tie = 1 - (g.d-1)/(g.total*g.freeBefore[k]-1)
				}
				for i := range reach {
					reach[i] = g.a[i][k] + t*(end[i][k]-g.c[i][k])
				}
				addOuter(v, reach, tie*g.freeBefore[k]*g.d/(g.total*r))
			}
			if d2 := st.events[1][k]; d2 > 0 && g.free[k] > 0 {
				tie := 1.0
				if d2 > 1 {
					tie = 1 - (d2-1)/(r-1)
				}
				for i := range reach {
					reach[i] = ratio * (end[i][k] - g.c[i][k])
				}
				addOuter(v, reach, tie*g.freeBefore[k]*g.freeBefore[k]*d2/(r*r))
			}
		}
	})
}

func addOuter(v *mat.SymDense, x []float64, factor float64) {
	for i := range x {
		for j := i; j < len(x); j++ {
			v.SetSym(i, j, v.At(i, j)+factor*x[i]*x[j])
		}
	}
}

// gray is the state of the test at one time.
type gray struct {
	freeBefore, free []float64 // event-free share of each group
	incBefore, inc   []float64 // its incidence of cause 1
	f0Before, f0     float64   // pooled incidence under the hypothesis
	d                float64   // events of cause 1, all groups
	total            float64   // sum of risk sets over event-free shares
	weighted         float64   // the same times 1 - incidence
	a, c             [][]float64
}

func newGray(n int) *gray {
	g := &gray{
		freeBefore: make([]float64, n), free: make([]float64, n),
		incBefore: make([]float64, n), inc: make([]float64, n),
		a: make([][]float64, n), c: make([][]float64, n),
	}
	for k := range n {
		g.free[k] = 1
		g.a[k], g.c[k] = make([]float64, n), make([]float64, n)
	}
	return g
}

// advance moves the state to the time of the step; false when nothing happened.
func (g *gray) advance(st step) bool {
	g.d = sum(st.events[0])
	if g.d == 0 && sum(st.events[1]) == 0 {
		return false
	}
	copy(g.freeBefore, g.free)
	copy(g.incBefore, g.inc)
	g.f0Before = g.f0
	g.total, g.weighted = 0, 0
	share := make([]float64, len(st.risk)) // risk set over event-free share
	for k, r := range st.risk {
		if r == 0 {
			continue
		}
		g.free[k] = g.freeBefore[k] * (r - st.events[0][k] - st.events[1][k]) / r
		g.inc[k] = g.incBefore[k] + g.freeBefore[k]*st.events[0][k]/r
		share[k] = r / g.freeBefore[k]
		g.total += share[k]
		g.weighted += share[k] * (1 - g.incBefore[k])
	}
	g.f0 = g.f0Before + g.d/g.total
	for i := range share {
		for k := range share {
			g.a[i][k] = -share[i] * share[k] / g.total
			if i == k {
				g.a[i][k] += share[i]
			}
			if g.d > 0 && g.f0Before < 1 {
				g.c[i][k] += g.a[i][k] * g.d / (g.total * (1 - g.f0Before))
			}
		}
	}
	return true
}
