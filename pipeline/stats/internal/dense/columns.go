package dense

import "math"

// Collinear is the share of a column's squared length that has to be left when
// the columns before it are taken out; below, sums of squares cannot tell it
// from zero.
const Collinear = 1e-11

// Columns turns the p columns of a regression into orthonormal ones, row by
// row, without a copy of the data.
type Columns struct {
	P        int
	Triangle []float64 // upper: columns = orthonormal columns x triangle
	Inverse  []float64 // of Triangle

	raw [][]float64
}

// Orthonormalise finds the triangle by Cholesky of the cross-products, twice,
// which is as exact as Householder's QR for columns that pass the check
// (Yamamoto et al., ETNA 44, 2015). When a column is a combination of those
// before it, its index is returned, else -1.
func Orthonormalise(columns [][]float64) (c *Columns, collinear int) {
	p := len(columns)
	identity := make([]float64, p*p)
	for j := range p {
		identity[j*p+j] = 1
	}
	c = &Columns{P: p, Triangle: identity, Inverse: append([]float64(nil), identity...), raw: columns}
	for range 2 {
		factor := c.gram()
		if j := Cholesky(factor, p, Collinear); j >= 0 {
			return nil, j
		}
		c.Triangle = transposedTimes(factor, c.Triangle, p)
		c.Inverse = invertUpper(c.Triangle, p)
	}
	return c, -1
}

// Row writes row i of the orthonormal columns.
func (c *Columns) Row(row []float64, i int) {
	p := c.P
	for j := range row {
		row[j] = 0
	}
	for k, column := range c.raw {
		x := column[i]
		if x == 0 {
			continue
		}
		inverse := c.Inverse[k*p : k*p+p]
		for j := k; j < p; j++ {
			row[j] += x * inverse[j]
		}
	}
}

// Weights turns weights of the coefficients, or a row of the columns, into
// weights of the orthonormal coefficients.
func (c *Columns) Weights(weights []float64) []float64 {
	out := make([]float64, c.P)
	for k, w := range weights {
		for j := k; j < c.P; j++ {
			out[j] += w * c.Inverse[k*c.P+j]
		}
	}
	return out
}

// LogDeterminant is that of the cross-products of the columns.
func (c *Columns) LogDeterminant() float64 {
	var d float64
	for j := range c.P {
		d += 2 * math.Log(math.Abs(c.Triangle[j*c.P+j]))
	}
	return d
}

func (c *Columns) gram() []float64 {
	p := c.P
	sum, row := make([]float64, p*p), make([]float64, p)
	for i := range c.raw[0] {
		c.Row(row, i)
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
