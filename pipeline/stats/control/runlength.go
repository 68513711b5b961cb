package control

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// Watch is what a CUSUM will be used on. Expected holds the expected counts of
// one cycle of periods, such as twelve months, which repeats. BaselineEvents is
// how many events the expected counts were learnt from; 0 takes them as known.
// TrueRatio is how frequent events truly are against Expected; 0 stands for 1,
// nothing has changed.
type Watch struct {
	Expected       []float64
	BaselineEvents int
	TrueRatio      float64
}

// RunLength is how long a CUSUM runs until its alarm.
type RunLength struct {
	AlarmsPerCycle float64   // in the long run, beginning anew after each
	By             []float64 // probability of an alarm by the end of periods 1, 2, ...
	Mean           float64   // periods to the first alarm, were Expected known; at most 1e12
}

// uncertain is how many values stand for the uncertainty of the baseline.
const uncertain = 60

// RunLength computes how often the sum raises an alarm: a false one when
// TrueRatio is 1, and how fast it finds a change otherwise.
//
// Input: w; periods, how far By reaches, from 1 to 10,000. Output: RunLength, in
// periods and cycles of w.
//
// Errors: as Path for the CUSUM and Expected; stats.ErrNoEvents when nothing is
// expected in the cycle; ErrRange for BaselineEvents, TrueRatio (0.01 to 100)
// or periods.
//
// Method: the exact Markov chain of the score on its grid (Brook & Evans,
// Biometrika 1972;59:539), carried through the periods of the cycle until it
// settles. AlarmsPerCycle and By are averaged over a gamma for the true level
// of the baseline with BaselineEvents as its shape, in 60 equally likely parts;
// Mean is not, for it would be carried by the levels that hardly ever alarm
// (decision: baseline in limits). Agrees with the chain solved as linear
// equations in R.
//
// Cost: 60 x periods until it settles x 32 Threshold x the spread of a count.
func (c CUSUM) RunLength(w Watch, periods int) (RunLength, error) {
	if err := c.check(w.Expected); err != nil {
		return RunLength{}, fmt.Errorf("run length: %w", err)
	}
	if periods < 1 || periods > 10_000 {
		return RunLength{}, fmt.Errorf("run length over %d periods: %w", periods, stats.ErrRange)
	}
	levels, err := w.levels()
	if err != nil {
		return RunLength{}, fmt.Errorf("run length: %w", err)
	}
	out := RunLength{By: make([]float64, periods)}
	for _, level := range levels {
		ch := newChain(c, w.Expected, level)
		out.AlarmsPerCycle += ch.alarmsPerCycle() / float64(len(levels))
		for i, p := range ch.by(periods) {
			out.By[i] += p / float64(len(levels))
		}
	}
	out.Mean = newChain(c, w.Expected, w.ratio()).mean()
	return out, nil
}

