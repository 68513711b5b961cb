package interval

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/mat"
)

// design is the rows with centred and scaled columns, the first all ones.
type design struct {
	in            Data
	p             int // columns with the intercept
	x             []float64
	centre, scale []float64 // of the columns after the intercept
	logLow        []float64 // -Inf for 0
	logHigh       []float64 // +Inf when not seen
	total         float64   // weight
}

func newDesign(in Data, columns [][]float64) (*design, error) {
	n := len(in.Lower)
	w := &design{in: in, p: len(columns) + 1}
	w.x = make([]float64, n*w.p)
	for i := range n {
		w.x[i*w.p] = 1
		w.total += in.weight(i)
	}
	for j, col := range columns {
		name := fmt.Sprintf("column %d", j)
		if err := stats.CheckLength(name, len(col), n); err != nil {
			return nil, err
		}
		if err := stats.CheckFinite(name, col); err != nil {
			return nil, err
		}
		mean, size, deviation := 0.0, 0.0, 0.0
		for _, v := range col {
			mean += v / float64(n)
			size = math.Max(size, math.Abs(v))
		}
		for _, v := range col {
			deviation += math.Abs(v-mean) / float64(n)
		}
		if !(deviation > 1e-14*size) {
			return nil, fmt.Errorf("%s has one value only; leave it out: %w", name, stats.ErrNoVariation)
		}
		w.centre, w.scale = append(w.centre, mean), append(w.scale, 1/deviation)
		for i, v := range col {
			w.x[i*w.p+j+1] = (v - mean) / deviation
		}
	}
	for i, low := range in.Lower {
		w.logLow = append(w.logLow, math.Log(low))
		w.logHigh = append(w.logHigh, math.Log(in.Upper[i]))
	}
	return w, w.checkColumns()
}

// checkColumns refuses columns that are combinations of those before them.
func (w *design) checkColumns() error {
	gram := mat.NewSymDense(w.p, nil)
	for i := 0; i < len(w.x); i += w.p {
		gram.SymRankOne(gram, 1, mat.NewVecDense(w.p, w.x[i:i+w.p]))
	}
	left := mat.NewSymDense(w.p, nil)
	left.CopySym(gram)
	for j := range w.p {
		pivot := left.At(j, j)
		if pivot <= 1e-9*gram.At(j, j) {
			return fmt.Errorf("column %d is a combination of the columns before it; leave it out: %w", j-1, stats.ErrCollinear)
		}
		for a := j + 1; a < w.p; a++ {
			f := left.At(a, j) / pivot
			for b := a; b < w.p; b++ {
				left.SetSym(a, b, left.At(a, b)-f*left.At(j, b))
			}
		}
	}
	return nil
}

// back maps the parameters of the scaled columns to those of the given ones.
func (w *design) back() *mat.Dense {
	b := mat.NewDense(w.p+1, w.p+1, nil)
	b.Set(0, 0, 1)
	b.Set(w.p, w.p, 1)
	for j, s := range w.scale {
		b.Set(j+1, j+1, s)
		b.Set(0, j+1, -s*w.centre[j])
	}
	return b
}

// peak is the log-likelihood with its slope and information at one place.
type peak struct {
	loglik float64
	score  []float64
	info   *mat.SymDense
	chol   mat.Cholesky
}

// largestZ is where exp is taken to have run away.
const largestZ = 300

