package practice

import (
	"math"
	"slices"
)

// doseMeasures are the measures of the window's dose, as the analysis counts
// them.
var doseMeasures = []struct {
	name string
	of   func(dose) float64
}{
	{"sets", func(d dose) float64 { return d.sets }},
	{"repetitions", func(d dose) float64 { return d.reps }},
	{"inflated_minutes", func(d dose) float64 { return d.minutes }},
	{"pressure_minutes", func(d dose) float64 { return d.pressureMinutes }},
}

// batches into which episodes are split for the Monte Carlo error of figures
// that are no simple averages.
const batches = 20

// doseValues: among those still at risk at the landmark who did some work with
// the cuff inflated, the share returned by week 12 and 26 in the upper third of
// dose less that in the lower, raw and standardised over severity; and the
// share at the third less that at the first quartile of dose.
func (t *Truth) doseValues(w *world, kind int, lives []life) {
	in := &w.injuries[kind]
	var at []life
	for _, l := range lives {
		if l.atTarget || !ways[l.way].cuff || l.dose.sets == 0 || l.before(in.landmark) {
			continue
		}
		at = append(at, l)
	}
	curves := w.responses(kind, at)
	for _, m := range doseMeasures {
		add := func(statistic string, by int, value, se float64) {
			t.Values = append(t.Values, Value{Question: "dose", InjuryType: in.code, Measure: m.name, Statistic: statistic, X: week(by), Value: value, SE: se})
		}
		for _, by := range []int{12, 26} {
			value, se := thirds(at, m.of, by, false)
			add("thirds_raw", by, value, se)
			value, se = thirds(at, m.of, by, true)
			add("thirds_standardised", by, value, se)
			between := func(part []life) float64 {
				return quartiles(part, m.of, in.landmark, func(l life, sets float64) float64 { return curves[l.severity].at(by, sets) })
			}
			value = between(at)
			// The same people are run at both doses: they differ by those who
			// return at one of them only.
			paired := math.Abs(value) * (1 - math.Abs(value)) / float64(len(at))
			add("quartiles_standardised", by, value, math.Sqrt(math.Pow(batchError(at, between), 2)+paired))
		}
		index := func(part []life) float64 {
			return quartiles(part, m.of, in.landmark, func(l life, sets float64) float64 { return w.indexAt(in, l, sets) })
		}
		add("quartiles_standardised_index", 12, index(at), batchError(at, index))
	}
}

// before says whether the person returned or ended before the landmark.
func (l life) before(landmark int) bool {
	return l.returned >= 0 && l.returned < landmark || l.end >= 0 && l.end < landmark
}

func (l life) backBy(by int) float64 {
	if l.returned >= 0 && l.returned <= 7*by {
		return 1
	}
	return 0
}

// thirds is the share returned in the upper third less that in the lower. A
// value equal to a bound belongs below it; a severity that is missing from one
// of the thirds is left out.
func thirds(at []life, of func(dose) float64, by int, standardised bool) (value, se float64) {
	values := make([]float64, len(at))
	for i, l := range at {
		values[i] = of(l.dose)
	}
	slices.Sort(values)
	low, high := quantile(values, 1.0/3), quantile(values, 2.0/3)
	var n, back [2][3]float64
	var weights [3]float64
	for _, l := range at {
		s := l.severity
		if !standardised {
			s = 0
		}
		weights[s]++
		third := 0
		switch v := of(l.dose); {
		case v > high:
			third = 1
		case v > low:
			continue
		}
		n[third][s]++
		back[third][s] += l.backBy(by)
	}
	total := 0.0
	for s := range weights {
		if n[0][s] == 0 || n[1][s] == 0 {
			weights[s] = 0
		}
		total += weights[s]
	}
	variance := 0.0
	for s, weight := range weights {
		if weight == 0 {
			continue
		}
		weight /= total
		for third, sign := range []float64{-1, 1} {
			p := back[third][s] / n[third][s]
			value += sign * weight * p
			variance += weight * weight * p * (1 - p) / n[third][s]
		}
	}
	return value, math.Sqrt(variance)
}

