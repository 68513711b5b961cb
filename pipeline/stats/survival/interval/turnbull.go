package interval

import (
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/stats"
)

// Curve is a Turnbull estimate: where the events lie, as far as the data say.
type Curve struct {
	From []float64 // ascending; mass j lies after From[j] and by To[j],
	To   []float64 // or at To[j] when they are equal; the last may be +Inf
	Mass []float64 // share of persons there, above 0, summing to 1

	LogLik   float64
	Gradient float64 // largest gradient; 1 at the maximum
	Steps    int
	N        int // rows
	Events   int // rows whose event was seen
	Method   string
	Warnings []stats.Warning
}

// optimal is how far above 1 the largest gradient may lie at the end; mostSteps
// bounds the search.
const (
	optimal   = 1e-9
	mostSteps = 10_000
)

// Turnbull estimates the share of persons who had the event by each time when
// it is only known between which visits it happened.
//
// Input: Data. Output: a Curve; inside a mass the data do not say how it is
// spread, so By gives two limits. It has no band.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite, ErrRange, and ErrNoEvents
// when no event was seen. The warning "not-optimal" says that the largest
// gradient is still above 1 + 1e-9 after 10,000 steps; the log-likelihood is
// then short of its maximum by at most rows x (Gradient - 1).
//
// Method: nonparametric maximum likelihood on the innermost intervals (Turnbull,
// J R Stat Soc B 1976;38:290), by self-consistency alternating with the
// iterative convex minorant (Wellner & Zhan, J Am Stat Assoc 1997;92:945). It is
// judged by its optimality conditions; survival::survfit stops earlier.
//
// Cost: a sort, then a step linear in the rows; tens of steps as a rule.
func Turnbull(in Data) (*Curve, error) {
	if err := in.check(); err != nil {
		return nil, fmt.Errorf("Turnbull curve: %w", err)
	}
	c := &Curve{N: len(in.Lower), Events: in.seen(), Method: "Turnbull (interval-censored), no band"}
	if c.Events == 0 {
		return nil, fmt.Errorf("Turnbull curve: %w", stats.ErrNoEvents)
	}
	pb := newProblem(in)
	mass := pb.solve(c)
	for j, p := range mass {
		if p > 0 {
			c.From = append(c.From, pb.from[j])
			c.To = append(c.To, pb.to[j])
			c.Mass = append(c.Mass, p)
		}
	}
	if c.Gradient > 1+optimal {
		c.Warnings = append(c.Warnings, stats.Warning{
			Code: "not-optimal",
			Text: fmt.Sprintf("The search stopped with a gradient of 1 + %.1e.", c.Gradient-1),
		})
	}
	return c, nil
}

// By returns the least and the largest share that can have had the event by
// time t; they are equal except inside a mass.
func (c *Curve) By(t float64) (least, most float64) {
	for j, p := range c.Mass {
		switch {
		case c.To[j] <= t:
			least += p
			most += p
		case c.From[j] < t:
			most += p
		}
	}
	return math.Min(least, 1), math.Min(most, 1)
}

// Even is the share by time t with the mass between two visits spread evenly over
// the time between them, which makes it one number between those of By.
func (c *Curve) Even(t float64) float64 {
	share := 0.0
	for j, p := range c.Mass {
		switch {
		case c.To[j] <= t:
			share += p
		case c.From[j] < t && !math.IsInf(c.To[j], 1):
			share += p * (t - c.From[j]) / (c.To[j] - c.From[j])
		}
	}
	return math.Min(share, 1)
}

// problem is the likelihood on the innermost intervals: row i covers masses
// first[i] up to last[i].
type problem struct {
	from, to    []float64
	first, last []int
	weight      []float64
	total       float64
}

// An end of an interval, ordered by time; at one time, "at it" comes before
// "after it", and at the same place left ends come before right ends.
type end struct {
	time  float64
	after bool // the interval begins after the time (open on the left)
	right bool
}

func compareEnds(a, b end) int {
	switch {
	case a.time != b.time:
		if a.time < b.time {
			return -1
		}
		return 1
	case a.after != b.after:
		if b.after {
			return -1
		}
		return 1
	case a.right != b.right:
		if b.right {
			return -1
		}
		return 1
	}
	return 0
}

func newProblem(in Data) *problem {
	n := len(in.Lower)
	ends := make([]end, 0, 2*n)
	left := func(i int) end { return end{in.Lower[i], in.Lower[i] < in.Upper[i], false} }
	right := func(i int) end { return end{in.Upper[i], false, true} }
	for i := range n {
		ends = append(ends, left(i), right(i))
	}
	slices.SortFunc(ends, compareEnds)
	pb := &problem{}
	var lefts, rights []end // of the innermost intervals
	for i := 1; i < len(ends); i++ {
		if ends[i].right && !ends[i-1].right {
			lefts, rights = append(lefts, ends[i-1]), append(rights, ends[i])
			pb.from, pb.to = append(pb.from, ends[i-1].time), append(pb.to, ends[i].time)
		}
	}
	same := map[[2]int]int{} // rows that span the same masses are one of their summed weight
	for i := range n {
		first, _ := slices.BinarySearchFunc(lefts, left(i), compareEnds)
		last, found := slices.BinarySearchFunc(rights, right(i), compareEnds)
		if !found {
			last--
		}
		at, seen := same[[2]int{first, last}]
		if !seen {
			at = len(pb.weight)
			same[[2]int{first, last}] = at
			pb.first, pb.last, pb.weight = append(pb.first, first), append(pb.last, last), append(pb.weight, 0)
		}
		pb.weight[at] += in.weight(i)
		pb.total += in.weight(i)
	}
	return pb
}

