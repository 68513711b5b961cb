package cox

import "sort"

// hazard is the baseline of one stratum at its event times, ascending, for a
// person at the column means. With Efron's ties an event time is a sequence of
// small steps, and those who have the event bear only a part of each: the
// columns ending in Dying are what they do not bear.
type hazard struct {
	p     int
	time  []float64
	step  []float64 // increment of the cumulative hazard
	cum   []float64 // up to and with each time
	noise []float64 // cumulative sum of w / D^2, the variance of cum at known beta
	dying []float64

	// p values a time: sums of the steps times the mean covariates of those at
	// risk, cumulative and for the dying, and the mean of these means.
	cumX   []float64
	dyingX []float64
	mean   []float64
}

// at returns the index of the last event time up to t, -1 before the first.
func (h *hazard) at(t float64) int {
	return sort.Search(len(h.time), func(j int) bool { return h.time[j] > t }) - 1
}

// cumulative returns the hazard and the p sums of it times x up to index j.
func (h *hazard) cumulative(j int) (cum float64, cumX []float64) {
	if j < 0 {
		return 0, make([]float64, h.p)
	}
	return h.cum[j], h.cumX[j*h.p : (j+1)*h.p]
}

// hazardsAt computes the baselines at a point, a stratum each.
func (m *Model) hazardsAt(pt *point) []*hazard {
	l := m.layout
	out := make([]*hazard, len(l.strata))
	for s := range out {
		out[s] = &hazard{p: l.p}
	}
	l.pass(pt.beta, func(t *tie) {
		h := out[t.stratum]
		e := t.efron(m.ties)
		w := t.weight / float64(t.deaths)
		h.time = append(h.time, t.time)
		h.step = append(h.step, w*e.a0)
		h.dying = append(h.dying, w*e.a1)
		h.noise = append(h.noise, w*e.c0)
		for a, s := range t.risk.s1 {
			d := t.dying.s1[a]
			h.cumX = append(h.cumX, w*(s*e.c0-d*e.c1))
			h.dyingX = append(h.dyingX, w*(s*e.c1-d*e.c2))
			h.mean = append(h.mean, (s*e.a0-d*e.a1)/float64(t.deaths))
		}
	})
	for _, h := range out {
		h.finish()
	}
	return out
}

// finish turns the order of the pass, latest first, and adds up.
func (h *hazard) finish() {
	n := len(h.time)
	for _, xs := range [][]float64{h.time, h.step, h.dying, h.noise} {
		reverse(xs, 1)
	}
	for _, xs := range [][]float64{h.cumX, h.dyingX, h.mean} {
		reverse(xs, h.p)
	}
	h.cum = append([]float64(nil), h.step...)
	for j := 1; j < n; j++ {
		h.cum[j] += h.cum[j-1]
		h.noise[j] += h.noise[j-1]
		for a := range h.p {
			h.cumX[j*h.p+a] += h.cumX[(j-1)*h.p+a]
		}
	}
}

// reverse reverses the order of blocks of p values.
func reverse(xs []float64, p int) {
	for i, j := 0, len(xs)/p-1; i < j; i, j = i+1, j-1 {
		for a := range p {
			xs[i*p+a], xs[j*p+a] = xs[j*p+a], xs[i*p+a]
		}
	}
}

// baselines are the hazards at the maximum, computed once.
func (m *Model) baselines() []*hazard {
	if m.hazards == nil {
		m.hazards = m.hazardsAt(m.top)
	}
	return m.hazards
}
