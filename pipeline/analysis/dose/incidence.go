package dose

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// The thirds of dose.
const (
	low = iota
	middle
	high
	thirdCount
)

// unknown is the stratum of those whose severity is not on record.
const unknown = -1

// errNoThird is the error of a draw of persons in which a third of dose is
// empty, or no severity stands in both the lower and the upper one.
var errNoThird = errors.New("a third of dose is empty")

// comparison is the rows whose doses are compared, by columns.
type comparison struct {
	dose    []float64
	day     []int // of the return, the competing end or the end of watching
	event   []int // 0 none, 1 return, 2 competing end
	stratum []int // of severity, from 0; or unknown
	strata  int
	week    int // by whose end a return counts
	horizon int // the day that it ends on

	byDose, byDay []int // orders of the rows
}

func (c *comparison) sort() {
	c.byDose, c.byDay = make([]int, len(c.dose)), make([]int, len(c.dose))
	for i := range c.dose {
		c.byDose[i], c.byDay[i] = i, i
	}
	slices.SortStableFunc(c.byDose, func(i, j int) int { return cmp.Compare(c.dose[i], c.dose[j]) })
	slices.SortStableFunc(c.byDay, func(i, j int) int { return cmp.Compare(c.day[i], c.day[j]) })
}

// third returns the third of dose of every row. A dose equal to a bound belongs
// below it.
func (c *comparison) third(weight []int) []int {
	from, to := c.bounds(weight)
	thirds := make([]int, len(c.dose))
	for i, dose := range c.dose {
		switch {
		case dose > to:
			thirds[i] = high
		case dose > from:
			thirds[i] = middle
		}
	}
	return thirds
}

// bounds are the doses that end the lower and the middle third.
func (c *comparison) bounds(weight []int) (from, to float64) {
	return quantile(c.dose, c.byDose, weight, 1.0/3), quantile(c.dose, c.byDose, weight, 2.0/3)
}

// contrasts are the share returned by the horizon in the upper third of dose
// less that in the lower: raw, and the mean over the severities of all whose
// doses are compared. A severity that stands in one of the two thirds alone
// says nothing about the contrast and is left out; leftOut counts its rows.
func (c *comparison) contrasts(weight []int) (raw, standardised float64, leftOut int, err error) {
	thirds := c.third(weight)
	group := make([]int, len(thirds))
	copy(group, thirds)
	all := c.incidence(group, thirdCount, weight)
	if all[low].n == 0 || all[high].n == 0 {
		return 0, 0, 0, errNoThird
	}
	of := make([]int, c.strata)
	for i, s := range c.stratum {
		if s == unknown {
			group[i] = unknown
			continue
		}
		group[i] = thirdCount*s + thirds[i]
		of[s] += weight[i]
	}
	cells := c.incidence(group, thirdCount*c.strata, weight)
	used := 0
	for s, n := range of {
		bottom, top := cells[thirdCount*s+low], cells[thirdCount*s+high]
		if bottom.n == 0 || top.n == 0 {
			leftOut += n
			continue
		}
		standardised += float64(n) * (top.returned - bottom.returned)
		used += n
	}
	if used == 0 {
		return 0, 0, 0, errNoThird
	}
	return settled(all[high].returned - all[low].returned), settled(standardised / float64(used)), leftOut, nil
}

// settled drops what lies below the twelfth decimal of a difference of shares:
// two equal shares, reached by other sums, differ there by rounding, and a limit
// of no difference at all would be told as one of -0.0000000000000001.
func settled(x float64) float64 { return math.Round(1e12*x)/1e12 + 0 }

// cell is a group of rows in one pass over the days.
type cell struct {
	n        int // weight of its rows
	risk     int // still watched
	free     float64
	returned float64
	gone     [3]int // on the day, by event
}

// incidence is the Aalen-Johansen share returned by the horizon in every group,
// all groups in one pass: a bootstrap asks for it thousands of times, and needs
// neither a curve nor its variance. A test holds it to package survival.
func (c *comparison) incidence(group []int, groups int, weight []int) []cell {
	cells := make([]cell, groups)
	for i, g := range group {
		if g >= 0 {
			cells[g].n += weight[i]
		}
	}
	for g := range cells {
		cells[g].risk, cells[g].free = cells[g].n, 1
	}
	for at := 0; at < len(c.byDay); {
		day := c.day[c.byDay[at]]
		if day > c.horizon {
			break
		}
		from := at
		for ; at < len(c.byDay) && c.day[c.byDay[at]] == day; at++ {
			if i := c.byDay[at]; group[i] >= 0 {
				cells[group[i]].gone[c.event[i]] += weight[i]
			}
		}
		for _, i := range c.byDay[from:at] {
			if group[i] >= 0 {
				cells[group[i]].pass()
			}
		}
	}
	return cells
}

// pass closes a day; on a day already closed nobody is gone.
func (c *cell) pass() {
	returned, ended, out := c.gone[1], c.gone[2], c.gone[0]
	if returned+ended+out == 0 {
		return
	}
	n := float64(c.risk)
	c.returned += c.free * float64(returned) / n
	c.free *= 1 - float64(returned+ended)/n
	c.risk -= returned + ended + out
	c.gone = [3]int{}
}
