package mixed

import (
	"evenlimb/pipeline/stats"
	"fmt"
	"math"
)

// collinear is the share of a column's squared length that has to be left when
// the columns before it are taken out; below, sums of squares cannot tell it
// from zero.
const collinear = 1e-11

// orthogonalise finds the triangle that makes the columns orthonormal, without
// a copy of the data: Cholesky of the cross-products, twice, which is as exact
// as Householder's QR for columns that pass the check (Yamamoto et al., ETNA
// 44, 2015).
func (pr *problem) orthogonalise(data Data) error {
	p := pr.p
	identity := make([]float64, p*p)
	for j := range p {
		identity[j*p+j] = 1
	}
	pr.triangle, pr.inverse = identity, append([]float64(nil), identity...)
	for pass := range 2 {
		gram := pr.gram(data.Columns)
		factor := append([]float64(nil), gram...)
		if j := cholesky(factor, p, collinear); j >= 0 {
			if pass == 0 {
				return fmt.Errorf("column %s: %w", data.Names[j], stats.ErrCollinear)
			}
			return fmt.Errorf("columns: %w", stats.ErrCollinear)
		}
		pr.triangle = transposedTimes(factor, pr.triangle, p)
		pr.inverse = invertUpper(pr.triangle, p)
	}
	return nil
}

// orthonormal writes row i of the orthonormal columns.
func (pr *problem) orthonormal(row []float64, columns [][]float64, i int) {
	p := pr.p
	for j := range row {
		row[j] = 0
	}
	for k, column := range columns {
		x := column[i]
		if x == 0 {
			continue
		}
		inverse := pr.inverse[k*p : k*p+p]
		for j := k; j < p; j++ {
			row[j] += x * inverse[j]
		}
	}
}

func (pr *problem) gram(columns [][]float64) []float64 {
	p := pr.p
	sum := make([]float64, p*p)
	row := make([]float64, p)
	for i := range pr.n {
		pr.orthonormal(row, columns, i)
		for a, x := range row {
			for b := 0; b <= a; b++ {
				sum[a*p+b] += x * row[b]
			}
		}
	}
	for a := range p {
		for b := range a {
			sum[b*p+a] = sum[a*p+b]
		}
	}
	return sum
}

// cholesky turns a symmetric matrix into its lower factor in place (the upper
// part becomes zero). It returns the first pivot that keeps less than
// tolerance of its diagonal element, or -1.
func cholesky(a []float64, n int, tolerance float64) int {
	for j := range n {
		d := a[j*n+j]
		floor := tolerance * d
		for k := range j {
			d -= a[j*n+k] * a[j*n+k]
		}
		if !(d > floor) {
			return j
		}
		d = math.Sqrt(d)
		a[j*n+j] = d
		for i := j + 1; i < n; i++ {
			s := a[i*n+j]
			for k := range j {
				s -= a[i*n+k] * a[j*n+k]
			}
			a[i*n+j] = s / d
			a[j*n+i] = 0
		}
	}
	return -1
}

// solveLower overwrites b (n x m, row-major) with the solution of lower x = b.
func solveLower(lower []float64, n int, b []float64, m int) {
	for i := range n {
		row := b[i*m : i*m+m]
		for k := range i {
			f := lower[i*n+k]
			if f == 0 {
				continue
			}
			other := b[k*m : k*m+m]
			for j := range row {
				row[j] -= f * other[j]
			}
		}
		for j := range row {
			row[j] /= lower[i*n+i]
		}
	}
}

// solveLowerTransposed solves lower' x = b in place.
func solveLowerTransposed(lower []float64, n int, b []float64, m int) {
	for i := n - 1; i >= 0; i-- {
		row := b[i*m : i*m+m]
		for k := i + 1; k < n; k++ {
			f := lower[k*n+i]
			if f == 0 {
				continue
			}
			other := b[k*m : k*m+m]
			for j := range row {
				row[j] -= f * other[j]
			}
		}
		for j := range row {
			row[j] /= lower[i*n+i]
		}
	}
}

// transposedTimes is lower' x upper, itself upper triangular.
func transposedTimes(lower, upper []float64, n int) []float64 {
	out := make([]float64, n*n)
	for i := range n {
		for j := i; j < n; j++ {
			var s float64
			for k := i; k <= j; k++ {
				s += lower[k*n+i] * upper[k*n+j]
			}
			out[i*n+j] = s
		}
	}
	return out
}

func invertUpper(upper []float64, n int) []float64 {
	out := make([]float64, n*n)
	for j := range n {
		out[j*n+j] = 1 / upper[j*n+j]
		for i := j - 1; i >= 0; i-- {
			var s float64
			for k := i + 1; k <= j; k++ {
				s += upper[i*n+k] * out[k*n+j]
			}
			out[i*n+j] = -s / upper[i*n+i]
		}
	}
	return out
}