// Threshold finds the lowest threshold at which a CUSUM keeps to its share of
// the false alarms that a report allows itself.
//
// Input: ratio as CUSUM.Ratio; w, with TrueRatio left at 1; budget, false alarms
// per cycle in the long run, above 0. Output: a CUSUM whose AlarmsPerCycle is at
// most budget, and would not be with a threshold 1/32 event lower; at least
// 1/32.
//
// Errors: as RunLength; stats.ErrRange for a budget not above 0, or one not met
// below 1,000 events.
//
// Method: halving, by RunLength. Cost: about 12 run lengths; 0.1 to 3 s for twelve
// months.
func Threshold(ratio float64, w Watch, budget float64) (CUSUM, error) {
	c := CUSUM{Ratio: ratio, Threshold: 1.0 / grid}
	if err := c.check(w.Expected); err != nil {
		return CUSUM{}, fmt.Errorf("threshold: %w", err)
	}
	levels, err := w.levels()
	if err != nil {
		return CUSUM{}, fmt.Errorf("threshold: %w", err)
	}
	if !(budget > 0) {
		return CUSUM{}, fmt.Errorf("threshold for %v false alarms: %w", budget, stats.ErrRange)
	}
	kept := func(steps int) bool {
		c := CUSUM{Ratio: ratio, Threshold: float64(steps) / grid}
		var alarms float64
		for _, level := range levels {
			alarms += newChain(c, w.Expected, level).alarmsPerCycle()
			if alarms > budget*float64(len(levels)) {
				return false
			}
		}
		return true
	}
	if kept(1) {
		return c, nil
	}
	lo, hi := 1, grid
	for !kept(hi) {
		if lo, hi = hi, 2*hi; hi > 1000*grid {
			return CUSUM{}, fmt.Errorf("threshold for %v false alarms is beyond 1,000 events, watch a shorter cycle or allow more: %w", budget, stats.ErrRange)
		}
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; kept(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	c.Threshold = float64(hi) / grid
	return c, nil
}

func (w Watch) ratio() float64 {
	if w.TrueRatio == 0 {
		return 1
	}
	return w.TrueRatio
}

// levels are equally likely values of the true level of events.
func (w Watch) levels() ([]float64, error) {
	if err := stats.CheckFinite("TrueRatio", []float64{w.TrueRatio}); err != nil {
		return nil, err
	}
	if r := w.ratio(); r < 0.01 || r > 100 || w.BaselineEvents < 0 {
		return nil, fmt.Errorf("true ratio %v, %d baseline events: %w", r, w.BaselineEvents, stats.ErrRange)
	}
	var sum float64
	for _, e := range w.Expected {
		sum += e
	}
	if sum == 0 {
		return nil, fmt.Errorf("nothing is expected: %w", stats.ErrNoEvents)
	}
	if w.BaselineEvents == 0 {
		return []float64{w.ratio()}, nil
	}
	shape := float64(w.BaselineEvents)
	levels := make([]float64, uncertain)
	// The mean of each part: of gamma(shape), x f(x) is shape times the density
	// of gamma(shape+1).
	part, above := distuv.Gamma{Alpha: shape, Beta: shape}, distuv.Gamma{Alpha: shape + 1, Beta: shape}
	before := 0.0
	for i := range levels {
		after := 1.0
		if i < uncertain-1 {
			after = above.CDF(part.Quantile(float64(i+1) / uncertain))
		}
		levels[i] = w.ratio() * uncertain * (after - before)
		before = after
	}
	return levels, nil
}

// chain is the Markov chain of the score at one true level of events.
type chain struct {
	c       CUSUM
	periods []period
}

// period is the distribution of a period's step on the grid: moves[j] steps
// with probability p[j].
type period struct {
	moves []int
	p     []float64
}

func newChain(c CUSUM, expected []float64, level float64) *chain {
	ch := &chain{c: c}
	for _, e := range expected {
		mean, reference := e*level, c.reference(e)
		count := distuv.Poisson{Lambda: math.Max(mean, 1e-300)}
		lowest := int(math.Max(0, math.Floor(mean-12*math.Sqrt(mean)-3)))
		highest := int(math.Ceil(mean + 12*math.Sqrt(mean) + 20))
		var p period
		for k := lowest; k <= highest; k++ {
			if q := count.Prob(float64(k)); q > 1e-18 {
				p.moves = append(p.moves, c.direction()*(k*grid-reference))
				p.p = append(p.p, q)
			}
		}
		ch.periods = append(ch.periods, p)
	}
	return ch
}

// step moves the distribution from over one period into to and returns the
// probability of an alarm, which it leaves out of to.
func (p period) step(from, to []float64) (alarm float64) {
	clear(to)
	for s, mass := range from {
		if mass == 0 {
			continue
		}
		for j, move := range p.moves {
			switch next := s + move; {
			case next >= len(to):
				alarm += mass * p.p[j]
			case next <= 0:
				to[0] += mass * p.p[j]
			default:
				to[next] += mass * p.p[j]
			}
		}
	}
	return alarm
}

// cycle carries the distribution through one cycle and returns the expected
// alarms; the score begins anew after each. scratch is as long as state; the
// result is in state.
func (ch *chain) cycle(state, scratch []float64) (alarms float64) {
	current, other := state, scratch
	for _, p := range ch.periods {
		a := p.step(current, other)
		alarms += a
		other[0] += a
		current, other = other, current
	}
	if len(ch.periods)%2 == 1 {
		copy(state, current)
	}
	return alarms
}

func (ch *chain) begin() (state, scratch []float64) {
	state, scratch = make([]float64, ch.c.steps()), make([]float64, ch.c.steps())
	state[0] = 1
	return state, scratch
}

// mostCycles ends the search for a settled chain; it settles in a few dozen.
const mostCycles = 20_000

// alarmsPerCycle runs cycles, beginning anew after each alarm, until neither
// the score's distribution nor the alarms change any more.
func (ch *chain) alarmsPerCycle() float64 {
	state, scratch := ch.begin()
	before := make([]float64, len(state))
	last := -1.0
	for range mostCycles {
		copy(before, state)
		alarms := ch.cycle(state, scratch)
		moved := 0.0
		for i, mass := range state {
			moved += math.Abs(mass - before[i])
		}
		if moved < 1e-11 && math.Abs(alarms-last) <= 1e-9*alarms {
			return alarms
		}
		last = alarms
	}
	return last
}

func (ch *chain) by(periods int) []float64 {
	state, scratch := ch.begin()
	out := make([]float64, periods)
	var sum float64
	for i := range out {
		sum += ch.periods[i%len(ch.periods)].step(state, scratch)
		state, scratch = scratch, state
		out[i] = math.Min(1, sum)
	}
	return out
}

// mean sums the probabilities of no alarm yet; once the score's distribution,
// given no alarm, repeats from cycle to cycle these shrink by the same factor
// and the rest is a geometric series.
func (ch *chain) mean() float64 {
	state, scratch := ch.begin()
	given := make([]float64, len(state))
	mean, left := 0.0, 1.0
	for range mostCycles {
		before := left
		var during float64
		for _, p := range ch.periods {
			during += left
			left -= p.step(state, scratch)
			state, scratch = scratch, state
		}
		mean += during
		left = total(state)
		if left < 1e-17 {
			break
		}
		moved := 0.0
		for i, mass := range state {
			moved += math.Abs(mass/left - given[i])
			given[i] = mass / left
		}
		if moved < 1e-12 {
			if left >= before {
				return 1e12
			}
			factor := left / before
			mean += during * factor / (1 - factor)
			break
		}
	}
	return math.Min(mean, 1e12)
}

func total(xs []float64) float64 {
	var s float64
	for _, x := range xs {
		s += x
	}
	return s
}
