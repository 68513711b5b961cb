package cox

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/mat"
)

// maxSteps of Newton's method; well-behaved data need four to six.
const maxSteps = 40

// point is the partial likelihood at one beta, in the scaled covariates.
type point struct {
	beta   []float64
	loglik float64
	score  []float64
	info   []float64 // lower triangle, row by row
}

// at computes the likelihood at beta; false when the linear predictor runs away.
func (l *layout) at(beta []float64, ties Ties) (*point, bool) {
	pt := &point{beta: beta, score: make([]float64, l.p), info: make([]float64, l.p*(l.p+1)/2)}
	ok := l.pass(beta, func(t *tie) {
		if t.deaths == 1 {
			pt.addSingle(t)
			return
		}
		pt.addTied(t, ties)
	})
	return pt, ok && !math.IsNaN(pt.loglik)
}

func (pt *point) addSingle(t *tie) {
	w := t.weight
	inv := 1 / t.risk.s0
	pt.loglik += t.eta - w*math.Log(t.risk.s0)
	info, s2 := pt.info, t.risk.s2
	s1 := t.risk.s1
	for a, s := range s1 {
		mean := s * inv
		pt.score[a] += t.x[a] - w*mean
		row := info[:a+1]
		from := s2[:len(row)]
		scale := mean * inv
		for b, sb := range s1[:len(row)] {
			row[b] += w * (from[b]*inv - scale*sb)
		}
		info, s2 = info[a+1:], s2[a+1:]
	}
}

func (pt *point) addTied(t *tie, ties Ties) {
	e := t.efron(ties)
	w := t.weight / float64(t.deaths) // mean weight of the events
	pt.loglik += t.eta - w*e.logs
	s, d := t.risk, t.dying
	k := 0
	for a := range pt.score {
		pt.score[a] += t.x[a] - w*(s.s1[a]*e.a0-d.s1[a]*e.a1)
		for b := 0; b <= a; b++ {
			second := s.s2[k]*e.a0 - d.s2[k]*e.a1
			first := s.s1[a]*s.s1[b]*e.c0 - (s.s1[a]*d.s1[b]+d.s1[a]*s.s1[b])*e.c1 + d.s1[a]*d.s1[b]*e.c2
			pt.info[k] += w * (second - first)
			k++
		}
	}
}

// symmetric unpacks a lower triangle.
func symmetric(packed []float64, p int) *mat.SymDense {
	out := mat.NewSymDense(p, nil)
	k := 0
	for a := range p {
		for b := 0; b <= a; b++ {
			out.SetSym(a, b, packed[k])
			k++
		}
	}
	return out
}

// invert returns the inverse of the information at beta; nil when it is not
// positive definite.
func (pt *point) invert() *mat.SymDense {
	var chol mat.Cholesky
	if !chol.Factorize(symmetric(pt.info, len(pt.score))) {
		return nil
	}
	out := mat.NewSymDense(len(pt.score), nil)
	if err := chol.InverseTo(out); err != nil && chol.Cond() > 1e15 {
		return nil
	}
	return out
}

// checkColumns refuses columns that do not vary within risk sets or are
// combinations of others, by the pivots of the information at beta = 0.
func (pt *point) checkColumns(weight float64) error {
	p := len(pt.score)
	a := symmetric(pt.info, p)
	for j := range p {
		if a.At(j, j) <= 1e-10*weight {
			return fmt.Errorf("column %d has one value among those at risk at each event; leave it out: %w", j, stats.ErrNoVariation)
		}
	}
	for j := range p {
		pivot := a.At(j, j)
		if pivot <= 1e-9*symmetric(pt.info, p).At(j, j) {
			return fmt.Errorf("column %d is a combination of the columns before it; leave it out: %w", j, stats.ErrCollinear)
		}
		for r := j + 1; r < p; r++ {
			f := a.At(r, j) / pivot
			for c := r; c < p; c++ {
				a.SetSym(r, c, a.At(r, c)-f*a.At(j, c))
			}
		}
	}
	return nil
}

// newton climbs from 0. It stops when the squared step, in standard errors, is
// below 1e-18 an event (the last step is still taken), or when the likelihood
// no longer rises while a coefficient keeps growing: that coefficient is then
// separated and its column returned.
func (l *layout) newton(ties Ties, first *point) (best *point, steps int, separated []int, err error) {
	current := first
	for steps = 1; steps <= maxSteps; steps++ {
		inverse := current.invert()
		if inverse == nil {
			return nil, steps, nil, fmt.Errorf("information not invertible after %d steps: %w", steps, stats.ErrNotConverged)
		}
		step := make([]float64, l.p)
		decrement := 0.0
		for a := range step {
			for b, u := range current.score {
				step[a] += inverse.At(a, b) * u
			}
			decrement += step[a] * current.score[a]
		}
		if decrement < 1e-18*float64(l.events) {
			for a := range step {
				step[a] += current.beta[a]
			}
			current.beta = step
			return current, steps, nil, nil
		}
		next := l.climb(current, step, ties)
		if next == nil {
			// No shorter step raises the likelihood: it is at its top but for rounding.
			return current, steps, nil, nil
		}
		gain := next.loglik - current.loglik
		if gain < 1e-9*(1+math.Abs(next.loglik)) {
			for a, s := range step {
				if math.Abs(s) > 0.1 {
					separated = append(separated, a)
				}
			}
			if len(separated) > 0 {
				return next, steps, separated, nil
			}
		}
		current = next
	}
	return nil, maxSteps, nil, fmt.Errorf("likelihood still rising after %d steps: %w", maxSteps, stats.ErrNotConverged)
}

// climb takes the step, halved until the likelihood does not fall; nil when
// thirty halvings do not get there.
func (l *layout) climb(from *point, step []float64, ties Ties) *point {
	size := 1.0
	for range 30 {
		beta := make([]float64, l.p)
		for a := range beta {
			beta[a] = from.beta[a] + size*step[a]
		}
		if next, ok := l.at(beta, ties); ok && next.loglik >= from.loglik-1e-12*math.Abs(from.loglik) {
			return next
		}
		size /= 2
	}
	return nil
}
