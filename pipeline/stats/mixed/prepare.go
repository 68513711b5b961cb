package mixed

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
)

// level is one set of random effects: an intercept, or intercept and slope of
// the centred and scaled slope variable. Centring keeps the minimisation well
// conditioned; the model is the same.
type level struct {
	size   int // effects a group: 1 or 2
	groups int
	first  int // index of its first parameter
	codes  []int
	centre float64
	spread float64
}

// parameters counts the elements of the level's triangular factor.
func (l *level) parameters() int { return 2*l.size - 1 }

// factor gives the lower triangle (intercept, cross, slope) of the relative
// covariance factor.
func (l *level) factor(theta []float64) [3]float64 {
	if l.size == 1 {
		return [3]float64{theta[l.first], 0, 0}
	}
	return [3]float64{theta[l.first], theta[l.first+1], theta[l.first+2]}
}

// relative gives the covariance relative to the residual variance.
func (l *level) relative(theta []float64) [3]float64 {
	f := l.factor(theta)
	return [3]float64{f[0] * f[0], f[0] * f[1], f[1]*f[1] + f[2]*f[2]}
}

// cluster is what the rows of one topmost group say: the cross-products of
// its random effects Z with Z, the columns and the outcome. Effects of the
// level above come first, then those of the groups in order of appearance.
type cluster struct {
	size   int       // random effects, those of the level above included
	above  int       // effects of the level above
	groups []int32   // numbers of its groups, in the order of their effects
	zz     []float64 // size x size
	zx     []float64 // size x p
	zy     []float64
}

// problem holds the data as sufficient statistics. Columns are made
// orthonormal, the outcome is the residual of least squares
// scaled to variance one.
type problem struct {
	n, p     int
	ml       bool
	levels   []level // groups, then the level above
	clusters []cluster

	columns *dense.Columns
	ols     []float64 // least squares in the orthonormal columns, unscaled
	scale   float64   // of the outcome
	xy      []float64 // orthonormal columns with the internal outcome: zero but for rounding
	yy      float64
	total   float64 // sum of squares of the outcome as given
}

func prepare(data Data, options Options) (*problem, error) {
	pr := &problem{n: len(data.Y), p: len(data.Columns), ml: options.ML}
	randoms := []Random{data.Group}
	names := []string{"group", "level above"}
	if data.Above != nil {
		randoms = append(randoms, *data.Above)
	}
	membership := make([][]int32, len(randoms))
	effects, parameters := 0, 0
	for k, random := range randoms {
		l := level{size: 1, first: parameters, spread: 1}
		if random.Slope != nil {
			l.size = 2
			if l.centre, l.spread = centreAndSpread(random.Slope); l.spread == 0 {
				return nil, fmt.Errorf("slope of %s: %w", names[k], stats.ErrNoVariation)
			}
		}
		membership[k], l.codes = number(random.Group)
		if l.groups = len(l.codes); l.groups < 2 {
			return nil, fmt.Errorf("%s: %w", names[k], stats.ErrOneGroup)
		}
		if l.size*l.groups >= pr.n {
			return nil, fmt.Errorf("%d rows for %d random effects of the %s: %w", pr.n, l.size*l.groups, names[k], stats.ErrTooFew)
		}
		effects += l.size * l.groups
		parameters += l.parameters()
		pr.levels = append(pr.levels, l)
	}
	columns, collinear := dense.Orthonormalise(data.Columns)
	if collinear >= 0 {
		return nil, fmt.Errorf("column %s: %w", data.Names[collinear], stats.ErrCollinear)
	}
	pr.columns = columns
	pr.centreOutcome(data)
	owner, err := nest(membership, pr.levels)
	if err != nil {
		return nil, err
	}
	pr.gather(data, membership[0], owner)
	if !(pr.yy > 1e-22*pr.total) {
		return nil, fmt.Errorf("the outcome around the columns: %w", stats.ErrNoVariation)
	}
	pr.rescale()
	return pr, nil
}

// number gives each row the number of its group in order of first appearance.
// Runs of one code cost one look-up, so sorted rows are cheap.
func number(codes []int) (rows []int32, distinct []int) {
	rows = make([]int32, len(codes))
	seen := make(map[int]int32)
	for i, code := range codes {
		if i > 0 && code == codes[i-1] {
			rows[i] = rows[i-1]
			continue
		}
		k, ok := seen[code]
		if !ok {
			k = int32(len(distinct)) //nolint:gosec // a group number cannot pass the number of rows
			seen[code] = k
			distinct = append(distinct, code)
		}
		rows[i] = k
	}
	return rows, distinct
}

// nest gives the cluster of each group: itself, or its group of the level above.
func nest(membership [][]int32, levels []level) ([]int32, error) {
	owner := make([]int32, levels[0].groups)
	if len(levels) == 1 {
		for g := range owner {
			owner[g] = int32(g)
		}
		return owner, nil
	}
	for g := range owner {
		owner[g] = -1
	}
	for i, g := range membership[0] {
		if owner[g] >= 0 && owner[g] != membership[1][i] {
			return nil, fmt.Errorf("group %d lies in two groups of the level above: %w", levels[0].codes[g], stats.ErrRange)
		}
		owner[g] = membership[1][i]
	}
	return owner, nil
}

