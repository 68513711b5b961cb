package regress

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// MultinomialModel is a fitted model of an outcome of several kinds. The first
// index of Coef and SE is the kind less one; kind 0 is the reference.
type MultinomialModel struct {
	Names      []string
	Kinds      int
	Coef       [][]float64 // log odds of the kind against kind 0, Kinds-1 rows of p
	SE         [][]float64
	Covariance [][]float64 // of Coef row after row
	LogLik     float64     // rows count by their weights
	N          int
	Method     string
}

// Multinomial estimates how the shares of several kinds, such as ways of being
// treated, differ with the columns.
//
// d.Y holds whole numbers from 0 to the largest kind, each of which occurs; the
// rest is described at Data; an offset is not allowed.
//
// Errors: as LeastSquares; stats.ErrRange for an outcome that is not a whole
// number from 0 up, or an offset; stats.ErrOneGroup for a single kind,
// stats.ErrNoEvents for a kind below the largest that does not occur;
// stats.ErrSeparation, naming the column, when a kind is told apart exactly;
// stats.ErrNotConverged.
//
// Method: maximum likelihood with softmax shares, by Newton's method with step
// halving; agrees with the equivalent log-linear glm of R. Cost: per iteration
// rows times the square of (kinds-1) times columns.
func Multinomial(d Data) (*MultinomialModel, error) {
	if err := check(d); err != nil {
		return nil, err
	}
	if d.Offset != nil {
		return nil, fmt.Errorf("offset in a multinomial model: %w", stats.ErrRange)
	}
	kinds, err := countKinds(d.Y)
	if err != nil {
		return nil, err
	}
	m, err := newModel(d, binomial)
	if err != nil {
		return nil, err
	}
	f := &multinomial{Model: m, kinds: kinds, y: d.Y, raw: d.Columns}
	coef, inverse, logLik, err := f.maximise()
	if err != nil {
		return nil, err
	}
	return f.describe(coef, inverse, logLik), nil
}

func countKinds(y []float64) (int, error) {
	var occurs []bool
	for i, v := range y {
		if v < 0 || v != math.Trunc(v) || v > float64(len(y)) {
			return 0, fmt.Errorf("outcome[%d] = %v is no kind: whole numbers from 0, each of which occurs: %w", i, v, stats.ErrRange)
		}
		for len(occurs) <= int(v) {
			occurs = append(occurs, false)
		}
		occurs[int(v)] = true
	}
	if len(occurs) < 2 {
		return 0, fmt.Errorf("outcome: %w", stats.ErrOneGroup)
	}
	for k, seen := range occurs {
		if !seen {
			return 0, fmt.Errorf("kind %d: %w", k, stats.ErrNoEvents)
		}
	}
	return len(occurs), nil
}

// multinomial is a fit under way; coefficients are orthonormal, kind after kind.
type multinomial struct {
	*Model
	kinds int
	y     []float64
	raw   [][]float64
}

// at gives the log-likelihood and, with deep, score and information.
func (f *multinomial) at(coef []float64, deep bool) (logLik float64, score, information []float64) {
	p, q := f.p, len(coef)
	if deep {
		score, information = make([]float64, q), make([]float64, q*q)
	}
	shares, eta := make([]float64, f.kinds), make([]float64, f.kinds)
	for i := range f.N {
		row, w, own := f.row(i), f.prior[i], int(f.y[i])
		for k := 1; k < f.kinds; k++ {
			eta[k] = dense.Dot(row, coef[(k-1)*p:])
		}
		logLik += w * (eta[own] - softmax(eta, shares))
		if !deep {
			continue
		}
		for a := 1; a < f.kinds; a++ {
			left := -shares[a]
			if a == own {
				left++
			}
			for j, x := range row {
				score[(a-1)*p+j] += w * left * x
			}
			for b := 1; b <= a; b++ {
				v := -w * shares[a] * shares[b]
				if a == b {
					v += w * shares[a]
				}
				for j, x := range row {
					line := information[((a-1)*p+j)*q+(b-1)*p:]
					for l, z := range row {
						line[l] += v * x * z
					}
				}
			}
		}
	}
	for a := range information {
		if i, j := a/q, a%q; j > i {
			information[a] = information[j*q+i]
		}
	}
	return logLik, score, information
}

