package adjust

import "math"

// weightedMean is the mean of column under the weights, which are not all 0.
func weightedMean(column, weight []float64) float64 {
	var sum, total float64
	for i, w := range weight {
		sum += w * column[i]
		total += w
	}
	return sum / total
}

func ones(n int) []float64 {
	column := make([]float64, n)
	for i := range column {
		column[i] = 1
	}
	return column
}

// independent leaves out the covariates that are the same for all, or that those
// before them tell.
func independent(covariates []Covariate) []Covariate {
	if len(covariates) == 0 {
		return nil
	}
	columns := [][]float64{ones(len(covariates[0].Values))}
	for _, c := range covariates {
		columns = append(columns, c.Values)
	}
	least := newSquares(columns)
	n := len(columns)
	gram := make([]float64, n*(n+1)/2)
	least.gram(columns[0], gram)
	kept := make([]bool, n)
	solve(gram, make([]float64, n), span(0, n), make([]float64, n*n), make([]float64, n), kept)
	var out []Covariate
	for j, c := range covariates {
		if kept[j+1] {
			out = append(out, c)
		}
	}
	return out
}

// interactions are the products of a column of dose with each of severity, both
// less their means, so that the coefficients of dose are those of the mean person.
func interactions(dose []float64, severity [][]float64) (columns [][]float64, means []float64) {
	once := ones(len(dose))
	middle := weightedMean(dose, once)
	for _, s := range severity {
		mean := weightedMean(s, once)
		column := make([]float64, len(dose))
		for i, d := range dose {
			column[i] = (d - middle) * (s[i] - mean)
		}
		columns, means = append(columns, column), append(means, mean)
	}
	return columns, means
}

// span is the numbers from to up to, without up to.
func span(from, to int) []int {
	out := make([]int, 0, to-from)
	for j := from; j < to; j++ {
		out = append(out, j)
	}
	return out
}

// quantile is the smallest value that at least a share p of the weight does not
// exceed; order sorts the values.
func quantile(values []float64, order []int, weight []float64, p float64) float64 {
	total := 0.0
	for _, w := range weight {
		total += w
	}
	wanted, sum := math.Max(1, math.Ceil(p*total)), 0.0
	for _, i := range order {
		if sum += weight[i]; sum >= wanted {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}
