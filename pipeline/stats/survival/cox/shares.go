package cox

import "gonum.org/v1/gonum/mat"

// spread holds, for the event times of one stratum in ascending order, lower
// triangles of q = p(p+1)/2 numbers: with steps h, mean covariates x and mean
// squares M of those at risk, the sums of h(2xx' - M), cumulative and for the
// dying, and the mean of M - xx', the covariance of those at risk.
type spread struct {
	cum, dying, covariance []float64
}

func (m *Model) spreads() []*spread {
	l := m.layout
	q := l.p * (l.p + 1) / 2
	out := make([]*spread, len(l.strata))
	for s := range out {
		out[s] = &spread{}
	}
	l.pass(m.top.beta, func(t *tie) {
		sp := out[t.stratum]
		cum, dying, covariance := make([]float64, q), make([]float64, q), make([]float64, q)
		for d := range t.deaths {
			f := 0.0
			if m.ties == Efron {
				f = float64(d) / float64(t.deaths)
			}
			denominator := t.risk.s0 - f*t.dying.s0
			h := t.weight / float64(t.deaths) / denominator
			k := 0
			for a := range l.p {
				xa := (t.risk.s1[a] - f*t.dying.s1[a]) / denominator
				for b := 0; b <= a; b++ {
					xb := (t.risk.s1[b] - f*t.dying.s1[b]) / denominator
					square := (t.risk.s2[k] - f*t.dying.s2[k]) / denominator
					cum[k] += h * (2*xa*xb - square)
					dying[k] += f * h * (2*xa*xb - square)
					covariance[k] += (square - xa*xb) / float64(t.deaths)
					k++
				}
			}
		}
		sp.cum = append(sp.cum, cum...)
		sp.dying = append(sp.dying, dying...)
		sp.covariance = append(sp.covariance, covariance...)
	})
	for _, sp := range out {
		reverse(sp.cum, q)
		reverse(sp.dying, q)
		reverse(sp.covariance, q)
		for i := q; i < len(sp.cum); i++ {
			sp.cum[i] += sp.cum[i-q]
		}
	}
	return out
}

// informationShares splits the information at the maximum by person: the
// negative slope of each person's score. They add up to the information.
func (m *Model) informationShares() []*mat.SymDense {
	l := m.layout
	p, q := l.p, l.p*(l.p+1)/2
	sums := make([]float64, m.Persons*q)
	hazards, spreads := m.baselines(), m.spreads()
	for s, h := range hazards {
		sp := spreads[s]
		for i := l.bounds[s]; i < l.bounds[s+1]; i++ {
			into := sums[m.personOf(i)*q:]
			w := l.weightAt(i)
			r := w * l.risk(i, m.top.beta)
			l.addShare(into, i, h.at(l.time[i]), r, h, sp)
			if l.entry != nil {
				l.addShare(into, i, h.at(l.entry[i]), -r, h, sp)
			}
			if !l.event[i] {
				continue
			}
			j := h.at(l.time[i])
			x := l.x[i*p : (i+1)*p]
			k := 0
			for a := range p {
				for b := 0; b <= a; b++ {
					borne := x[a]*x[b]*h.dying[j] - x[a]*h.dyingX[j*p+b] - h.dyingX[j*p+a]*x[b] + sp.dying[j*q+k]
					into[k] += w*sp.covariance[j*q+k] - r*borne
					k++
				}
			}
		}
	}
	out := make([]*mat.SymDense, m.Persons)
	for c := range out {
		out[c] = symmetric(sums[c*q:(c+1)*q], p)
	}
	return out
}

// addShare adds r (x x' H - x HX' - HX x' + sum of h(2xx'-M)) up to index j.
func (l *layout) addShare(into []float64, i, j int, r float64, h *hazard, sp *spread) {
	if j < 0 {
		return
	}
	p := l.p
	q := p * (p + 1) / 2
	x, cumX := l.x[i*p:(i+1)*p], h.cumX[j*p:(j+1)*p]
	k := 0
	for a := range p {
		for b := 0; b <= a; b++ {
			into[k] += r * (x[a]*x[b]*h.cum[j] - x[a]*cumX[b] - cumX[a]*x[b] + sp.cum[j*q+k])
			k++
		}
	}
}