// row returns the log-likelihood of row i at theta and its first and second
// derivatives in the standardised log times zl and zh of its two ends (the
// first alone when it is exact or not seen); false when exp runs away.
func (w *design) row(i int, theta []float64) (t rowTerms, ok bool) {
	eta := 0.0
	for j, v := range w.x[i*w.p : (i+1)*w.p] {
		eta += theta[j] * v
	}
	scale := math.Exp(theta[w.p])
	t.zl, t.zh = (w.logLow[i]-eta)/scale, (w.logHigh[i]-eta)/scale
	low, high := w.in.Lower[i], w.in.Upper[i]
	a := math.Exp(t.zl)
	switch {
	case low == high:
		t.f = t.zl - a - theta[w.p] - w.logLow[i]
		t.gl, t.hll, t.exact = 1-a, -a, true
		t.zh = 0
		return t, t.zl < largestZ && !math.IsInf(t.zl, 0)
	case math.IsInf(high, 1):
		t.zh = 0
		if low == 0 {
			t.zl = 0
			return t, true
		}
		t.f, t.gl, t.hll = -a, -a, -a
		return t, t.zl < largestZ
	}
	if low == 0 {
		t.zl = 0
		a = 0
	}
	if t.zl > largestZ || math.IsNaN(t.zh) {
		return t, false
	}
	b := math.Exp(math.Min(t.zh, largestZ))
	d := b - a
	if !(d > 0) {
		return t, false
	}
	// log of exp(-a) - exp(-b); q is its slope in b.
	t.f = -a + math.Log(-math.Expm1(-d))
	q := math.Exp(-d) / -math.Expm1(-d)
	r := q * (1 + q)
	t.gl, t.gh = a*(-1-q), b*q
	t.hll, t.hhh, t.hlh = t.gl-a*a*r, t.gh-b*b*r, a*b*r
	if q == 0 { // b is so late that it does not matter, however large
		t.zh = 0
	}
	return t, !math.IsNaN(t.f) && !math.IsInf(t.f, 0) && !math.IsNaN(t.hhh)
}

type rowTerms struct {
	f, zl, zh, gl, gh, hll, hlh, hhh float64
	exact                            bool
}

// slopes are the derivatives of a row in its linear predictor and log scale.
func (t rowTerms) slopes(scale float64) (eta, tau float64) {
	tau = -(t.gl*t.zl + t.gh*t.zh)
	if t.exact {
		tau--
	}
	return -(t.gl + t.gh) / scale, tau
}

func (w *design) at(theta []float64) (*peak, bool) {
	p := w.p
	pk := &peak{score: make([]float64, p+1), info: mat.NewSymDense(p+1, nil)}
	scale := math.Exp(theta[p])
	info := make([]float64, (p+1)*(p+1))
	for i := range w.in.Lower {
		t, ok := w.row(i, theta)
		if !ok {
			return nil, false
		}
		v := w.in.weight(i)
		pk.loglik += v * t.f
		eta, tau := t.slopes(scale)
		pk.score[p] += v * tau
		ee := -(t.hll + 2*t.hlh + t.hhh) / (scale * scale)
		et := -(t.hll*t.zl + t.hlh*(t.zl+t.zh) + t.hhh*t.zh + t.gl + t.gh) / scale
		tt := -(t.hll*t.zl*t.zl + 2*t.hlh*t.zl*t.zh + t.hhh*t.zh*t.zh + t.gl*t.zl + t.gh*t.zh)
		info[p*(p+1)+p] += v * tt
		x := w.x[i*p : (i+1)*p]
		for a, xa := range x {
			pk.score[a] += v * eta * xa
			info[p*(p+1)+a] += v * et * xa
			for b, xb := range x[:a+1] {
				info[a*(p+1)+b] += v * ee * xa * xb
			}
		}
	}
	for a := range p + 1 {
		for b := 0; b <= a; b++ {
			pk.info.SetSym(a, b, info[a*(p+1)+b])
		}
	}
	return pk, !math.IsNaN(pk.loglik) && !math.IsInf(pk.loglik, 0)
}

// start is the mean and spread of the log times, middles for intervals.
func (w *design) start() []float64 {
	var sum, squares, n float64
	for i, low := range w.in.Lower {
		y := w.logLow[i]
		switch high := w.in.Upper[i]; {
		case math.IsInf(high, 1) && low == 0:
			continue
		case math.IsInf(high, 1):
		default:
			y = math.Log((low + high) / 2)
		}
		v := w.in.weight(i)
		sum += v * y
		squares += v * y * y
		n += v
	}
	theta := make([]float64, w.p+1)
	theta[0] = sum / n
	sd := math.Sqrt(math.Max(squares/n-theta[0]*theta[0], 0))
	theta[w.p] = math.Log(math.Max(sd, 0.1))
	theta[0] += 0.5 * math.Exp(theta[w.p])
	return theta
}

