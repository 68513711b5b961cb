package impute

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/internal/dense"
	"evenlimb/pipeline/stats/regress"

	"gonum.org/v1/gonum/stat/distuv"
)

// donors is how many recorded values a filled-in one is drawn from.
const donors = 5

// predictors are the columns that foretell variable target for the persons
// listed: a constant and all other variables, categories as columns of 0 and 1,
// without those that repeat others among these persons.
type predictors struct {
	now    [][]float64
	source []source
	fitted *dense.Columns
}

// source is a column: a variable's values, or 1 where it has the code.
type source struct {
	variable int // -1: the constant
	isCode   bool
	code     float64
}

func (s source) value(now [][]float64, person int) float64 {
	switch {
	case s.variable < 0:
		return 1
	case !s.isCode:
		return now[s.variable][person]
	case now[s.variable][person] == s.code:
		return 1
	default:
		return 0
	}
}

func (c *chains) predictors(now [][]float64, target int, persons []int) *predictors {
	p := &predictors{now: now, source: []source{{variable: -1}}}
	for j := range c.variables {
		if j == target {
			continue
		}
		if c.codes[j] == nil {
			p.source = append(p.source, source{variable: j})
			continue
		}
		for _, code := range c.codes[j][1:] {
			p.source = append(p.source, source{variable: j, isCode: true, code: code})
		}
	}
	for {
		var collinear int
		if p.fitted, collinear = dense.Orthonormalise(p.columns(persons)); collinear < 0 {
			return p
		}
		p.source = slices.Delete(p.source, collinear, collinear+1)
	}
}

// columns are those of the persons, a column for each source.
func (p *predictors) columns(persons []int) [][]float64 {
	out := make([][]float64, len(p.source))
	for k, s := range p.source {
		out[k] = make([]float64, len(persons))
		for i, person := range persons {
			out[k][i] = s.value(p.now, person)
		}
	}
	return out
}

// row is a person's row of the columns.
func (p *predictors) row(person int) []float64 {
	out := make([]float64, len(p.source))
	for k, s := range p.source {
		out[k] = s.value(p.now, person)
	}
	return out
}

// match fills in a measured variable: each missing value from a person whose
// recorded value was foretold to be about what is foretold here, the latter
// with coefficients drawn from their posterior under a flat prior.
func (c *chains) match(r *rand.Rand, now [][]float64, target int) error {
	recorded := c.recorded[target]
	p := c.predictors(now, target, recorded)
	width := p.fitted.P
	free := len(recorded) - width
	if free < 1 {
		return fmt.Errorf("%d persons have it, %d columns foretell it: %w", len(recorded), width, stats.ErrTooFew)
	}
	// On orthonormal columns the coefficients are plain products and
	// independent, each with the residual variance.
	coef, row := make([]float64, width), make([]float64, width)
	for i, person := range recorded {
		p.fitted.Row(row, i)
		for k, x := range row {
			coef[k] += x * now[target][person]
		}
	}
	foretold := make([]float64, len(recorded))
	var rss float64
	for i, person := range recorded {
		p.fitted.Row(row, i)
		foretold[i] = dense.Dot(coef, row)
		e := now[target][person] - foretold[i]
		rss += e * e
	}
	sd := math.Sqrt(rss / distuv.ChiSquared{K: float64(free), Src: r}.Rand())
	drawn := make([]float64, width)
	for k, b := range coef {
		drawn[k] = b + sd*r.NormFloat64()
	}
	order := make([]int, len(recorded))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return foretold[order[a]] < foretold[order[b]] })
	for _, person := range c.missing[target] {
		at := dense.Dot(drawn, p.fitted.Weights(p.row(person)))
		near := nearest(order, foretold, at)
		now[target][person] = c.variables[target].Values[recorded[near[r.IntN(len(near))]]]
	}
	return nil
}

