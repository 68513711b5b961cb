// Package order sorts follow-up times. It is shared by the folders of survival.
package order

import "math"

const (
	digitBits = 11
	digits    = 6 // of 11 bits: all 64 of a float64
)

// Of returns the row numbers in ascending order of xs, which must be finite;
// equal values keep the order of their rows. It is a radix sort on the bits of
// the numbers: linear in the rows, with 24 bytes a row while it runs.
func Of(xs []float64) []int32 {
	n := len(xs)
	keys := make([]uint64, 2*n)
	rows := make([]int32, 2*n)
	var counts [digits][1 << digitBits]int32
	for i, x := range xs {
		k := sortable(x)
		keys[i] = k
		rows[i] = int32(i)
		for d := range digits {
			counts[d][k>>(d*digitBits)&(1<<digitBits-1)]++
		}
	}
	fromK, toK := keys[:n], keys[n:]
	fromR, toR := rows[:n], rows[n:]
	for d := range digits {
		count := &counts[d]
		if n == 0 || count[fromK[0]>>(d*digitBits)&(1<<digitBits-1)] == int32(n) { //nolint:gosec // as above
			continue
		}
		var at int32
		for v, c := range count {
			count[v] = at
			at += c
		}
		for i, k := range fromK {
			v := k >> (d * digitBits) & (1<<digitBits - 1)
			j := count[v]
			count[v] = j + 1
			toK[j] = k
			toR[j] = fromR[i]
		}
		fromK, toK = toK, fromK
		fromR, toR = toR, fromR
	}
	return fromR
}

// sortable maps numbers to integers of the same order; -0 counts as 0.
func sortable(x float64) uint64 {
	b := math.Float64bits(x + 0)
	if b>>63 == 1 {
		return ^b
	}
	return b | 1<<63
}
