// Package regress fits regressions for outcomes seen once a row: a measure
// (least squares), yes or no (logistic), a count over an exposure (Poisson), one
// of several kinds (multinomial). Standard errors hold when the spread differs
// between rows, or when rows come in clusters such as clinicians; standardised
// means answer what the outcome would be had all persons been treated one way.
package regress

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// Data is what a regression is fitted to: n rows, one a person or episode.
type Data struct {
	Y       []float64   // outcome, n values
	Columns [][]float64 // p columns of n values, the constant among them
	Names   []string    // names of the p columns, for errors and output
	Weights []float64   // positive weights of the rows; nil: all one
	Offset  []float64   // added to the linear predictor, such as log sessions; nil: none
}

// Rows gives the data of the rows listed, which may repeat: a draw of a
// bootstrap. Nothing is shared with the original but Names.
//
// Errors: stats.ErrRange for a row that does not exist. Cost: linear.
func (d Data) Rows(rows []int) (Data, error) {
	for i, r := range rows {
		if r < 0 || r >= len(d.Y) {
			return Data{}, fmt.Errorf("rows[%d] = %d of %d: %w", i, r, len(d.Y), stats.ErrRange)
		}
	}
	pick := func(xs []float64) []float64 {
		if xs == nil {
			return nil
		}
		out := make([]float64, len(rows))
		for i, r := range rows {
			out[i] = xs[r]
		}
		return out
	}
	out := Data{Y: pick(d.Y), Names: d.Names, Weights: pick(d.Weights), Offset: pick(d.Offset)}
	for _, c := range d.Columns {
		out.Columns = append(out.Columns, pick(c))
	}
	return out, nil
}

// Model is a fitted regression. The slices follow the columns of the data;
// Coef is on the scale of the linear predictor: the outcome itself, the log
// odds, or the log rate.
type Model struct {
	Names      []string
	Coef       []float64
	SE         []float64   // model-based
	Covariance [][]float64 // model-based, p rows of p
	ResidualSD float64     // of least squares, else 0
	LogLik     float64     // at the maximum; rows count by their weights
	N          int
	Method     string

	family   family
	columns  *dense.Columns
	p        int
	rows     []float64 // orthonormal columns, n rows of p
	prior    []float64 // weights
	spread   []float64 // variance function of each row, 1 for least squares
	residual []float64 // outcome less fitted value
	bread    []float64 // inverse of the information of the orthonormal coefficients
}

// AIC is Akaike's criterion: twice the number of parameters, the residual
// variance of least squares among them, less twice LogLik. Agrees with AIC of R.
func (m *Model) AIC() float64 {
	parameters := float64(m.p)
	if m.family == gaussian {
		parameters++
	}
	return 2*parameters - 2*m.LogLik
}

// check refuses what no regression can use.
func check(d Data) error {
	n, p := len(d.Y), len(d.Columns)
	if n == 0 {
		return fmt.Errorf("outcome: %w", stats.ErrEmpty)
	}
	if p == 0 {
		return fmt.Errorf("columns: %w", stats.ErrEmpty)
	}
	if err := stats.CheckLength("names", len(d.Names), p); err != nil {
		return err
	}
	columns := map[string][]float64{"outcome": d.Y}
	if d.Weights != nil {
		columns["weights"] = d.Weights
	}
	if d.Offset != nil {
		columns["offset"] = d.Offset
	}
	for name, column := range columns {
		if err := checkColumn(name, column, n); err != nil {
			return err
		}
	}
	for j, column := range d.Columns {
		if err := checkColumn(d.Names[j], column, n); err != nil {
			return err
		}
	}
	for i, w := range d.Weights {
		if w <= 0 {
			return fmt.Errorf("weights[%d] = %v: weights are positive: %w", i, w, stats.ErrRange)
		}
	}
	if n <= p {
		return fmt.Errorf("%d rows for %d columns: %w", n, p, stats.ErrTooFew)
	}
	return nil
}

func checkColumn(name string, column []float64, n int) error {
	if err := stats.CheckLength(name, len(column), n); err != nil {
		return err
	}
	return stats.CheckFinite(name, column)
}

// newModel lays out the orthonormal columns.
func newModel(d Data, f family) (*Model, error) {
	m := &Model{Names: append([]string(nil), d.Names...), N: len(d.Y), family: f, p: len(d.Columns)}
	var collinear int
	if m.columns, collinear = dense.Orthonormalise(d.Columns); collinear >= 0 {
		return nil, fmt.Errorf("column %s: %w", d.Names[collinear], stats.ErrCollinear)
	}
	m.rows = make([]float64, m.N*m.p)
	m.prior = make([]float64, m.N)
	for i := range m.N {
		m.columns.Row(m.row(i), i)
		m.prior[i] = 1
	}
	copy(m.prior, d.Weights)
	return m, nil
}

func (m *Model) row(i int) []float64 { return m.rows[i*m.p : i*m.p+m.p : i*m.p+m.p] }

// information is the sum of weight times row times row'.
func (m *Model) information(weight func(i int) float64) []float64 {
	p := m.p
	sum := make([]float64, p*p)
	for i := range m.N {
		w, row := weight(i), m.row(i)
		for a, x := range row {
			for b := 0; b <= a; b++ {
				sum[a*p+b] += w * x * row[b]
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

// finish returns from orthonormal columns to those of the data.
func (m *Model) finish(orthonormal []float64, dispersion float64) {
	m.Coef = make([]float64, m.p)
	for j := range m.Coef {
		m.Coef[j] = dense.Dot(m.unit(j), orthonormal)
	}
	scaled := make([]float64, len(m.bread))
	for i, v := range m.bread {
		scaled[i] = v * dispersion
	}
	m.Covariance = m.outside(scaled)
	m.SE = roots(m.Covariance)
}

func (m *Model) unit(j int) []float64 {
	e := make([]float64, m.p)
	e[j] = 1
	return m.columns.Weights(e)
}

// outside turns a covariance of orthonormal coefficients into one of the model's.
func (m *Model) outside(inner []float64) [][]float64 {
	out := make([][]float64, m.p)
	for j := range out {
		out[j] = make([]float64, m.p)
		for k := range out {
			out[j][k] = dense.Bilinear(inner, m.unit(j), m.unit(k))
		}
	}
	return out
}

func roots(covariance [][]float64) []float64 {
	out := make([]float64, len(covariance))
	for j := range out {
		out[j] = math.Sqrt(math.Max(0, covariance[j][j]))
	}
	return out
}

// invert gives the inverse of a positive definite matrix, or false.
func invert(a []float64, n int) ([]float64, bool) {
	factor := append([]float64(nil), a...)
	if dense.Cholesky(factor, n, 0) >= 0 {
		return nil, false
	}
	inverse := make([]float64, n*n)
	for j := range n {
		inverse[j*n+j] = 1
	}
	dense.SolveLower(factor, n, inverse, n)
	dense.SolveLowerTransposed(factor, n, inverse, n)
	return inverse, true
}

// times is the product of an n x n matrix and a vector.
func times(a, x []float64) []float64 {
	n := len(x)
	out := make([]float64, n)
	for i := range out {
		out[i] = dense.Dot(a[i*n:i*n+n], x)
	}
	return out
}
