package survival

import "math"

// greenwood returns the standard errors of a curve from independent
// multinomial increments. The sum over event times s up to t
//
//	(F(t)-F(s))^2 d/(n(n-d)) + S(s-)^2 dk(n-dk)/n^3 - 2 (F(t)-F(s)) S(s-) dk/n^2
//
// is kept in five running sums. For cause 0 it is S(t)^2 times the sum of
// d/(n(n-d)).
func (f *fit) greenwood(cause int, value []float64) []float64 {
	tb := f.table
	se := make([]float64, len(value))
	var a, af, aff, b, c, cf float64
	for j, v := range value {
		n, d, rest := tb.atRisk[j], tb.total[j], tb.left(j)
		if d == 0 {
			if j > 0 {
				se[j] = se[j-1]
			}
			continue
		}
		inc := 0.0 // stays 0 when nobody is left: the curve no longer moves
		if rest > 0 {
			inc = d / (n * rest)
		}
		if cause == 0 {
			a += inc
			se[j] = v * math.Sqrt(a)
			continue
		}
		s, dk := f.freeBefore(j), tb.events[cause-1][j]
		a += inc
		af += inc * v
		aff += inc * v * v
		b += s * s * dk * (n - dk) / (n * n * n)
		c += s * dk / (n * n)
		cf += s * dk / (n * n) * v
		se[j] = math.Sqrt(math.Max(0, v*v*a-2*v*af+aff+b-2*(v*c-cf)))
	}
	return se
}

// aalen is the variance of cmprsk::cuminc: events of other causes and of the
// cause itself contribute one after the other, in this order, each with the
// tie factor (n-d)/(n-1).
func (f *fit) aalen(cause int, value []float64) []float64 {
	tb := f.table
	se := make([]float64, len(value))
	var v1, v2, v3 float64
	add := func(fk, n, d, t3, t4 float64) {
		tie := 1.0
		if d > 1 {
			tie = 1 - (d-1)/(n-1)
		}
		t6 := fk * fk * tie * d / (n * n)
		v1 += t4 * t4 * t6
		v2 += t3 * t4 * t6
		v3 += t3 * t3 * t6
	}
	for j, v := range value {
		n, d := tb.atRisk[j], tb.total[j]
		if d > 0 {
			s, after, dk := f.freeBefore(j), f.free[j], tb.events[cause-1][j]
			if d > dk && after > 0 {
				add(s, n, d-dk, 1/after, v/after)
			}
			if dk > 0 {
				t3 := 0.0
				if after > 0 {
					t3 = 1 / after
				}
				add(s, n, dk, t3, 1+t3*v)
			}
		}
		se[j] = math.Sqrt(math.Max(0, v1+v*v*v3-2*v*v2))
	}
	return se
}