// newton climbs to the maximum. Where the likelihood is not concave, a multiple
// of the information's own diagonal is added until it is. It stops as Cox
// regression does: a squared step below 1e-18 of the rows, in standard errors.
func (w *design) newton() ([]float64, *peak, int, error) {
	theta := w.start()
	now, ok := w.at(theta)
	if !ok {
		return nil, nil, 0, fmt.Errorf("no finite likelihood to begin with: %w", stats.ErrNotConverged)
	}
	for step := 1; step <= mostNewton; step++ {
		ridge, concave := now.factorise()
		var delta mat.VecDense
		if err := now.chol.SolveVecTo(&delta, mat.NewVecDense(w.p+1, now.score)); err != nil {
			return nil, nil, step, fmt.Errorf("information not invertible: %w", stats.ErrNotConverged)
		}
		decrement := 0.0
		for j, u := range now.score {
			decrement += u * delta.AtVec(j)
		}
		if concave && decrement < 1e-18*w.total {
			for j := range theta {
				theta[j] += delta.AtVec(j)
			}
			return theta, now, step, nil
		}
		next, at := w.climb(theta, &delta, now.loglik)
		if next == nil {
			if concave && decrement < 1e-9 {
				return theta, now, step, nil // rounding: no shorter step rises
			}
			return nil, nil, step, fmt.Errorf("no step raises the likelihood (ridge %g): %w", ridge, stats.ErrNotConverged)
		}
		theta, now = at, next
		if theta[w.p] < smallestLog {
			return nil, nil, step, fmt.Errorf("the columns fit all times exactly: %w", stats.ErrNoVariation)
		}
		if math.Abs(theta[0]) > 100 || theta[w.p] > 10 {
			return nil, nil, step, fmt.Errorf("the likelihood rises without end; too few events lie between visits: %w", stats.ErrNotConverged)
		}
	}
	return nil, nil, mostNewton, fmt.Errorf("likelihood still rising after %d steps: %w", mostNewton, stats.ErrNotConverged)
}

// factorise factorises the information, made positive definite if need be.
func (pk *peak) factorise() (ridge float64, concave bool) {
	if pk.chol.Factorize(pk.info) {
		return 0, true
	}
	n := pk.info.SymmetricDim()
	for ridge = 1e-3; ; ridge *= 10 {
		more := mat.NewSymDense(n, nil)
		more.CopySym(pk.info)
		for j := range n {
			more.SetSym(j, j, more.At(j, j)+ridge*(1+math.Abs(more.At(j, j))))
		}
		if pk.chol.Factorize(more) {
			return ridge, false
		}
	}
}

func (w *design) climb(theta []float64, delta *mat.VecDense, loglik float64) (*peak, []float64) {
	for size := 1.0; size > 1e-9; size /= 2 {
		at := make([]float64, len(theta))
		for j := range at {
			at[j] = theta[j] + size*delta.AtVec(j)
		}
		if next, ok := w.at(at); ok && next.loglik >= loglik-1e-12*math.Abs(loglik) {
			return next, at
		}
	}
	return nil, nil
}

// spread is the sum over persons of their score times its transpose.
func (w *design) spread(theta []float64, codes []int, persons int) *mat.SymDense {
	p := w.p
	scores := make([]float64, persons*(p+1))
	scale := math.Exp(theta[p])
	for i, c := range codes {
		t, _ := w.row(i, theta)
		eta, tau := t.slopes(scale)
		v := w.in.weight(i)
		u := scores[c*(p+1) : (c+1)*(p+1)]
		for j, x := range w.x[i*p : (i+1)*p] {
			u[j] += v * eta * x
		}
		u[p] += v * tau
	}
	out := mat.NewSymDense(p+1, nil)
	for c := 0; c < len(scores); c += p + 1 {
		out.SymRankOne(out, 1, mat.NewVecDense(p+1, scores[c:c+p+1]))
	}
	return out
}
