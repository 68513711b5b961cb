// Package spline builds the columns of a natural cubic regression spline: a
// smooth curve made of cubic pieces between knots, straight beyond the
// boundary, that enters any regression as ordinary columns.
package spline

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
)

// order is the order of the B-splines below: four coefficients, a cubic.
const order = 4

// Natural is a natural cubic spline basis with fixed knots. It is read-only
// once made and may be shared between goroutines.
type Natural struct {
	knots     []float64 // boundary four times at each end, inner knots between
	intercept bool
	columns   int
	project   []float64 // B-spline coefficients to natural ones, row-major, one row per B-spline kept
	atLow     []float64 // value, then slope, of each B-spline at the lower boundary
	atHigh    []float64
}

// NewNatural gives the basis with which a regression draws a smooth curve over
// weeks, dose or another measure, straight outside the boundary.
//
// knots are the inner knots in the unit of x, strictly increasing and strictly
// between low and high; there may be none, which gives a straight line. With
// intercept the columns also carry the constant; without, the model needs its
// own. The basis has len(knots)+1 columns, one more with intercept.
//
// Errors: stats.ErrNotFinite for a knot or boundary that is not finite,
// stats.ErrRange for knots out of order or not inside the boundary.
//
// Method: cubic B-splines by the Cox-de Boor recursion, projected onto the
// space whose second derivative is zero at both boundaries with the Householder
// reflections of LINPACK, so that the columns themselves agree with ns() of the
// R package splines, not only their span. Cost: once, cubic in the knots.
func NewNatural(knots []float64, low, high float64, intercept bool) (*Natural, error) {
	if err := stats.CheckFinite("knots", knots); err != nil {
		return nil, err
	}
	if err := stats.CheckFinite("boundary", []float64{low, high, high - low}); err != nil {
		return nil, err
	}
	previous := low
	for i, k := range knots {
		if k <= previous || k >= high {
			return nil, fmt.Errorf("knots[%d] = %v: knots increase strictly inside the boundary %v to %v: %w", i, k, low, high, stats.ErrRange)
		}
		previous = k
	}
	if low >= high {
		return nil, fmt.Errorf("boundary %v to %v is empty: %w", low, high, stats.ErrRange)
	}

	n := &Natural{intercept: intercept, columns: len(knots) + 1}
	if intercept {
		n.columns++
	}
	n.knots = make([]float64, 0, len(knots)+2*order)
	for range order {
		n.knots = append(n.knots, low)
	}
	n.knots = append(n.knots, knots...)
	for range order {
		n.knots = append(n.knots, high)
	}
	n.atLow = n.valueAndSlope(low)
	n.atHigh = n.valueAndSlope(high)
	n.project = projection(n.keep(n.bsplines(low, 2)), n.keep(n.bsplines(high, 2)))
	return n, nil
}

// Columns is the number of columns of the basis.
func (n *Natural) Columns() int { return n.columns }

// Row gives the basis at one value of x: what one observation, or one point of
// a drawn curve, contributes to the design. It has Columns() values without
// unit. Outside the boundary the row continues linearly.
//
// Errors: stats.ErrNotFinite when x is not finite. Agrees with
// predict(ns(...), x) of the R package splines. Cost: linear in the knots.
func (n *Natural) Row(x float64) ([]float64, error) {
	if err := stats.CheckFinite("x", []float64{x}); err != nil {
		return nil, err
	}
	row := make([]float64, n.columns)
	n.fill(row, x)
	return row, nil
}

// Design gives the basis at every x as columns: Columns() slices of len(x)
// values, ready to stand beside the other columns of a regression.
//
// Errors: stats.ErrEmpty without x, stats.ErrNotFinite for an x that is not
// finite. Agrees with ns() of the R package splines. Cost: linear in len(x).
func (n *Natural) Design(x []float64) ([][]float64, error) {
	if len(x) == 0 {
		return nil, fmt.Errorf("x: %w", stats.ErrEmpty)
	}
	if err := stats.CheckFinite("x", x); err != nil {
		return nil, err
	}
	columns := make([][]float64, n.columns)
	for j := range columns {
		columns[j] = make([]float64, len(x))
	}
	row := make([]float64, n.columns)
	for i, v := range x {
		n.fill(row, v)
		for j := range columns {
			columns[j][i] = row[j]
		}
	}
	return columns, nil
}

