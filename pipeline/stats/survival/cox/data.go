// Package cox fits proportional hazards models: how much faster or slower an
// event comes for persons who differ in their covariates.
package cox

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/stats/survival/internal/order"
)

// Data is follow-up with covariates. Several rows of one person (the counting
// process form) carry Entry and the same Person. Nothing in it is changed; a
// Model keeps a reference to it: leave it alone while the model is in use.
type Data struct {
	survival.Data // Event is 0 or 1; ends by other causes are 0

	X      [][]float64 // X[j][i]: column j of row i
	Offset []float64   // added to the linear predictor; nil: 0
	Strata []int       // rows of one stratum share a baseline hazard; nil: one
}

// Ties names how events at the same time are taken.
type Ties int

// The ways to take ties.
const (
	Efron   Ties = iota // averages over the possible orders, the default
	Breslow             // every tied event has the full risk set
)

// Variance names the covariance of the coefficients.
type Variance int

// The covariances. Robust and CR2 hold when rows of a person are not
// independent or the hazards are not quite proportional.
const (
	// AutoVariance is Robust where a person has two rows or a weight is not 1,
	// and ModelBased otherwise.
	AutoVariance Variance = iota
	ModelBased            // inverse information
	Robust                // sandwich summed over persons (Lin & Wei 1989), as coxph(cluster=)
	// CR2 corrects the sandwich for few persons or clusters (Person then names
	// the cluster) and brings Satterthwaite's degrees of freedom.
	CR2
)

// Options of a fit; the zero value is Efron, AutoVariance, 95 %.
type Options struct {
	Ties     Ties
	Variance Variance
	Level    float64 // two-sided confidence level; 0 is 0.95
}

// layout is the data in the order in which risk sets are built: strata
// ascending, times descending, columns centred and scaled, a row together.
type layout struct {
	p       int
	rows    []int32 // input row of each position
	time    []float64
	event   []bool
	x       []float64 // p values a position
	weight  []float64 // nil: 1
	offset  []float64 // nil: 0
	entry   []float64 // nil: none
	leaving []int32   // positions by stratum, entry descending; nil without entry
	bounds  []int     // positions at which the strata begin, and the end
	strata  []int     // their names, ascending
	centre  []float64 // column means
	scale   []float64 // x is (column - centre) times scale
	events  int
}

func (d Data) check() error {
	if err := d.Check(1); err != nil {
		return err
	}
	n := len(d.Time)
	if len(d.X) == 0 {
		return fmt.Errorf("no columns of covariates; without them use survival.KaplanMeier: %w", stats.ErrEmpty)
	}
	for j, col := range d.X {
		if err := stats.CheckLength(fmt.Sprintf("column %d", j), len(col), n); err != nil {
			return err
		}
		if err := stats.CheckFinite(fmt.Sprintf("column %d", j), col); err != nil {
			return err
		}
	}
	if d.Offset != nil {
		if err := stats.CheckLength("offset", len(d.Offset), n); err != nil {
			return err
		}
		if err := stats.CheckFinite("offset", d.Offset); err != nil {
			return err
		}
	}
	if d.Strata != nil {
		return stats.CheckLength("strata", len(d.Strata), n)
	}
	return nil
}

func newLayout(d Data) (*layout, error) {
	n, p := len(d.Time), len(d.X)
	l := &layout{p: p, time: make([]float64, n), event: make([]bool, n)}
	l.rows, l.strata, l.bounds = descending(d.Time, d.Strata)
	for i, r := range l.rows {
		l.time[i] = d.Time[r]
		l.event[i] = d.Event[r] == 1
		if l.event[i] {
			l.events++
		}
	}
	if l.events == 0 {
		return nil, stats.ErrNoEvents
	}
	pick := func(xs []float64) []float64 {
		if xs == nil {
			return nil
		}
		out := make([]float64, n)
		for i, r := range l.rows {
			out[i] = xs[r]
		}
		return out
	}
	l.weight, l.offset, l.entry = pick(d.Weight), pick(d.Offset), pick(d.Entry)
	if l.entry != nil {
		var names []int
		if d.Strata != nil {
			names = make([]int, n)
			for i, r := range l.rows {
				names[i] = d.Strata[r]
			}
		}
		l.leaving, _, _ = descending(l.entry, names)
	}
	if err := l.fillColumns(d.X); err != nil {
		return nil, err
	}
	return l, nil
}

// descending returns the row numbers by stratum and falling time.
func descending(times []float64, strata []int) (rows []int32, names, bounds []int) {
	rows = order.Of(times)
	slices.Reverse(rows)
	if strata == nil {
		return rows, []int{0}, []int{0, len(rows)}
	}
	names = slices.Compact(slices.Sorted(slices.Values(strata)))
	parts := make([][]int32, len(names))
	for _, r := range rows {
		s, _ := slices.BinarySearch(names, strata[r])
		parts[s] = append(parts[s], r)
	}
	bounds = []int{0}
	rows = rows[:0:0]
	for _, part := range parts {
		rows = append(rows, part...)
		bounds = append(bounds, len(rows))
	}
	return rows, names, bounds
}

// fillColumns centres each column on its mean and scales it to a mean absolute
// deviation of 1, so that steps and tolerances mean the same in every unit.
func (l *layout) fillColumns(columns [][]float64) error {
	n := len(l.rows)
	l.x = make([]float64, n*l.p)
	l.centre, l.scale = make([]float64, l.p), make([]float64, l.p)
	each := 1 / float64(n)
	for j, col := range columns {
		mean, size := 0.0, 0.0
		for _, v := range col {
			mean += v * each
			if a := math.Abs(v); a > size {
				size = a
			}
		}
		deviation := 0.0
		for _, v := range col {
			deviation += math.Abs(v-mean) * each
		}
		if deviation <= 1e-14*size {
			return fmt.Errorf("column %d has one value only; leave it out: %w", j, stats.ErrNoVariation)
		}
		l.centre[j], l.scale[j] = mean, 1/deviation
	}
	if slices.ContainsFunc(l.centre, isInfinite) || slices.ContainsFunc(l.scale, isInfinite) {
		return fmt.Errorf("a column is too large to compute with; change its unit: %w", stats.ErrRange)
	}
	for j, col := range columns {
		centre, scale := l.centre[j], l.scale[j]
		at := j
		for _, r := range l.rows {
			l.x[at] = (col[r] - centre) * scale
			at += l.p
		}
	}
	return nil
}

func isInfinite(x float64) bool { return math.IsInf(x, 0) || math.IsNaN(x) }

func (l *layout) weightAt(i int) float64 {
	if l.weight == nil {
		return 1
	}
	return l.weight[i]
}