// quantile is the smallest value that at least a share p do not exceed.
func quantile(sorted []float64, p float64) float64 {
	return sorted[max(0, min(len(sorted)-1, int(math.Ceil(p*float64(len(sorted))))-1))]
}

// quartiles is the expected outcome at the third quartile of a measure less
// that at the first, over the severities of those analysed. outcome gives it by
// the sets per week of the window, which alone act; the people whose measure is
// not far from a quartile show, scaled to it, which sets go with it.
func quartiles(at []life, of func(dose) float64, landmark int, outcome func(l life, sets float64) float64) float64 {
	values := make([]float64, len(at))
	var weights [3]float64
	for i, l := range at {
		values[i] = of(l.dose)
		weights[l.severity]++
	}
	slices.Sort(values)
	expected := func(dose float64) float64 {
		var sum, n [3]float64
		for _, l := range at {
			if own := of(l.dose); own > 0.75*dose && own < dose/0.75 {
				sum[l.severity] += outcome(l, l.dose.sets*dose/own*7/float64(landmark))
				n[l.severity]++
			}
		}
		value, total := 0.0, 0.0
		for s, weight := range weights {
			if n[s] > 0 { // a severity can be missing from a small draw alone
				value += weight * sum[s] / n[s]
				total += weight
			}
		}
		return value / total
	}
	return expected(quantile(values, 0.75)) - expected(quantile(values, 0.25))
}

// response is the share returned by week 12 and 26 at given doses, among
// people of one severity.
type response struct {
	sets   []float64 // per week
	shares [2][]float64
}

func (r response) at(by int, sets float64) float64 {
	shares := r.shares[0]
	if by == 26 {
		shares = r.shares[1]
	}
	i, _ := slices.BinarySearch(r.sets, sets)
	i = max(1, min(i, len(r.sets)-1))
	part := (sets - r.sets[i-1]) / (r.sets[i] - r.sets[i-1])
	return shares[i-1] + part*(shares[i]-shares[i-1])
}

// responses runs the same people again at each of a grid of doses, by severity.
func (w *world) responses(kind int, at []life) []response {
	var grid []float64
	for sets := 2.0; sets < 110; sets *= 1.4 {
		grid = append(grid, sets)
	}
	type count struct{ n, back [3][2]float64 }
	const chunk = 512
	chunks := (len(at) + chunk - 1) / chunk
	counts := make([][]count, chunks)
	w.inParallel(chunks, func(c int) {
		counts[c] = make([]count, len(grid))
		r := run{w: w, until: forever, kept: true, ends: true}
		for i := c * chunk; i < min(len(at), (c+1)*chunk); i++ {
			number := at[i].number
			e := w.drawEpisode(number, drawPerson(&w.scenario, number), kind)
			r.e = &e
			for g, sets := range grid {
				r.force = sets
				l := keepLife(&e, r.course())
				for h, by := range []int{12, 26} {
					counts[c][g].n[l.severity][h]++
					counts[c][g].back[l.severity][h] += l.backBy(by)
				}
			}
		}
	})
	curves := make([]response, 3)
	for s := range curves {
		curves[s].sets = grid
		for h := range 2 {
			for g := range grid {
				var n, back float64
				for c := range counts {
					n += counts[c][g].n[s][h]
					back += counts[c][g].back[s][h]
				}
				curves[s].shares[h] = append(curves[s].shares[h], back/n)
			}
		}
	}
	return curves
}

// batchError is the Monte Carlo standard error of a figure that is no simple
// average, from its values in batches.
func batchError(at []life, of func([]life) float64) float64 {
	n := batches
	if len(at) < 100*n {
		n = 5
	}
	var values []float64
	for b := range n {
		values = append(values, of(at[b*len(at)/n:(b+1)*len(at)/n]))
	}
	_, se := mean(values)
	return se
}