// cover returns the sum of each row's masses under the cumulative f, where
// f[j] is the sum of the first j.
func (pb *problem) cover(f []float64, i int) float64 { return f[pb.last[i]+1] - f[pb.first[i]] }

func (pb *problem) loglik(f []float64) float64 {
	sum := 0.0
	for i, w := range pb.weight {
		c := pb.cover(f, i)
		if !(c > 0) {
			return math.Inf(-1)
		}
		sum += w * math.Log(c)
	}
	return sum
}

// gradient returns for each mass the slope of the log-likelihood per weight;
// at the maximum it is 1 where there is mass and at most 1 elsewhere.
func (pb *problem) gradient(f []float64) []float64 {
	g := make([]float64, len(pb.from)+1)
	for i, w := range pb.weight {
		x := w / pb.cover(f, i) / pb.total
		g[pb.first[i]] += x
		g[pb.last[i]+1] -= x
	}
	g = g[:len(g)-1]
	for j := 1; j < len(g); j++ {
		g[j] += g[j-1]
	}
	return g
}

func cumulate(mass []float64) []float64 {
	f := make([]float64, len(mass)+1)
	for j, p := range mass {
		f[j+1] = f[j] + p
	}
	return f
}

// solve climbs to the maximum and fills the curve's account of it.
func (pb *problem) solve(c *Curve) []float64 {
	m := len(pb.from)
	mass := make([]float64, m)
	for j := range mass {
		mass[j] = 1 / float64(m)
	}
	f := cumulate(mass)
	for c.Steps = 1; ; c.Steps++ {
		g := pb.gradient(f)
		c.Gradient = slices.Max(g)
		if c.Gradient <= 1+optimal || c.Steps == mostSteps {
			break
		}
		sum := 0.0
		for j := range mass { // self-consistency: never lowers the likelihood
			mass[j] *= g[j]
			sum += mass[j]
		}
		for j := range mass {
			mass[j] /= sum
		}
		f = pb.minorant(cumulate(mass))
		for j := range mass {
			mass[j] = f[j+1] - f[j]
		}
	}
	c.LogLik = pb.loglik(f)
	return mass
}

// minorant takes a step of the iterative convex minorant: a Newton step on the
// cumulative shares with the diagonal of the second derivative, kept monotone by
// pooling neighbours, halved until the likelihood does not fall.
func (pb *problem) minorant(f []float64) []float64 {
	m := len(f) - 1
	if m == 1 {
		return f
	}
	slope, curvature := make([]float64, m+1), make([]float64, m+1)
	for i, w := range pb.weight {
		c := pb.cover(f, i)
		a, b := pb.first[i], pb.last[i]+1
		slope[a] -= w / c
		slope[b] += w / c
		curvature[a] += w / (c * c)
		curvature[b] += w / (c * c)
	}
	target, weight := make([]float64, m-1), make([]float64, m-1)
	for j := 1; j < m; j++ {
		weight[j-1] = math.Max(curvature[j], 1e-12)
		target[j-1] = f[j] + slope[j]/weight[j-1]
	}
	goal := make([]float64, m+1)
	goal[m] = 1
	for j, x := range isotonic(target, weight) {
		goal[j+1] = math.Max(0, math.Min(1, x))
	}
	old := pb.loglik(f)
	next := make([]float64, m+1)
	for size := 1.0; size > 1e-6; size /= 2 {
		for j := range next {
			next[j] = f[j] + size*(goal[j]-f[j])
		}
		if pb.loglik(next) > old {
			return next
		}
	}
	return f
}

// isotonic is the closest rising sequence to xs in weighted least squares, by
// pooling adjacent violators.
func isotonic(xs, weight []float64) []float64 {
	type block struct {
		mean, weight float64
		size         int
	}
	var blocks []block
	for i, x := range xs {
		blocks = append(blocks, block{x, weight[i], 1})
		for len(blocks) > 1 {
			a, b := blocks[len(blocks)-2], blocks[len(blocks)-1]
			if a.mean <= b.mean {
				break
			}
			w := a.weight + b.weight
			blocks = append(blocks[:len(blocks)-2], block{(a.mean*a.weight + b.mean*b.weight) / w, w, a.size + b.size})
		}
	}
	out := make([]float64, 0, len(xs))
	for _, b := range blocks {
		for range b.size {
			out = append(out, b.mean)
		}
	}
	return out
}
