package adjust

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/stats/resample"
)

// test fills in the joint tests of the curve, with the covariance that its
// coefficients have over the draws of persons.
func (d *amounts) test(a *Amount, draws *resample.Draws) error {
	relation, curvature := rowsOf(d.smooth.Relation()), rowsOf(d.smooth.Curvature())
	coef := mat.NewVecDense(doseColumns, draws.Point[coefAt:curveFrom])
	covariance := mat.NewSymDense(doseColumns, nil)
	for j := range doseColumns {
		for k := range j + 1 {
			covariance.SetSym(j, k, stat.Covariance(draws.Values[coefAt+j], draws.Values[coefAt+k], nil))
		}
	}
	left := float64(draws.Persons - len(d.full))
	var err error
	if a.Relation, err = wald(relation, coef, covariance, left); err != nil {
		return fmt.Errorf("any relation: %w", err)
	}
	if a.Curvature, err = wald(curvature, coef, covariance, left); err != nil {
		return fmt.Errorf("curvature: %w", err)
	}
	return nil
}

func rowsOf(rows [][]float64) *mat.Dense {
	m := mat.NewDense(len(rows), len(rows[0]), nil)
	for i, row := range rows {
		m.SetRow(i, row)
	}
	return m
}

// wald is the F test that the rows' sums of the coefficients are all 0.
func wald(rows *mat.Dense, coef *mat.VecDense, covariance *mat.SymDense, left float64) (regress.Test, error) {
	k, _ := rows.Dims()
	if left < 1 {
		return regress.Test{}, stats.ErrTooFew
	}
	var value, solved mat.VecDense
	value.MulVec(rows, coef)
	var part, spread mat.Dense
	part.Mul(rows, covariance)
	spread.Mul(&part, rows.T())
	symmetric := mat.NewSymDense(k, nil)
	for i := range k {
		for j := range i + 1 {
			symmetric.SetSym(i, j, (spread.At(i, j)+spread.At(j, i))/2)
		}
	}
	var factor mat.Cholesky
	if !factor.Factorize(symmetric) {
		return regress.Test{}, stats.ErrCollinear
	}
	if err := factor.SolveVecTo(&solved, &value); err != nil {
		return regress.Test{}, stats.ErrCollinear
	}
	t := regress.Test{DF1: float64(k), DF2: left}
	chi := mat.Dot(&value, &solved)
	t.Statistic = chi / t.DF1
	t.P = mathext.RegIncBeta(t.DF2/2, t.DF1/2, t.DF2/(t.DF2+chi))
	return t, nil
}

// asTheyAre fills in what rests on everybody as they are alone: the curve of dose
// without covariates, and the interval clustered on the clinician.
func (d *amounts) asTheyAre(a *Amount, once []float64) error {
	r := newRoom(d.least, d.back)
	r.fit(d.least, d.back, once)
	coef, _ := r.solve(d.raw)
	for _, weights := range d.grid {
		a.RawCurve = append(a.RawCurve, settled(dot(weights, coef[1:])))
	}
	clinician, clinicians := d.clinicians()
	if a.Clinicians = clinicians; clinicians < d.opt.LeastClinicians {
		return nil
	}
	data := regress.Data{Y: r.y}
	for _, j := range d.kept(r) {
		column := make([]float64, d.least.n)
		for i := range column {
			column[i] = d.least.row(i)[j]
		}
		data.Columns, data.Names = append(data.Columns, column), append(data.Names, fmt.Sprintf("column %d", j))
	}
	model, err := regress.LeastSquares(data)
	if err != nil {
		return fmt.Errorf("clinicians: %w", err)
	}
	covariance, err := model.Clustered(regress.CR2, clinician)
	if err != nil {
		return fmt.Errorf("clinicians: %w", err)
	}
	apart, err := d.smooth.Contrast(a.To, a.From)
	if err != nil {
		return err
	}
	weights := make([]float64, len(data.Columns))
	copy(weights[1:], apart)
	c, err := model.Combine(weights, covariance, d.opt.Level)
	if errors.Is(err, stats.ErrNoVariation) || errors.Is(err, stats.ErrTooFew) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("clinicians: %w", err)
	}
	a.ByClinician = Contrast{Estimate: c.Estimate, HasInterval: true}
	return nil
}

// kept are the columns of the full fit that those before them do not tell. Those
// of dose are among them, as the statistic was found.
func (d *amounts) kept(r *room) []int {
	_, kept := r.solve(d.full)
	var out []int
	for k, j := range d.full {
		if kept[k] {
			out = append(out, j)
		}
	}
	return out
}

// clinicians are the clusters, somebody of whom it is not known a cluster of
// their own, and how many clinicians there are.
func (d *amounts) clinicians() (cluster []int, known int) {
	seen := map[int]bool{}
	cluster = make([]int, len(d.Dose))
	for i, code := range d.Clinician {
		if cluster[i] = code; code < 0 {
			cluster[i] = -1 - i
			continue
		}
		seen[code] = true
	}
	return cluster, len(seen)
}
