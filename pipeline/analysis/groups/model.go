package groups

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"evenlimb/pipeline/stats"
)

// design says which columns of a regression on factors a row stands in: the
// constant, and one for each level of each factor but the first.
type design struct {
	columns int
	at      map[string]map[string]int // column by factor and level; 0 for the first level
	active  [][]int                   // columns of each row
}

func newDesign(rows []row, factors []factor) design {
	d := design{columns: 1, at: map[string]map[string]int{}}
	for _, f := range factors {
		d.at[f.name] = map[string]int{}
		for i, l := range f.levels {
			if i > 0 {
				d.at[f.name][l] = d.columns
				d.columns++
			}
		}
	}
	for _, r := range rows {
		active := []int{0}
		for _, f := range factors {
			if c := d.at[f.name][r.of[f.name]]; c > 0 {
				active = append(active, c)
			}
		}
		d.active = append(d.active, active)
	}
	return d
}

// fit is least squares of each outcome on the columns, rows counting weight
// times. With factors alone the sums of products are counts, which makes a draw
// of persons cheap. The error is stats.ErrCollinear where a draw lacks a level.
func (d design) fit(weight []float64, outcomes ...[]float64) ([][]float64, error) {
	p := d.columns
	xx := make([]float64, p*p)
	xy := make([]float64, p*len(outcomes))
	for i, active := range d.active {
		w := weight[i]
		if w == 0 {
			continue
		}
		for j, a := range active {
			for _, b := range active[j:] { // in rising order: the upper half is enough
				xx[a*p+b] += w
			}
			for k, y := range outcomes {
				xy[k*p+a] += w * y[i]
			}
		}
	}
	var factored mat.Cholesky
	if !factored.Factorize(mat.NewSymDense(p, xx)) || factored.Cond() > 1e10 {
		return nil, stats.ErrCollinear
	}
	out := make([][]float64, len(outcomes))
	for k := range outcomes {
		var b mat.VecDense
		if err := factored.SolveVecTo(&b, mat.NewVecDense(p, xy[k*p:(k+1)*p])); err != nil {
			return nil, stats.ErrCollinear
		}
		out[k] = b.RawVector().Data
	}
	return out, nil
}

// contrast is the weights of the coefficients whose sum is a level less
// another, or less the others together in the mix that they have.
func (d design) contrast(name, level string, against map[string]float64) []float64 {
	c := make([]float64, d.columns)
	if at := d.at[name][level]; at > 0 {
		c[at]++
	}
	total := 0.0
	for _, share := range against {
		total += share
	}
	for other, share := range against {
		if at := d.at[name][other]; at > 0 {
			c[at] -= share / total
		}
	}
	return c
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// columnsOf are the dummy columns of the design without the constant and the
// columns of the factor left out, as Cox's model takes them.
func (d design) columnsOf(leave string) (columns [][]float64, place map[int]int) {
	out := map[int]bool{}
	for _, at := range d.at[leave] {
		out[at] = true
	}
	place = map[int]int{}
	for c := 1; c < d.columns; c++ {
		if !out[c] {
			place[c] = len(columns)
			columns = append(columns, make([]float64, len(d.active)))
		}
	}
	for i, active := range d.active {
		for _, a := range active {
			if k, ok := place[a]; ok {
				columns[k][i] = 1
			}
		}
	}
	return columns, place
}

// limited keeps a difference of shares to what it can be, and drops the rounding
// of sums below the 12th decimal.
func limited(x, most float64) float64 {
	return math.Round(max(-most, min(most, x))*1e12) / 1e12
}
