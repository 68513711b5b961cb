package cox

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival/internal/order"

	"gonum.org/v1/gonum/stat/distuv"
)

// Concordance is the share of pairs of persons, one of whom had the event while
// the other was still at risk, in which the model gave the earlier one the
// higher hazard; a half counts where it gave both the same. 0.5 is chance.
//
// Output: value between 0 and 1, SE by the infinitesimal jackknife over
// persons, interval symmetric and cut at 0 and 1. Pairs are formed within
// strata; at equal times a censored row outlives an event, and two events are
// no pair.
//
// Errors: stats.ErrTooFew when there is no such pair.
//
// Method: Harrell (JAMA 1982;247:2543). Agrees with survival::concordance.
//
// Cost: rows x log rows.
func (m *Model) Concordance() (stats.Estimate, error) {
	l := m.layout
	eta := make([]float64, len(l.time))
	for i := range eta {
		for a, x := range l.x[i*l.p : (i+1)*l.p] {
			eta[i] += m.top.beta[a] * x
		}
		if l.offset != nil {
			eta[i] += l.offset[i]
		}
	}
	// good and pairs of each position: weights of its pairs that agree (a half
	// where equal) and of all, as the earlier and as the later of the two.
	good, pairs := make([]float64, len(eta)), make([]float64, len(eta))
	total := 0.0
	for s := range l.strata {
		total += l.countPairs(s, eta, good, pairs)
	}
	if total == 0 {
		return stats.Estimate{}, fmt.Errorf("concordance: no event while somebody else was at risk: %w", stats.ErrTooFew)
	}
	value := 0.0
	for i := range eta {
		value += l.weightAt(i) * good[i]
	}
	value /= 2 * total
	influence := make([]float64, m.Persons)
	for i := range eta {
		influence[m.personOf(i)] += l.weightAt(i) * (good[i] - value*pairs[i]) / total
	}
	variance := 0.0
	for _, u := range influence {
		variance += u * u
	}
	se := math.Sqrt(variance)
	z := distuv.UnitNormal.Quantile(0.5 + m.Level/2)
	return stats.Estimate{
		Value: value, SE: se, Level: m.Level, N: m.Persons, Events: m.Events,
		Low: math.Max(0, value-z*se), High: math.Min(1, value+z*se),
		Method: "concordance, infinitesimal jackknife by person",
	}, nil
}

// countPairs fills good and pairs for one stratum and returns the weight of
// all its pairs.
func (l *layout) countPairs(s int, eta, good, pairs []float64) float64 {
	from, to := l.bounds[s], l.bounds[s+1]
	rank := ranks(eta[from:to])
	total := 0.0
	at := func(i int) (float64, int) { return l.weightAt(i), rank[i-from] }

	// Latest first: each event against those at risk after it.
	later := newTree(to - from)
	leave := from
	l.eachTime(from, to, func(first, next int) {
		for i := first; i < next; i++ {
			if !l.event[i] {
				w, r := at(i)
				later.add(r, w)
			}
		}
		if l.entry != nil {
			for ; leave < to && l.entry[l.leaving[leave]] >= l.time[first]; leave++ {
				w, r := at(int(l.leaving[leave]))
				later.add(r, -w)
			}
		}
		for i := first; i < next; i++ {
			if l.event[i] {
				w, r := at(i)
				below, same, all := later.split(r)
				good[i] += below + same/2
				pairs[i] += all
				total += w * all
			}
		}
		for i := first; i < next; i++ {
			if l.event[i] {
				w, r := at(i)
				later.add(r, w)
			}
		}
	})

	// Earliest first: each row against the events of its time at risk.
	earlier := newTree(to - from)
	meet := func(i int, sign float64) {
		_, r := at(i)
		below, same, all := earlier.split(r)
		good[i] += sign * (all - below - same/2)
		pairs[i] += sign * all
	}
	enter := to - 1
	for next := to; next > from; {
		first := next - 1
		for first > from && l.time[first-1] == l.time[next-1] {
			first--
		}
		if l.entry != nil {
			for ; enter >= from && l.entry[l.leaving[enter]] < l.time[first]; enter-- {
				meet(int(l.leaving[enter]), -1)
			}
		}
		for i := first; i < next; i++ {
			if l.event[i] {
				meet(i, 1)
			}
		}
		for i := first; i < next; i++ {
			if l.event[i] {
				w, r := at(i)
				earlier.add(r, w)
			}
		}
		for i := first; i < next; i++ {
			if !l.event[i] {
				meet(i, 1)
			}
		}
		next = first
	}
	return total
}

// eachTime visits the runs of equal time among positions from..to.
func (l *layout) eachTime(from, to int, visit func(first, next int)) {
	for first := from; first < to; {
		next := first + 1
		for next < to && l.time[next] == l.time[first] {
			next++
		}
		visit(first, next)
		first = next
	}
}

// ranks numbers the distinct values from 0 in ascending order.
func ranks(xs []float64) []int {
	out := make([]int, len(xs))
	rank, last := -1, math.Inf(-1)
	for _, r := range order.Of(xs) {
		if x := xs[r]; x != last || rank < 0 {
			rank++
			last = x
		}
		out[r] = rank
	}
	return out
}

// tree holds weights by rank with their sums (a Fenwick tree).
type tree struct {
	sums []float64
	own  []float64
	all  float64
}

func newTree(n int) *tree { return &tree{sums: make([]float64, n+1), own: make([]float64, n)} }

func (t *tree) add(rank int, w float64) {
	t.own[rank] += w
	t.all += w
	for i := rank + 1; i < len(t.sums); i += i & -i {
		t.sums[i] += w
	}
}

// split returns the weight below a rank, at it, and of all.
func (t *tree) split(rank int) (below, same, all float64) {
	for i := rank; i > 0; i -= i & -i {
		below += t.sums[i]
	}
	return below, t.own[rank], t.all
}