// softmax fills the shares and returns the log of their common divisor.
func softmax(eta, shares []float64) float64 {
	largest := math.Inf(-1)
	for _, e := range eta {
		largest = math.Max(largest, e)
	}
	var sum float64
	for k, e := range eta {
		shares[k] = math.Exp(e - largest)
		sum += shares[k]
	}
	for k := range shares {
		shares[k] /= sum
	}
	return largest + math.Log(sum)
}

func (f *multinomial) maximise() (coef, inverse []float64, logLik float64, err error) {
	p := f.p
	coef = make([]float64, (f.kinds-1)*p)
	logLik, score, information := f.at(coef, true)
	var step []float64
	for range maxIterations {
		var ok bool
		if inverse, ok = invert(information, len(coef)); !ok {
			break
		}
		step = times(inverse, score)
		if dense.Dot(score, step) < settled*(1+math.Abs(logLik)) && f.farthestOf(step) < wandering {
			for j, x := range step { // the last step is worth taking, not checking
				coef[j] += x
			}
			return coef, inverse, logLik, nil
		}
		next, length := make([]float64, len(coef)), 1.0
		for ; length > 1e-9; length /= 2 {
			for j := range next {
				next[j] = coef[j] + length*step[j]
			}
			if l, _, _ := f.at(next, false); l >= logLik-1e-12*(1+math.Abs(logLik)) {
				break
			}
		}
		if length <= 1e-9 {
			break
		}
		coef = next
		logLik, score, information = f.at(coef, true)
	}
	if step == nil || f.farthestOf(step) < wandering {
		return nil, nil, 0, fmt.Errorf("multinomial regression after %d steps: %w", maxIterations, stats.ErrNotConverged)
	}
	kind := 0
	for k := range f.kinds - 1 {
		if f.farthest(step[k*p:(k+1)*p]) > f.farthest(step[kind*p:(kind+1)*p]) {
			kind = k
		}
	}
	return nil, nil, 0, fmt.Errorf("column %s tells kind %d apart: %w", f.Names[f.fastest(f.raw, step[kind*p:(kind+1)*p])], kind+1, stats.ErrSeparation)
}

func (f *multinomial) farthestOf(step []float64) float64 {
	var largest float64
	for k := range f.kinds - 1 {
		largest = math.Max(largest, f.farthest(step[k*f.p:(k+1)*f.p]))
	}
	return largest
}

func (f *multinomial) describe(coef, inverse []float64, logLik float64) *MultinomialModel {
	p, q := f.p, len(coef)
	out := &MultinomialModel{
		Names: f.Names, Kinds: f.kinds, LogLik: logLik, N: f.N,
		Method: "multinomial regression, maximum likelihood",
	}
	out.Covariance = make([][]float64, q)
	for a := range q {
		out.Covariance[a] = make([]float64, q)
		for b := range q {
			block := make([]float64, p*p)
			for j := range p {
				copy(block[j*p:j*p+p], inverse[(a/p*p+j)*q+b/p*p:])
			}
			out.Covariance[a][b] = dense.Bilinear(block, f.unit(a%p), f.unit(b%p))
		}
	}
	se := roots(out.Covariance)
	for k := range f.kinds - 1 {
		raw := make([]float64, p)
		for j := range p {
			raw[j] = dense.Dot(f.unit(j), coef[k*p:(k+1)*p])
		}
		out.Coef = append(out.Coef, raw)
		out.SE = append(out.SE, se[k*p:(k+1)*p])
	}
	return out
}

// Predict gives the shares of all kinds for rows of the design: Kinds values
// per row, which sum to one.
//
// columns are p columns of equal length. Errors: stats.ErrEmpty,
// stats.ErrLength, stats.ErrNotFinite. Agrees with the fitted shares of the
// equivalent glm of R. Cost: linear.
func (m *MultinomialModel) Predict(columns [][]float64) ([][]float64, error) {
	if err := stats.CheckLength("columns", len(columns), len(m.Names)); err != nil {
		return nil, err
	}
	n := len(columns[0])
	if n == 0 {
		return nil, fmt.Errorf("columns: %w", stats.ErrEmpty)
	}
	for j, column := range columns {
		if err := checkColumn(m.Names[j], column, n); err != nil {
			return nil, err
		}
	}
	out := make([][]float64, n)
	eta := make([]float64, m.Kinds)
	for i := range out {
		for k := 1; k < m.Kinds; k++ {
			eta[k] = 0
			for j, column := range columns {
				eta[k] += m.Coef[k-1][j] * column[i]
			}
		}
		out[i] = make([]float64, m.Kinds)
		softmax(eta, out[i])
	}
	return out, nil
}