// Line gives the coefficients with which the basis draws the straight line x
// itself: x = constant + the sum of coefficients times columns. A test of
// curvature asks whether a fitted curve leaves this direction. With intercept
// the constant is zero. Cost: quadratic in the knots.
func (n *Natural) Line() (constant float64, coefficients []float64) {
	// The line has the Greville abscissae as its B-spline coefficients; the
	// first of them is the lower boundary, which becomes the constant when the
	// first B-spline is dropped.
	if !n.intercept {
		constant = n.knots[0]
	}
	abscissae := make([]float64, len(n.knots)-order)
	for i := range abscissae {
		abscissae[i] = (n.knots[i+1]+n.knots[i+2]+n.knots[i+3])/3 - constant
	}
	coefficients = make([]float64, n.columns)
	n.apply(coefficients, n.keep(abscissae))
	return constant, coefficients
}

// keep drops the first B-spline where the basis carries no constant.
func (n *Natural) keep(b []float64) []float64 {
	if n.intercept {
		return b
	}
	return b[1:]
}

func (n *Natural) fill(row []float64, x float64) {
	low, high := n.knots[0], n.knots[len(n.knots)-1]
	var b []float64
	switch {
	case x < low:
		b = extend(n.atLow, x-low)
	case x > high:
		b = extend(n.atHigh, x-high)
	default:
		b = n.bsplines(x, 0)
	}
	n.apply(row, n.keep(b))
}

func (n *Natural) apply(row, b []float64) {
	for j := range row {
		row[j] = 0
	}
	for i, v := range b {
		if v == 0 {
			continue
		}
		for j := range row {
			row[j] += v * n.project[i*n.columns+j]
		}
	}
}

func (n *Natural) valueAndSlope(x float64) []float64 {
	return append(n.bsplines(x, 0), n.bsplines(x, 1)...)
}

// extend continues B-splines linearly from a boundary; ends holds their values
// there, then their slopes.
func extend(ends []float64, distance float64) []float64 {
	half := len(ends) / 2
	b := make([]float64, half)
	for i := range b {
		b[i] = ends[i] + distance*ends[half+i]
	}
	return b
}

// bsplines gives every cubic B-spline, or its first or second derivative, at an
// x inside the boundary (de Boor, A Practical Guide to Splines, chapter X).
func (n *Natural) bsplines(x float64, derivative int) []float64 {
	t := n.knots
	last := len(t) - order - 1
	span := order - 1
	for span < last && x >= t[span+1] {
		span++
	}
	b := make([]float64, len(t)-order+1)
	b[span] = 1
	for k := 2; k <= order; k++ {
		for i := span - k + 1; i <= span; i++ {
			if i < 0 {
				continue
			}
			left, right := b[i], 0.0
			if i+1 < len(b) {
				right = b[i+1]
			}
			widthLeft, widthRight := t[i+k-1]-t[i], 0.0
			if i+k < len(t) {
				widthRight = t[i+k] - t[i+1]
			}
			b[i] = 0
			if k > order-derivative {
				// Derivative step: differences in place of the weighted mean.
				if widthLeft > 0 {
					b[i] += float64(k-1) * left / widthLeft
				}
				if widthRight > 0 {
					b[i] -= float64(k-1) * right / widthRight
				}
				continue
			}
			if widthLeft > 0 {
				b[i] += (x - t[i]) / widthLeft * left
			}
			if widthRight > 0 {
				b[i] += (t[i+k] - x) / widthRight * right
			}
		}
	}
	return b[:len(t)-order]
}

// projection gives an orthonormal basis of the coefficients orthogonal to both
// constraints: the last columns of Q in the QR decomposition of the two, with
// LINPACK's signs.
func projection(first, second []float64) []float64 {
	rows := len(first)
	u := reflector(first, 0)
	second = append([]float64(nil), second...)
	reflect(u, 0, second)
	v := reflector(second, 1)

	project := make([]float64, rows*(rows-2))
	for i := range rows {
		unit := make([]float64, rows)
		unit[i] = 1
		reflect(u, 0, unit)
		reflect(v, 1, unit)
		copy(project[i*(rows-2):], unit[2:])
	}
	return project
}

// reflector is the Householder vector of column x from row k on, scaled as
// LINPACK's dqrdc does: its element k lies between 1 and 2.
func reflector(x []float64, k int) []float64 {
	u := append([]float64(nil), x...)
	var norm float64
	for _, v := range u[k:] {
		norm = math.Hypot(norm, v)
	}
	if u[k] != 0 {
		norm = math.Copysign(norm, u[k])
	}
	for i := k; i < len(u); i++ {
		u[i] /= norm
	}
	u[k]++
	return u
}

func reflect(u []float64, k int, x []float64) {
	var dot float64
	for i := k; i < len(u); i++ {
		dot += u[i] * x[i]
	}
	scale := -dot / u[k]
	for i := k; i < len(u); i++ {
		x[i] += scale * u[i]
	}
}
