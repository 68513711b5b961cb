package survival

import "math"

// The infinitesimal jackknife rests on the influence of a row of weight w on
// log S and on F = the incidence of the cause. While the row is at risk, with
// the values at its entry marked e,
//
//	L(t) = w (H(t) - H(e)),            H: sum of d/(n(n-d))
//	U(t) = w (Q(t) - Q(e) - R(t) + R(e) - H(e) (F(t) - F(e))),
//	                                   Q: sum of S(s-) H(s-) dk/n
//	                                   R: sum of S(s-) dk/n^2
//
// At its own event L falls by w/(n-d) and, for the cause, U rises by w S(s-)/n;
// afterwards L is constant and U moves by L dF. The variance is the sum over
// persons of the square of the sum over their rows. These functions of the row
// are linear in 1, F, H and Q-R, so a person is the three numbers of influence
// below whatever the time, and the sum of squares is six running sums.

// integrals are H, F and Q-R at each table time for one cause; cause 0 stands
// for any event, whose F is 1 - S.
type integrals struct {
	h, f, g []float64
}

func (f *fit) integrals(cause int) integrals {
	tb := f.table
	n := len(tb.time)
	in := integrals{make([]float64, n), make([]float64, n), make([]float64, n)}
	events := f.eventsOf(cause)
	var h, inc, g float64
	for j := range tb.time {
		if d, dk, r := tb.total[j], events[j], tb.atRisk[j]; d > 0 {
			s := f.freeBefore(j)
			inc += s * dk / r
			g += s*h*dk/r - s*dk/(r*r)
			if rest := tb.left(j); rest > 0 {
				h += d / (r * rest)
			}
		}
		in.h[j], in.f[j], in.g[j] = h, inc, g
	}
	return in
}

// at returns the values after table time j; j = -1 is the start.
func (in integrals) at(j int) (h, f, g float64) {
	if j < 0 {
		return 0, 0, 0
	}
	return in.h[j], in.f[j], in.g[j]
}

// influence of a person: L = a + w H and U = b + a F + w (Q-R).
type influence struct{ a, b, w float64 }

// squares are the sums over persons of the products of influence.
type squares struct{ aa, ab, aw, bb, bw, ww float64 }

func (s *squares) add(x influence, sign float64) {
	s.aa += sign * x.a * x.a
	s.ab += sign * x.a * x.b
	s.aw += sign * x.a * x.w
	s.bb += sign * x.b * x.b
	s.bw += sign * x.b * x.w
	s.ww += sign * x.w * x.w
}

// jackknife returns the standard errors of a curve, in one pass over the times
// with a step for each row's entry and exit.
func (f *fit) jackknife(cause int, value []float64) []float64 {
	tb, in := f.table, f.in
	path := f.integrals(cause)
	entries, exits := f.rowsByTime()
	who := func(row int32) int {
		if f.codes == nil {
			return int(row)
		}
		return f.codes[row]
	}
	people := make([]influence, f.persons)
	var sum squares
	if in.Entry == nil {
		for i := range in.Time {
			people[who(int32(i))].w += in.weight(i)
		}
		for _, p := range people {
			sum.add(p, 1)
		}
	}
	se := make([]float64, len(tb.time))
	for j := range tb.time {
		h, inc, g := path.at(j - 1)
		for _, row := range entries.of(j) {
			p := &people[who(row)]
			w := in.weight(int(row))
			sum.add(*p, -1)
			p.a -= w * h
			p.b -= w*g - w*h*inc
			p.w += w
			sum.add(*p, 1)
		}
		s, rest := f.freeBefore(j), tb.left(j)
		h, inc, g = path.at(j)
		for _, row := range exits.of(j) {
			p := &people[who(row)]
			w := in.weight(int(row))
			sum.add(*p, -1)
			da := w * h
			if in.Event[row] > 0 && rest > 0 {
				da -= w / rest
			}
			p.a += da
			p.b += w*g - da*inc
			if k := in.Event[row]; k > 0 && (k == cause || cause == 0) {
				p.b += w * s / tb.atRisk[j]
			}
			p.w -= w
			sum.add(*p, 1)
		}
		switch {
		case s == 0:
			se[j] = se[j-1] // nothing after the curve has ended moves it
		case cause == 0:
			v := sum.aa + 2*h*sum.aw + h*h*sum.ww
			se[j] = value[j] * math.Sqrt(math.Max(0, v))
		default:
			v := sum.bb + inc*inc*sum.aa + g*g*sum.ww + 2*(inc*sum.ab+g*sum.bw+inc*g*sum.aw)
			se[j] = math.Sqrt(math.Max(0, v))
		}
	}
	return se
}

// buckets hold row numbers by table time.
type buckets struct {
	start []int32
	rows  []int32
}

func (b buckets) of(j int) []int32 {
	if b.start == nil {
		return nil
	}
	return b.rows[b.start[j]:b.start[j+1]]
}

// rowsByTime deals the rows to the first table time at which they are at risk
// (empty without Entry) and to the one at which they end.
func (f *fit) rowsByTime() (entries, exits buckets) {
	times := len(f.table.time)
	exits = deal(len(f.in.Time), times, func(i int) int { return f.table.after(f.in.Time[i]) - 1 })
	if f.in.Entry != nil {
		entries = deal(len(f.in.Time), times, func(i int) int { return f.table.after(f.in.Entry[i]) })
	}
	return entries, exits
}

func deal(rows, times int, at func(int) int) buckets {
	b := buckets{make([]int32, times+1), make([]int32, rows)}
	where := make([]int32, rows)
	for i := range rows {
		j := at(i)
		where[i] = int32(j) //nolint:gosec // below the number of rows
		b.start[j+1]++
	}
	for j := range times {
		b.start[j+1] += b.start[j]
	}
	next := append([]int32(nil), b.start...)
	for i, j := range where {
		b.rows[next[j]] = int32(i)
		next[j]++
	}
	return b
}
