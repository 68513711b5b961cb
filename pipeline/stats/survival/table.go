package survival

import (
	"sort"

	"evenlimb/pipeline/stats/survival/internal/order"
)

// table counts, at each distinct end of follow-up, who was at risk just before
// it and what happened at it. Counts are sums of weights.
type table struct {
	time     []float64
	atRisk   []float64
	events   [][]float64 // events[k-1][j] of cause k
	total    []float64   // of all causes; with one cause the same slice as events[0]
	censored []float64
}

// wholeDays returns the largest time when all are whole numbers small enough
// to be counted day by day.
func wholeDays(times []float64) (last int, ok bool) {
	limit := float64(4*len(times) + 1<<12)
	for _, t := range times {
		if t > limit || t != float64(int(t)) {
			return 0, false
		}
		last = max(last, int(t))
	}
	return last, true
}

func newTable(d Data, causes int) *table {
	var tb *table
	if last, ok := wholeDays(d.Time); ok {
		tb = countDays(d, causes, last)
	} else {
		tb = countSorted(d, causes)
	}
	tb.total = tb.events[0]
	if causes > 1 {
		tb.total = make([]float64, len(tb.time))
		for _, ev := range tb.events {
			for j, x := range ev {
				tb.total[j] += x
			}
		}
	}
	// Summed from the end, so that the last risk set equals its events to the
	// last bit when nobody is left.
	tb.atRisk = make([]float64, len(tb.time))
	sum := 0.0
	for j := len(tb.time) - 1; j >= 0; j-- {
		sum += tb.censored[j] + tb.total[j]
		tb.atRisk[j] = sum
	}
	if d.Entry != nil {
		late := make([]float64, len(tb.time)+1)
		for i, e := range d.Entry {
			late[tb.after(e)] += d.weight(i)
		}
		sum = 0
		for j := len(tb.time) - 1; j >= 0; j-- {
			sum += late[j+1]
			tb.atRisk[j] -= sum
		}
	}
	return tb
}

// after returns the index of the first table time above t.
func (tb *table) after(t float64) int {
	return sort.Search(len(tb.time), func(j int) bool { return tb.time[j] > t })
}

// left is what remains of the risk set after the events at j: exactly zero
// when rounding of weights alone keeps it from zero.
func (tb *table) left(j int) float64 {
	rest := tb.atRisk[j] - tb.total[j]
	if rest <= 1e-10*tb.atRisk[j] {
		return 0
	}
	return rest
}

// grid makes room for n times.
func grid(causes, n int) *table {
	tb := &table{time: make([]float64, n), censored: make([]float64, n)}
	for range causes {
		tb.events = append(tb.events, make([]float64, n))
	}
	return tb
}

// countDays is for whole days: a pass over the rows, no sorting.
func countDays(d Data, causes, last int) *table {
	// One block a day: what is 0 (censored) and each cause.
	width := causes + 1
	count := make([]float64, (last+1)*width)
	if d.Weight == nil {
		for i, t := range d.Time {
			count[int(t)*width+d.Event[i]]++
		}
	} else {
		for i, t := range d.Time {
			count[int(t)*width+d.Event[i]] += d.Weight[i]
		}
	}
	days := make([]int, 0, last+1)
	for day := 0; day <= last; day++ {
		for _, c := range count[day*width : (day+1)*width] {
			if c > 0 {
				days = append(days, day)
				break
			}
		}
	}
	tb := grid(causes, len(days))
	for j, day := range days {
		tb.time[j] = float64(day)
		tb.censored[j] = count[day*width]
		for k := range causes {
			tb.events[k][j] = count[day*width+k+1]
		}
	}
	return tb
}

func countSorted(d Data, causes int) *table {
	rows := order.Of(d.Time)
	distinct := 1
	for i := 1; i < len(rows); i++ {
		if d.Time[rows[i]] != d.Time[rows[i-1]] {
			distinct++
		}
	}
	tb := grid(causes, distinct)
	j := -1
	for i, r := range rows {
		t := d.Time[r]
		if i == 0 || t != tb.time[j] {
			j++
			tb.time[j] = t
		}
		w := 1.0
		if d.Weight != nil {
			w = d.Weight[r]
		}
		if k := d.Event[r]; k == 0 {
			tb.censored[j] += w
		} else {
			tb.events[k-1][j] += w
		}
	}
	return tb
}