// nearest are the donors whose foretold values lie nearest to at.
func nearest(order []int, foretold []float64, at float64) []int {
	right := sort.Search(len(order), func(k int) bool { return foretold[order[k]] >= at })
	left := right - 1
	out := make([]int, 0, donors)
	for len(out) < donors && (left >= 0 || right < len(order)) {
		if right >= len(order) || left >= 0 && at-foretold[order[left]] <= foretold[order[right]]-at {
			out = append(out, order[left])
			left--
		} else {
			out = append(out, order[right])
			right++
		}
	}
	return out
}

// classify fills in a categorical variable from a multinomial regression whose
// coefficients are drawn from their normal approximation.
func (c *chains) classify(r *rand.Rand, now [][]float64, target int) error {
	recorded, codes := c.recorded[target], c.codes[target]
	p := c.predictors(now, target, recorded)
	columns := p.columns(recorded)
	d := regress.Data{Y: make([]float64, len(recorded)), Weights: make([]float64, len(recorded)), Names: make([]string, len(columns))}
	for i, person := range recorded {
		k, _ := slices.BinarySearch(codes, now[target][person])
		d.Y[i], d.Weights[i] = float64(k), 1
	}
	for k := range columns {
		d.Names[k] = fmt.Sprintf("column %d", k)
	}
	d.Columns = columns
	pseudoPersons(&d, len(codes))
	model, err := regress.Multinomial(d)
	if err != nil {
		return err
	}
	drawn, err := drawCoefficients(r, model)
	if err != nil {
		return err
	}
	eta := make([]float64, len(codes))
	for _, person := range c.missing[target] {
		row := p.row(person)
		for k := 1; k < len(codes); k++ {
			eta[k] = dense.Dot(row, drawn[(k-1)*len(row):])
		}
		now[target][person] = codes[pick(r, eta)]
	}
	return nil
}

// pseudoPersons adds, for each column and code, two light persons: average but
// for one column, a standard deviation to either side. Together they weigh as
// many persons as there are columns, so that no code is told apart exactly.
func pseudoPersons(d *regress.Data, codes int) {
	n, width := len(d.Y), len(d.Columns)
	if width == 1 {
		return // a constant alone separates nothing
	}
	mean, sd := make([]float64, width), make([]float64, width)
	for k, column := range d.Columns {
		for _, x := range column {
			mean[k] += x / float64(n)
		}
		for _, x := range column {
			sd[k] += (x - mean[k]) * (x - mean[k]) / float64(n)
		}
		sd[k] = math.Sqrt(sd[k])
	}
	weight := float64(width) / float64(2*(width-1)*codes)
	for vary := 1; vary < width; vary++ {
		for code := range codes {
			for _, side := range []float64{-1, 1} {
				d.Y, d.Weights = append(d.Y, float64(code)), append(d.Weights, weight)
				for k := range d.Columns {
					x := mean[k]
					if k == vary {
						x += side * sd[k]
					}
					d.Columns[k] = append(d.Columns[k], x)
				}
			}
		}
	}
}

// drawCoefficients is one draw of the coefficients, kind after kind.
func drawCoefficients(r *rand.Rand, model *regress.MultinomialModel) ([]float64, error) {
	var coef, factor []float64
	for _, row := range model.Coef {
		coef = append(coef, row...)
	}
	for _, row := range model.Covariance {
		factor = append(factor, row...)
	}
	n := len(coef)
	if dense.Cholesky(factor, n, 1e-14) >= 0 {
		return nil, stats.ErrNotConverged
	}
	z := make([]float64, n)
	for k := range z {
		z[k] = r.NormFloat64()
		coef[k] += dense.Dot(z[:k+1], factor[k*n:])
	}
	return coef, nil
}

// pick draws a code with probabilities proportional to exp(eta).
func pick(r *rand.Rand, eta []float64) int {
	largest := slices.Max(eta)
	var total float64
	for _, e := range eta {
		total += math.Exp(e - largest)
	}
	u := r.Float64() * total
	for k, e := range eta {
		if u -= math.Exp(e - largest); u < 0 {
			return k
		}
	}
	return len(eta) - 1
}
