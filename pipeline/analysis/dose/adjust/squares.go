package adjust

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
)

// squares is least squares of one design under many weightings. The products of
// every row with itself are formed once; a weighting then costs one sum of them,
// from which any selection of the columns can be fitted.
type squares struct {
	n, p  int
	rows  []float64 // n rows of p
	outer []float64 // n rows of p(p+1)/2: products of columns a >= b at a(a+1)/2+b
}

func newSquares(columns [][]float64) *squares {
	s := &squares{n: len(columns[0]), p: len(columns)}
	s.rows = make([]float64, s.n*s.p)
	size := s.p * (s.p + 1) / 2
	s.outer = make([]float64, s.n*size)
	for i := range s.n {
		row := s.row(i)
		for j, column := range columns {
			row[j] = column[i]
		}
		k := i * size
		for a, x := range row {
			for _, y := range row[:a+1] {
				s.outer[k] = x * y
				k++
			}
		}
	}
	return s
}

func (s *squares) row(i int) []float64 { return s.rows[i*s.p : (i+1)*s.p : (i+1)*s.p] }

// gram sums the products of the first k columns under the weights into out, which
// has k(k+1)/2 places.
func (s *squares) gram(weight, out []float64) {
	clear(out)
	size := s.p * (s.p + 1) / 2
	sum := blas64.Vector{N: len(out), Inc: 1, Data: out}
	for i, w := range weight {
		if w != 0 {
			blas64.Axpy(w, blas64.Vector{N: len(out), Inc: 1, Data: s.outer[i*size : i*size+len(out)]}, sum)
		}
	}
}

// moments sums weight times y times each of the first columns into out.
func (s *squares) moments(weight, y, out []float64) {
	clear(out)
	for i, w := range weight {
		if w == 0 {
			continue
		}
		f := w * y[i]
		for j, x := range s.row(i)[:len(out)] {
			out[j] += f * x
		}
	}
}

// negligible is the share of a column's squared length below which, once the
// columns before it are taken out, nothing is left of it.
const negligible = 1e-9

// solve finds the coefficients of the chosen columns from the sums of products
// and moments. A column that those before it tell is left out: its coefficient is
// 0 and its place in kept false. factor is room for the square of the number of
// columns chosen.
func solve(gram, moments []float64, chosen []int, factor, coef []float64, kept []bool) {
	n := len(chosen)
	at := func(a, b int) float64 {
		a, b = chosen[a], chosen[b]
		if a < b {
			a, b = b, a
		}
		return gram[a*(a+1)/2+b]
	}
	for j := range n {
		d := at(j, j)
		floor := negligible * d
		row := factor[j*n : j*n+j]
		for k := range row {
			sum := at(j, k)
			if !kept[k] {
				row[k] = 0
				continue
			}
			for l, x := range factor[k*n : k*n+k] {
				sum -= row[l] * x
			}
			row[k] = sum / factor[k*n+k]
			d -= row[k] * row[k]
		}
		if kept[j] = d > floor; kept[j] {
			factor[j*n+j] = math.Sqrt(d)
		} else {
			factor[j*n+j] = 1
		}
		sum := moments[chosen[j]]
		for k, x := range row {
			sum -= x * coef[k]
		}
		coef[j] = 0
		if kept[j] {
			coef[j] = sum / factor[j*n+j]
		}
	}
	for j := n - 1; j >= 0; j-- {
		if !kept[j] {
			coef[j] = 0
			continue
		}
		sum := coef[j]
		for k := j + 1; k < n; k++ {
			sum -= factor[k*n+j] * coef[k]
		}
		coef[j] = sum / factor[j*n+j]
	}
}
