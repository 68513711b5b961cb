// Package dense is the small linear algebra that the regression families share:
// square matrices of a few columns as flat row-major slices. What needs more
// uses gonum.
package dense

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Cholesky turns a symmetric matrix into its lower factor in place (the upper
// part becomes zero). It returns the first pivot that keeps less than
// tolerance of its diagonal element, or -1.
func Cholesky(a []float64, n int, tolerance float64) int {
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

// SolveLower overwrites b (n x m, row-major) with the solution of lower x = b.
func SolveLower(lower []float64, n int, b []float64, m int) {
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

// SolveLowerTransposed solves lower' x = b in place.
func SolveLowerTransposed(lower []float64, n int, b []float64, m int) {
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

// Dot is the inner product; b may be longer than a.
func Dot(a, b []float64) float64 {
	var s float64
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// Bilinear is a'Mb for a square row-major m.
func Bilinear(m, a, b []float64) float64 {
	var s float64
	for i, x := range a {
		if x != 0 {
			s += x * Dot(m[i*len(b):i*len(b)+len(b)], b)
		}
	}
	return s
}

// Multiply is the product of two n x n matrices.
func Multiply(a, b []float64, n int) []float64 {
	out := make([]float64, n*n)
	for i := range n {
		for k := range n {
			x := a[i*n+k]
			for j := range n {
				out[i*n+j] += x * b[k*n+j]
			}
		}
	}
	return out
}

// TraceOfProduct is the trace of ab, both n x n.
func TraceOfProduct(a, b []float64, n int) float64 {
	var s float64
	for i := range n {
		for k := range n {
			s += a[i*n+k] * b[k*n+i]
		}
	}
	return s
}

// Eigen is the spectral decomposition of a small symmetric matrix:
// eigenvalues in ascending order, eigenvectors as columns.
func Eigen(a []float64, n int) ([]float64, *mat.Dense) {
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			sym.SetSym(i, j, (a[i*n+j]+a[j*n+i])/2)
		}
	}
	var e mat.EigenSym
	e.Factorize(sym, true)
	var vectors mat.Dense
	e.VectorsTo(&vectors)
	return e.Values(nil), &vectors
}
