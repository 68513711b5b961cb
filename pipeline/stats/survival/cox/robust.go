package cox

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// scoreResiduals returns for each position its weighted share of the score
// vector at a point, p values each: the covariates of its event less the mean
// of those at risk, less what its hazard would lead one to expect (Therneau,
// Grambsch & Fleming, Biometrika 1990;77:147).
func (m *Model) scoreResiduals(pt *point) []float64 {
	l := m.layout
	p := l.p
	hazards := m.hazardsAt(pt)
	out := make([]float64, len(l.time)*p)
	for s, h := range hazards {
		for i := l.bounds[s]; i < l.bounds[s+1]; i++ {
			j := h.at(l.time[i])
			cum, cumX := h.cumulative(j)
			cum0, cumX0 := 0.0, []float64(nil)
			if l.entry != nil {
				cum0, cumX0 = h.cumulative(h.at(l.entry[i]))
			}
			w := l.weightAt(i)
			r := w * l.risk(i, pt.beta)
			x, u := l.x[i*p:(i+1)*p], out[i*p:(i+1)*p]
			for a := range u {
				passed, passedX := cum-cum0, cumX[a]
				if cumX0 != nil {
					passedX -= cumX0[a]
				}
				if l.event[i] {
					u[a] = w * (x[a] - h.mean[j*p+a])
					passed -= h.dying[j]
					passedX -= h.dyingX[j*p+a]
				}
				u[a] -= r * (x[a]*passed - passedX)
			}
		}
	}
	return out
}

// risk is exp of the linear predictor of a position.
func (l *layout) risk(i int, beta []float64) float64 {
	eta := 0.0
	for a, x := range l.x[i*l.p : (i+1)*l.p] {
		eta += beta[a] * x
	}
	if l.offset != nil {
		eta += l.offset[i]
	}
	return math.Exp(math.Min(eta, largestEta))
}

// personOf is the person of a position.
func (m *Model) personOf(i int) int {
	r := int(m.layout.rows[i])
	if m.person == nil {
		return r
	}
	return m.person[r]
}

// byPerson sums values, p a position, over the positions of each person.
func (m *Model) byPerson(values []float64) []float64 {
	p := m.layout.p
	out := make([]float64, m.Persons*p)
	for i := range m.layout.rows {
		c := m.personOf(i)
		for a := range p {
			out[c*p+a] += values[i*p+a]
		}
	}
	return out
}

// scoreSpread is the sum over persons of their score times its transpose.
func (m *Model) scoreSpread(pt *point) *mat.SymDense {
	p := m.layout.p
	sum := mat.NewSymDense(p, nil)
	u := m.byPerson(m.scoreResiduals(pt))
	for c := 0; c < len(u); c += p {
		for a := range p {
			for b := a; b < p; b++ {
				sum.SetSym(a, b, sum.At(a, b)+u[c+a]*u[c+b])
			}
		}
	}
	return sum
}

// sandwich is the inverse information around the spread of the scores.
func (m *Model) sandwich(inverse *mat.SymDense) *mat.SymDense {
	return around(inverse, m.scoreSpread(m.top))
}

// around is v s v, kept symmetric to the last bit.
func around(v, s *mat.SymDense) *mat.SymDense {
	var half, full mat.Dense
	half.Mul(v, s)
	full.Mul(&half, v)
	n := v.SymmetricDim()
	out := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			out.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	return out
}
