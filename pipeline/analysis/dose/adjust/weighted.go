package adjust

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats/propensity"
	"evenlimb/pipeline/stats/resample"
)

// Weighted is the contrast of the quartiles of dose among persons weighted so
// that dose no longer goes with the covariates, beside the standardised one.
type Weighted struct {
	Contrast             // third less first quartile, weighted
	Difference Contrast  // standardised less weighted
	Share      float64   // of the persons that the weights leave in effect
	Persons    float64   // how many that is
	Before     Imbalance // the largest, unweighted
	After      Imbalance // and weighted
	Scale      string    // of dose in the model of the weights
	Withheld   []string  // why the contrast is not to be told; empty when it may be
}

// Imbalance is a covariate's correlation with dose, from 0.
type Imbalance struct {
	Name  string
	Value float64
}

// crooked is the skewness of the residuals of log dose beyond which the cube root
// of dose takes its place.
const crooked = 1

// chooseScale takes the logarithm of dose for the model of the weights or, where
// its residuals are crooked, the cube root.
func (d *amounts) chooseScale(logs []float64) {
	c := propensity.Covariates{}
	for _, covariate := range d.covariates {
		c.Names, c.Columns = append(c.Names, covariate.Name), append(c.Columns, covariate.Values)
	}
	d.scale, d.scaled = "log dose", logs
	var err error
	if d.balanced, err = propensity.Continuous(logs, c); err == nil && math.Abs(d.balanced.Skewness) > crooked {
		d.scale, d.scaled = "cube root of dose", make([]float64, len(logs))
		for i, x := range d.Dose {
			d.scaled[i] = math.Cbrt(x)
		}
		d.balanced, err = propensity.Continuous(d.scaled, c)
	}
	if err != nil {
		d.balanced, d.unmade = nil, fmt.Sprintf("The weights cannot be made: %v.", err)
	}
}

// contrastWeighted is the contrast of a draw by the curve of dose alone among
// persons weighted anew: density of the dose over its density given the
// covariates, both normal, not truncated. It agrees with package propensity; a
// factor common to all weights moves nothing.
func (d *amounts) contrastWeighted(weight []float64, r *room, apart []float64) float64 {
	last := d.least.p - 1
	own := r.gram[last*(last+1)/2:] // products of the scaled dose with the columns
	n := len(d.foretold)
	coef, kept := r.coef[:n], r.kept[:n]
	solve(r.gram, own, d.foretold, r.factor[:n*n], coef, kept)
	total := r.gram[0]
	mean := own[0] / total
	around, left := own[last]-own[0]*mean, own[last]
	columns := 0.0
	for k, j := range d.foretold {
		left -= coef[k] * own[j]
		if kept[k] {
			columns++
		}
	}
	around, left = around/(total-1), left/(total-columns)
	if !(left > 0) || !(around > 0) {
		return math.NaN() // the covariates tell the dose: the draw fails
	}
	for i, w := range weight {
		if r.extra[i] = 0; w == 0 {
			continue
		}
		row := d.least.row(i)
		z := row[last]
		residual := z - coef[0]
		for k, j := range d.foretold[1:] {
			residual -= coef[1+k] * row[j]
		}
		r.extra[i] = w * math.Exp((residual*residual/left-(z-mean)*(z-mean)/around)/2)
	}
	few := 1 + doseColumns
	gram, moments := r.gram[:few*(few+1)/2], r.moments[:few]
	d.least.gram(r.extra, gram)
	d.least.moments(r.extra, r.y, moments)
	fitted := r.coef[:few]
	solve(gram, moments, d.raw, r.factor[:few*few], fitted, r.kept[:few])
	return dot(apart, fitted[1:])
}

// achieve says what the weights achieve, and why their contrast is not to be told.
func (d *amounts) achieve() Weighted {
	w := Weighted{Scale: d.scale}
	if d.balanced == nil {
		w.Withheld = []string{d.unmade}
		return w
	}
	w.Persons = d.balanced.Effective()
	w.Share = w.Persons / float64(len(d.Dose))
	for _, b := range d.balanced.Balance {
		if b.Before > w.Before.Value {
			w.Before = Imbalance{b.Name, b.Before}
		}
		if b.Weighted > w.After.Value {
			w.After = Imbalance{b.Name, b.Weighted}
		}
	}
	limits := d.opt.Limits
	if w.Share < limits.MinShare {
		w.Withheld = append(w.Withheld, fmt.Sprintf("The weights leave %.0f %% of the people in effect, fewer than %.0f %%.", 100*w.Share, 100*limits.MinShare))
	}
	if w.Persons < limits.MinPersons {
		w.Withheld = append(w.Withheld, fmt.Sprintf("The weights leave %.1f people in effect, fewer than %.0f.", w.Persons, limits.MinPersons))
	}
	if w.After.Value > limits.MaxImbalance {
		w.Withheld = append(w.Withheld, fmt.Sprintf("After weighting dose still goes with %s: correlation %.2f, more than %.2f.", w.After.Name, w.After.Value, limits.MaxImbalance))
	}
	return w
}

// weigh fills in the weighted contrast, where it may be told.
func (d *amounts) weigh(a *Amount, draws *resample.Draws) error {
	a.Weighted = d.weights
	if len(d.weights.Withheld) > 0 {
		return nil
	}
	var err error
	if a.Weighted.Contrast, err = contrast(draws, weightedAt, d.opt.Level); err != nil {
		return err
	}
	a.Weighted.Difference, err = contrast(draws, differenceAt, d.opt.Level)
	return err
}
