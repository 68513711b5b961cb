package propensity

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
)

// Binary weights the treated and the untreated so that both resemble all
// persons in the covariates: each counts for those like them who were treated
// the other way.
//
// Input: treated, per person, in the order of the covariates' values. Output: a
// Weighted with group 0 the untreated, group 1 the treated.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrOneGroup when all or none
// are treated; ErrTooFew for as many covariates as persons; ErrCollinear and
// ErrSeparation, naming the covariate; ErrNotConverged. What is too extreme to
// be shown is no error: see Withheld.
//
// Method: logistic regression on all covariates; weight = share treated one way
// / probability of being treated that way (Robins, Hernan & Brumback,
// Epidemiology 2000;11:550), not truncated (decision: propensity weights).
// Balance by standardised differences whose standard deviation is the unweighted
// one (Austin, Stat Med 2009;28:3083). Agrees with glm of R.
//
// Cost: a logistic regression.
func Binary(treated []bool, c Covariates) (*Weighted, error) {
	kind := make([]int, len(treated))
	for i, t := range treated {
		if t {
			kind[i] = 1
		}
	}
	if err := checkKinds(kind, c); err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	d := kindsOn(kind, c)
	model, err := regress.Logistic(d)
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	probability, err := model.Predict(d.Columns, nil)
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	of := func(i int) float64 {
		if kind[i] == 1 {
			return probability[i]
		}
		return 1 - probability[i]
	}
	w, err := weigh(kind, 2, c, of)
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	w.Method = "stabilised weights, logistic propensity model, not truncated"
	return w, nil
}

// Multinomial weights persons treated in several ways so that each group
// resembles all persons in the covariates.
//
// Input: kind, per person, from 0; each kind up to the largest occurs. Output: a
// Weighted with a group per kind.
//
// Errors: as Binary; stats.ErrRange for a negative kind; ErrNoEvents for a kind
// that does not occur.
//
// Method: as Binary, with a multinomial logistic regression. Balance is the
// largest standardised difference between two groups, in standard deviations
// pooled over the groups (unweighted). Agrees with the equivalent log-linear glm
// of R.
//
// Cost: a multinomial regression.
func Multinomial(kind []int, c Covariates) (*Weighted, error) {
	if err := checkKinds(kind, c); err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	d := kindsOn(kind, c)
	model, err := regress.Multinomial(d)
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	shares, err := model.Predict(d.Columns)
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	w, err := weigh(kind, model.Kinds, c, func(i int) float64 { return shares[i][kind[i]] })
	if err != nil {
		return nil, fmt.Errorf("propensity: %w", err)
	}
	w.Method = "stabilised weights, multinomial propensity model, not truncated"
	return w, nil
}

// kindsOn is the regression of the kind of treatment on the covariates.
func kindsOn(kind []int, c Covariates) regress.Data {
	columns, names := design(len(kind), c)
	d := regress.Data{Y: make([]float64, len(kind)), Columns: columns, Names: names}
	for i, k := range kind {
		d.Y[i] = float64(k)
	}
	return d
}

func checkKinds(kind []int, c Covariates) error {
	if err := check(len(kind), c); err != nil {
		return err
	}
	several := false
	for i, k := range kind {
		if k < 0 {
			return fmt.Errorf("kind[%d] is %d: %w", i, k, stats.ErrRange)
		}
		several = several || k != kind[0]
	}
	if !several {
		return fmt.Errorf("all persons were treated alike: %w", stats.ErrOneGroup)
	}
	return nil
}

// weigh makes the weights from each person's probability of the own kind.
func weigh(kind []int, kinds int, c Covariates, probability func(i int) float64) (*Weighted, error) {
	count := make([]float64, kinds)
	for _, k := range kind {
		count[k]++
	}
	w := &Weighted{Weights: make([]float64, len(kind))}
	for i, k := range kind {
		w.Weights[i] = count[k] / float64(len(kind)) / probability(i)
	}
	if err := usable(w.Weights); err != nil {
		return nil, err
	}
	for k := range kinds {
		w.Groups = append(w.Groups, effective(w.Weights, func(i int) bool { return kind[i] == k }))
	}
	for j, column := range c.Columns {
		before, weighted, err := difference(column, kind, kinds, w.Weights)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Names[j], err)
		}
		w.Balance = append(w.Balance, Balance{Name: c.Names[j], Before: before, Weighted: weighted})
	}
	return w, nil
}

// difference is the largest distance between two groups' means, plain and
// weighted, in unweighted standard deviations pooled over the groups.
func difference(column []float64, kind []int, kinds int, weights []float64) (before, weighted float64, err error) {
	n, sum := make([]float64, kinds), make([]float64, kinds)
	total, weightedSum := make([]float64, kinds), make([]float64, kinds)
	for i, k := range kind {
		n[k]++
		sum[k] += column[i]
		total[k] += weights[i]
		weightedSum[k] += weights[i] * column[i]
	}
	squares := make([]float64, kinds)
	for i, k := range kind {
		d := column[i] - sum[k]/n[k]
		squares[k] += d * d
	}
	var variance float64
	for k, s := range squares {
		variance += s / math.Max(1, n[k]-1) / float64(kinds)
	}
	sd := math.Sqrt(variance)
	for a := range kinds {
		for b := range a {
			before = math.Max(before, math.Abs(sum[a]/n[a]-sum[b]/n[b]))
			weighted = math.Max(weighted, math.Abs(weightedSum[a]/total[a]-weightedSum[b]/total[b]))
		}
	}
	if sd == 0 {
		return 0, 0, stats.ErrNoVariation
	}
	return before / sd, weighted / sd, nil
}