// centreAndSpread gives mean and standard deviation, the latter exactly zero
// for a constant.
func centreAndSpread(x []float64) (centre, spread float64) {
	for i, v := range x {
		centre += (v - centre) / float64(i+1)
	}
	constant := true
	for _, v := range x {
		constant = constant && v == x[0]
		spread += (v - centre) * (v - centre)
	}
	if constant {
		return centre, 0
	}
	return centre, math.Sqrt(spread / float64(len(x)))
}

// centreOutcome finds the least squares fit.
func (pr *problem) centreOutcome(data Data) {
	row := make([]float64, pr.p)
	pr.ols = make([]float64, pr.p)
	correction := make([]float64, pr.p)
	var total float64
	// Twice is enough: the second pass takes up what rounding left in the first.
	for range 2 {
		for j := range correction {
			correction[j] = 0
		}
		total = 0
		for i, y := range data.Y {
			pr.columns.Row(row, i)
			r := y
			for j, q := range row {
				r -= q * pr.ols[j]
			}
			for j, q := range row {
				correction[j] += q * r
			}
			total += y * y
		}
		for j := range correction {
			pr.ols[j] += correction[j]
		}
	}
	pr.total = total
}

// gather sums the rows into clusters; owner gives the cluster of each group.
func (pr *problem) gather(data Data, group, owner []int32) {
	inner := &pr.levels[0]
	position := pr.layOut(owner)
	row, z := make([]float64, pr.p), make([]float64, 0, 4)
	var at [4]int
	pr.xy, pr.yy = make([]float64, pr.p), 0
	for i, y := range data.Y {
		pr.columns.Row(row, i)
		for j, q := range row {
			y -= q * pr.ols[j]
		}
		for j, q := range row {
			pr.xy[j] += q * y
		}
		pr.yy += y * y

		g := group[i]
		c := &pr.clusters[owner[g]]
		z = z[:0]
		if data.Above != nil {
			z = append(z, 1)
			at[0] = 0
			if above := &pr.levels[1]; above.size == 2 {
				z = append(z, (data.Above.Slope[i]-above.centre)/above.spread)
				at[1] = 1
			}
		}
		at[len(z)] = int(position[g])
		z = append(z, 1)
		if inner.size == 2 {
			at[len(z)] = int(position[g]) + 1
			z = append(z, (data.Group.Slope[i]-inner.centre)/inner.spread)
		}
		c.add(z, at[:len(z)], row, y)
	}
}

// rescale gives the outcome a residual variance of one by least squares.
func (pr *problem) rescale() {
	pr.scale = math.Sqrt(pr.yy / float64(pr.n-pr.p))
	pr.yy /= pr.scale * pr.scale
	for j := range pr.xy {
		pr.xy[j] /= pr.scale
	}
	for k := range pr.clusters {
		zy := pr.clusters[k].zy
		for j := range zy {
			zy[j] /= pr.scale
		}
	}
}

func (c *cluster) add(z []float64, at []int, row []float64, y float64) {
	p := len(row)
	for a, za := range z {
		ra := at[a]
		for b, zb := range z {
			c.zz[ra*c.size+at[b]] += za * zb
		}
		zx := c.zx[ra*p : ra*p+p]
		for j, q := range row {
			zx[j] += za * q
		}
		c.zy[ra] += za * y
	}
}

// layOut makes the empty clusters in one piece of memory and returns the
// position of each group's effects in its cluster.
func (pr *problem) layOut(owner []int32) []int32 {
	outermost := &pr.levels[len(pr.levels)-1]
	pr.clusters = make([]cluster, outermost.groups)
	if len(pr.levels) == 2 {
		for k := range pr.clusters {
			pr.clusters[k].above = outermost.size
			pr.clusters[k].size = outermost.size
		}
	}
	counts := make([]int32, len(pr.clusters))
	for _, k := range owner {
		counts[k]++
	}
	position, groups := make([]int32, len(owner)), make([]int32, len(owner))
	for k, count := range counts {
		pr.clusters[k].groups, groups = groups[:0:count], groups[count:]
	}
	for g, k := range owner {
		c := &pr.clusters[k]
		position[g] = int32(c.size) //nolint:gosec // bounded by the number of rows
		c.size += pr.levels[0].size
		c.groups = append(c.groups, int32(g))
	}
	var total int
	for k := range pr.clusters {
		size := pr.clusters[k].size
		total += size * (size + pr.p + 1)
	}
	all := make([]float64, total)
	take := func(k int) []float64 {
		piece := all[:k:k]
		all = all[k:]
		return piece
	}
	for k := range pr.clusters {
		c := &pr.clusters[k]
		c.zz, c.zx, c.zy = take(c.size*c.size), take(c.size*pr.p), take(c.size)
	}
	return position
}
