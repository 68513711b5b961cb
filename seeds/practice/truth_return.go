package practice

import (
	"fmt"
	"math"
)

// curveWeeks are the week ends at which curves are stated.
func curveWeeks() []int {
	weeks := make([]int, 0, 28)
	for n := range 27 {
		weeks = append(weeks, n)
	}
	return append(weeks, 52)
}

func week(n int) string { return fmt.Sprintf("w%d", n) }

// share is a proportion with its Monte Carlo standard error.
func share(count, n int) (value, se float64) {
	p := float64(count) / float64(n)
	return p, math.Sqrt(p * (1 - p) / float64(n))
}

// mean is an average with its Monte Carlo standard error.
func mean(values []float64) (value, se float64) {
	n := float64(len(values))
	for _, v := range values {
		value += v
	}
	value /= n
	squares := 0.0
	for _, v := range values {
		squares += (v - value) * (v - value)
	}
	return value, math.Sqrt(squares / (n - 1) / n)
}

// returnValues: of those not at their target at start, the share with a
// recorded return that held, and with each competing end, by every week end;
// and the mean weeks not returned.
func (t *Truth) returnValues(w *world, kind int, lives []life) {
	code := w.injuries[kind].code
	n := 0
	weeks := curveWeeks()
	returned, ended := make([]int, len(weeks)), make([][len(causes)]int, len(weeks))
	without := map[int][]float64{6: nil, 12: nil, 26: nil}
	for _, l := range lives {
		if l.atTarget {
			continue
		}
		n++
		for i, by := range weeks {
			if l.returned >= 0 && l.returned <= 7*by {
				returned[i]++
			}
			if l.end >= 0 && l.end <= 7*by {
				ended[i][l.cause]++
			}
		}
		for horizon := range without {
			days := 7 * horizon
			if l.returned >= 0 {
				days = min(days, l.returned)
			}
			without[horizon] = append(without[horizon], float64(days)/7)
		}
	}
	add := func(statistic string, by int, value, se float64) {
		t.Values = append(t.Values, Value{Question: "return", InjuryType: code, Statistic: statistic, X: week(by), Value: value, SE: se})
	}
	for i, by := range weeks {
		value, se := share(returned[i], n)
		add("cumulative", by, value, se)
		all := 0
		for c, cause := range causes {
			all += ended[i][c]
			if by == 6 || by == 12 || by == 26 || by == 52 {
				value, se := share(ended[i][c], n)
				add("ended."+cause, by, value, se)
			}
		}
		value, se = share(all, n)
		add("competing", by, value, se)
	}
	for _, horizon := range []int{6, 12, 26} {
		value, se := mean(without[horizon])
		add("mean_weeks", horizon, value, se)
	}
}

// recurrenceValues: of the returns, the share followed within 365 days by a new
// episode of the same person, type and side. The wait is exponential, so only
// the share of returns without a fall back is drawn.
func (t *Truth) recurrenceValues(w *world, kind int, lives []life) {
	in := &w.injuries[kind]
	n, steady := 0, 0
	for _, l := range lives {
		if !l.atTarget && l.returned >= 0 {
			n++
			if l.steady {
				steady++
			}
		}
	}
	value, se := share(steady, n)
	within := 1 - math.Exp(-in.recurs*float64(365-quietDays)/365)
	t.Values = append(t.Values, Value{Question: "recurrence", InjuryType: in.code, Statistic: "share", X: "d365", Value: value * within, SE: se * within})
}

// wayValues: share returned by week 26 of the two ways with the cuff, and their
// difference standardised over severity.
func (t *Truth) wayValues(w *world, kind int, lives []life) {
	var n, back [2][3]float64
	for _, l := range lives {
		if l.atTarget || l.way > 1 {
			continue
		}
		n[l.way][l.severity]++
		if l.returned >= 0 && l.returned <= 7*26 {
			back[l.way][l.severity]++
		}
	}
	total := 0.0
	for s := range 3 {
		total += n[0][s] + n[1][s]
	}
	value, variance := 0.0, 0.0
	for s := range 3 {
		weight := (n[0][s] + n[1][s]) / total
		for side, sign := range []float64{1, -1} {
			p := back[side][s] / n[side][s]
			value += sign * weight * p
			variance += weight * weight * p * (1 - p) / n[side][s]
		}
	}
	t.Values = append(t.Values, Value{
		Question: "cohorts", InjuryType: w.injuries[kind].code, Stratum: ways[0].code + "-" + ways[1].code,
		Statistic: "difference_standardised", X: week(26), Value: value, SE: math.Sqrt(variance),
	})
}
