package cox

import "math"

// sums are, over a set of rows, the risk weight r = w exp(eta) and its products
// with the covariates: r, r x and the lower triangle of r x x', row by row.
type sums struct {
	s0 float64
	s1 []float64
	s2 []float64
}

func newSums(p int) *sums {
	return &sums{s1: make([]float64, p), s2: make([]float64, p*(p+1)/2)}
}

func (s *sums) reset() {
	s.s0 = 0
	clear(s.s1)
	clear(s.s2)
}

// add adds a row of risk weight r; a negative r takes it away.
func (s *sums) add(x []float64, r float64) {
	s.s0 += r
	s2 := s.s2
	for a, xa := range x {
		t := r * xa
		s.s1[a] += t
		row := s2[:a+1]
		for b, xb := range x[:len(row)] {
			row[b] += t * xb
		}
		s2 = s2[a+1:]
	}
}

func (s *sums) addSums(o *sums) {
	s.s0 += o.s0
	for i, v := range o.s1 {
		s.s1[i] += v
	}
	for i, v := range o.s2 {
		s.s2[i] += v
	}
}

// tie is what happens at one time with events in one stratum: risk sums over
// everybody at risk, the same over those with the event, who they are.
type tie struct {
	stratum     int
	time        float64
	from, to    int // positions of the rows that end here
	deaths      int
	weight      float64   // of the events
	risk, dying *sums     // dying is not filled for a single event
	eta         float64   // sum of w eta over the events
	x           []float64 // sum of w x over the events
}

// largestEta is where exp is taken to have run away: the step is then halved.
const largestEta = 300

// pass visits the times with events in every stratum, latest first, with the
// risk sums at beta. It is false when the linear predictor runs away. The tie
// is reused from visit to visit.
//
// Risk sets are built by adding rows as time falls; with late entry rows are
// also taken away. When what is left is 10,000 times smaller than what was
// there, it is summed afresh, as differences would have lost its digits.
func (l *layout) pass(beta []float64, visit func(*tie)) bool {
	p := l.p
	t := tie{risk: newSums(p), dying: newSums(p), x: make([]float64, p)}
	var risks []float64
	if l.entry != nil {
		risks = make([]float64, len(l.time))
	}
	for s := range l.strata {
		t.stratum = s
		t.risk.reset()
		end, peak := l.bounds[s+1], 0.0
		leave := l.bounds[s]
		for i := l.bounds[s]; i < end; i = t.to {
			t.time, t.from, t.to, t.deaths = l.time[i], i, i, 0
			for t.to < end && l.time[t.to] == t.time {
				if l.event[t.to] {
					t.deaths++
				}
				t.to++
			}
			if t.deaths > 0 {
				t.weight, t.eta = 0, 0
				clear(t.x)
				t.dying.reset()
			}
			for k := i; k < t.to; k++ {
				x := l.x[k*p : (k+1)*p]
				eta := 0.0
				for j, v := range x {
					eta += beta[j] * v
				}
				if l.offset != nil {
					eta += l.offset[k]
				}
				if !(eta < largestEta) {
					return false
				}
				w := 1.0
				if l.weight != nil {
					w = l.weight[k]
				}
				r := w * math.Exp(eta)
				if risks != nil {
					risks[k] = r
				}
				into := t.risk
				if l.event[k] {
					t.weight += w
					t.eta += w * eta
					for j, v := range x {
						t.x[j] += w * v
					}
					if t.deaths > 1 {
						into = t.dying
					}
				}
				into.add(x, r)
			}
			if t.deaths == 0 {
				continue
			}
			if t.deaths > 1 {
				t.risk.addSums(t.dying)
			}
			if risks != nil {
				peak = math.Max(peak, t.risk.s0)
				for ; leave < end && l.entry[l.leaving[leave]] >= t.time; leave++ {
					k := int(l.leaving[leave])
					t.risk.add(l.x[k*p:(k+1)*p], -risks[k])
				}
				if t.risk.s0 < 1e-4*peak {
					l.resum(&t, risks)
					peak = t.risk.s0
				}
			}
			if !(t.risk.s0 > 0) {
				return false
			}
			visit(&t)
		}
	}
	return true
}

// resum sums the risk set of t afresh.
func (l *layout) resum(t *tie, risks []float64) {
	t.risk.reset()
	for k := l.bounds[t.stratum]; k < t.to; k++ {
		if l.entry[k] < t.time {
			t.risk.add(l.x[k*l.p:(k+1)*l.p], risks[k])
		}
	}
}

// efron holds the sums over the d tied events, the k-th of which has the risk
// set less the share f = k/d of the dying, with denominator D = S0 - f E0.
// With Breslow's ties, f is 0 throughout.
type efron struct {
	a0, a1     float64 // sums of 1/D and f/D
	c0, c1, c2 float64 // sums of 1/D^2, f/D^2, f^2/D^2
	logs       float64 // sum of log D
}

func (t *tie) efron(ties Ties) efron {
	d := float64(t.deaths)
	if t.deaths == 1 || ties == Breslow {
		inv := 1 / t.risk.s0
		return efron{a0: d * inv, c0: d * inv * inv, logs: d * math.Log(t.risk.s0)}
	}
	var e efron
	product := 1.0
	for k := range t.deaths {
		f := float64(k) / d
		denominator := t.risk.s0 - f*t.dying.s0
		inv := 1 / denominator
		e.a0 += inv
		e.a1 += f * inv
		e.c0 += inv * inv
		e.c1 += f * inv * inv
		e.c2 += f * f * inv * inv
		// One logarithm for several events: products are cut before they
		// could leave the range of a float64.
		if denominator > 1e50 || denominator < 1e-50 {
			e.logs += math.Log(denominator)
			continue
		}
		product *= denominator
		if product > 1e200 || product < 1e-200 {
			e.logs += math.Log(product)
			product = 1
		}
	}
	e.logs += math.Log(product)
	return e
}
