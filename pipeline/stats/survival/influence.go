package survival

// cumulative are the integrals of F and Q-R from time 0 to each table time.
type cumulative struct{ f, g []float64 }

// influences returns for each person the influence on the share F of the cause
// (cause 0: of any event, 1-S) at the horizon, and on its integral from 0 to
// the horizon. See the comment at the top of the jackknife.
func (f *fit) influences(cause int, horizon float64) (share, area []float64) {
	tb, in := f.table, f.in
	path := f.integrals(cause)
	last := tb.after(horizon) - 1 // last table time up to the horizon
	total := path.integrate(tb.time, last)
	// integral of F and Q-R from 0 to time t, which lies after table time j
	upTo := func(j int, t float64) (intF, intG float64) {
		if j < 0 {
			return 0, 0
		}
		return total.f[j] + path.f[j]*(t-tb.time[j]), total.g[j] + path.g[j]*(t-tb.time[j])
	}
	endF, _ := upTo(last, horizon)
	share = make([]float64, f.persons)
	area = make([]float64, f.persons)
	for i, end := range in.Time {
		first := 0
		if in.Entry != nil {
			first = tb.after(in.Entry[i])
		}
		if first > last {
			continue
		}
		w := in.weight(i)
		h0, f0, g0 := path.at(first - 1)
		x, event := tb.after(end)-1, in.Event[i]
		t := end
		if end > horizon {
			x, event, t = last, 0, horizon
		}
		h1, f1, g1 := path.at(x)
		l := h1 - h0
		u := g1 - g0 - h0*(f1-f0)
		start := tb.time[first]
		fromF, fromG := upTo(first, start)
		toF, toG := upTo(x, t)
		sum := toG - fromG - g0*(t-start) - h0*(toF-fromF-f0*(t-start))
		if event > 0 {
			if rest := tb.left(x); rest > 0 {
				l -= 1 / rest
			}
			if event == cause || cause == 0 {
				u += f.freeBefore(x) / tb.atRisk[x]
			}
		}
		sum += u*(horizon-t) + l*(endF-toF-f1*(horizon-t))
		who := i
		if f.codes != nil {
			who = f.codes[i]
		}
		share[who] += w * (u + l*(path.f[last]-f1))
		area[who] += w * sum
	}
	return share, area
}

// integrate returns the integrals from 0 to each table time up to the last.
func (in integrals) integrate(times []float64, last int) cumulative {
	c := cumulative{make([]float64, last+1), make([]float64, last+1)}
	for j := 1; j <= last; j++ {
		width := times[j] - times[j-1]
		c.f[j] = c.f[j-1] + in.f[j-1]*width
		c.g[j] = c.g[j-1] + in.g[j-1]*width
	}
	return c
}
