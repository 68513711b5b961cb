package adjust

import (
	"cmp"
	"slices"
)

// pseudo turns what became of the episodes into pseudo-values of the share
// returned by the horizon: the share plus as many times the influence of the
// episode on it as there are episodes. Their mean is the Aalen-Johansen share;
// regressed on covariates they tell how that share differs with them (Andersen,
// Klein and Rosthøj, Biometrika 2003;90:15; infinitesimal jackknife as in
// survival::pseudo of R, with which it agrees). It holds for watching that ends
// for reasons that have nothing to do with the covariates.
type pseudo struct {
	days []int // distinct days up to the horizon, ascending
	at   []int // place of each episode's day in them; len(days) behind the horizon
	kind []int // event of each episode, 0 behind the horizon
}

func newPseudo(day, event []int, horizon int) *pseudo {
	p := &pseudo{at: make([]int, len(day)), kind: make([]int, len(day))}
	order := make([]int, len(day))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(day[a], day[b]) })
	for _, i := range order {
		if day[i] > horizon {
			p.at[i] = -1
			continue
		}
		if len(p.days) == 0 || p.days[len(p.days)-1] != day[i] {
			p.days = append(p.days, day[i])
		}
		p.at[i], p.kind[i] = len(p.days)-1, event[i]
	}
	for i, at := range p.at {
		if at < 0 {
			p.at[i] = len(p.days)
		}
	}
	return p
}

// steps is the room that values needs; one for each goroutine.
type steps struct {
	gone    [3][]float64 // on each day, by event
	h, f, g []float64    // running sums after each day, as in survival's jackknife
	own     [3][]float64 // what an event on the day adds to the influence, by event
}

func (p *pseudo) steps() *steps {
	n := len(p.days) + 1
	s := &steps{h: make([]float64, n), f: make([]float64, n), g: make([]float64, n)}
	for k := range s.gone {
		s.gone[k], s.own[k] = make([]float64, n), make([]float64, n)
	}
	return s
}

// values writes the pseudo-value of every episode into out and returns the share
// returned. weight counts how often each episode is there; it is above 0 for
// some.
func (p *pseudo) values(weight, out []float64, s *steps) float64 {
	for k := range s.gone {
		clear(s.gone[k])
	}
	total := 0.0
	for i, at := range p.at {
		s.gone[p.kind[i]][at] += weight[i]
		total += weight[i]
	}
	var h, share, g float64
	free, risk := 1.0, total
	for j := range p.days {
		returned, all := s.gone[1][j], s.gone[1][j]+s.gone[2][j]
		lost := 0.0 // what an end on the day takes off the influence on log free
		s.own[1][j], s.own[2][j] = 0, 0
		if all > 0 {
			share += free * returned / risk
			g += free*h*returned/risk - free*returned/(risk*risk)
			s.own[1][j] = free / risk
			if rest := risk - all; rest > 0 {
				h += all / (risk * rest)
				lost = 1 / rest
			}
			free *= 1 - all/risk
		}
		s.h[j], s.f[j], s.g[j] = h-lost, share, g
		risk -= all + s.gone[0][j]
		// Those whose watching alone ends on the day keep the whole of h.
		s.own[0][j] = lost
	}
	last := len(p.days)
	s.h[last], s.f[last], s.g[last] = h, share, g
	for i, at := range p.at {
		l := s.h[at]
		u := s.g[at]
		if at < last {
			if p.kind[i] == 0 {
				l += s.own[0][at]
			} else {
				u += s.own[p.kind[i]][at]
			}
		}
		out[i] = share + total*(u+l*(share-s.f[at]))
	}
	return share
}
