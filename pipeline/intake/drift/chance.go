package drift

import "math"

// How far something must move before it is told.
//
// Two conditions must hold together. The move must matter: the least moves below.
// And chance must not explain it: its distance from what the earlier batches lead
// one to expect, in standard errors, must pass far. The standard error has two
// parts: that of so many rows, doubled in variance because rows of one person and
// session are alike, and the scatter of the earlier batches among each other,
// which holds what differs from night to night. With few earlier batches their
// scatter is poorly known, so that more distance is asked.
//
// Under the normal curve five standard errors are passed by chance once in 1.7
// million comparisons. A night of six senders makes about two thousand, so that
// chance alone makes a finding in about one night of nine hundred.
const (
	leastRows   = 20   // in a batch, for its share or median to be judged
	manyRows    = 40   // the same where a code or a value is judged
	alike       = 2    // variance of rows that come in clusters, over that of independent ones
	fillLeast   = 0.2  // fall of a share of rows filled, which must halve as well
	shareLeast  = 0.25 // move of the share of a code
	oneValueNow = 0.8  // share of one value, where it was
	oneValueWas = 0.5  // at most this before
	newLeast    = 5    // rows with a code that was never sent before,
	newShare    = 0.05 // their share,
	newPast     = 500  // and the earlier rows without it
	jumpLeast   = 1.5  // factor between medians
	unitNear    = 0.10 // how close to the factor between two units a median must jump
	unitRows    = 12   // values it takes
)

// far is how many standard errors chance must be put off by.
func far(groups int) float64 {
	switch {
	case groups >= 6:
		return 5
	case groups >= 3:
		return 6
	default:
		return 7
	}
}

// group is a stretch of earlier batches with enough rows together.
type group struct {
	n, x  float64
	value float64 // x over n, or a median
	width float64 // of medians: between the quartiles
}

// together joins neighbouring batches, oldest first, until each group has enough
// rows; what is left over joins the last.
func together(list []group, least float64) []group {
	var groups []group
	open := false
	for _, g := range list {
		if g.n == 0 {
			continue
		}
		if open || (len(groups) > 0 && g.n < least && groups[len(groups)-1].n < least) {
			last := &groups[len(groups)-1]
			last.value = (last.value*last.n + g.value*g.n) / (last.n + g.n)
			last.width = (last.width*last.n + g.width*g.n) / (last.n + g.n)
			last.n, last.x = last.n+g.n, last.x+g.x
		} else {
			groups = append(groups, g)
		}
		open = groups[len(groups)-1].n < least
	}
	if n := len(groups); n > 1 && groups[n-1].n < least {
		last := groups[n-1]
		groups = groups[:n-1]
		before := &groups[n-2]
		before.value = (before.value*before.n + last.value*last.n) / (before.n + last.n)
		before.width = (before.width*before.n + last.width*last.n) / (before.n + last.n)
		before.n, before.x = before.n+last.n, before.x+last.x
	}
	return groups
}

// weight of a group: a long history counts for no more than ten nights of it.
func (g group) weight() float64 { return min(g.n, 10*leastRows) }

// centre returns the weighted mean of the groups' values and their scatter; of
// fewer than four groups the scatter is at least least.
func centre(groups []group, least float64) (mean, scatter float64) {
	var w, sum float64
	for _, g := range groups {
		w += g.weight()
		sum += g.weight() * g.value
	}
	mean = sum / w
	var squares float64
	for _, g := range groups {
		squares += g.weight() * (g.value - mean) * (g.value - mean)
	}
	k := float64(len(groups))
	if k > 1 {
		scatter = math.Sqrt(squares / w * k / (k - 1))
	}
	if k < 4 {
		scatter = max(scatter, least)
	}
	return mean, scatter
}

// shareMoved compares a share of now with those of earlier batches. before is
// what they lead one to expect; sure says that chance does not explain the
// difference.
func shareMoved(x, n int, past []group) (before float64, sure bool) {
	groups := together(past, leastRows)
	if len(groups) == 0 || groups[0].n < leastRows {
		return 0, false
	}
	before, scatter := centre(groups, 0.05)
	var earlier float64
	for _, g := range groups {
		earlier += g.weight()
	}
	p := (before*earlier + 0.5) / (earlier + 1) // never quite 0 or 1
	variance := alike*p*(1-p)*(1/float64(n)+1/earlier) + scatter*scatter
	return before, math.Abs(float64(x)/float64(n)-before) > far(len(groups))*math.Sqrt(variance)
}

// medianMoved does the same for a median with its quartiles.
func medianMoved(now group, past []group) (before float64, sure bool) {
	groups := together(past, leastRows)
	if len(groups) == 0 || groups[0].n < leastRows {
		return 0, false
	}
	before, scatter := centre(groups, 0)
	if len(groups) < 4 {
		scatter = max(scatter, 0.1*math.Abs(before))
	}
	var width, earlier float64
	for _, g := range groups {
		width += g.weight() * g.width
		earlier += g.weight()
	}
	width /= earlier
	// A median varies by 1.2533 times as much as a mean; the quartiles of the
	// normal curve are 1.349 standard deviations apart. Values written in whole
	// numbers can have no width at all.
	deviation := max(width, now.width, 0.1*math.Abs(before)) / 1.349
	variance := alike*1.2533*1.2533*deviation*deviation*(1/now.n+1/earlier) + scatter*scatter
	return before, math.Abs(now.value-before) > far(len(groups))*math.Sqrt(variance)
}
