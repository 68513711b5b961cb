package dosecurve

import (
	"fmt"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/spline"
)

// Smooth is a natural cubic spline of dose with knots at its 10th, 50th and
// 90th percentile and boundary at its extremes: four columns that enter any
// regression beside the constant and the covariates.
type Smooth struct {
	Knots     []float64 // in the unit of dose
	Low, High float64   // smallest and largest dose
	FirstQ    float64   // first quartile of dose
	ThirdQ    float64   // third quartile of dose

	basis *spline.Natural
}

// NewSmooth places the knots for the doses of the persons analysed.
//
// dose has a value per person in any order.
//
// Errors: stats.ErrEmpty, stats.ErrNotFinite; stats.ErrTooFew when the three
// percentiles coincide with each other or with an extreme: too many persons
// share a dose for a curve, use Bands.
//
// Method: quantiles as in Quantile; agrees with ns(dose, knots = quantile(...),
// Boundary.knots = range(dose)) of R. Cost: one sort.
func NewSmooth(dose []float64) (*Smooth, error) {
	shares := []float64{0, 0.1, 0.5, 0.9, 1, 0.25, 0.75}
	at := make([]float64, len(shares))
	for k, share := range shares {
		var err error
		if at[k], err = Quantile(dose, share); err != nil {
			return nil, err
		}
	}
	for k := 1; k < 5; k++ {
		if at[k] <= at[k-1] {
			return nil, fmt.Errorf("the percentiles of dose %v coincide, too few different doses for a curve, use bands: %w", at[:5], stats.ErrTooFew)
		}
	}
	s := &Smooth{Knots: at[1:4:4], Low: at[0], High: at[4], FirstQ: at[5], ThirdQ: at[6]}
	var err error
	s.basis, err = spline.NewNatural(s.Knots, s.Low, s.High, false)
	return s, err
}

// Columns gives the columns of the curve for given doses: four of len(dose).
//
// Errors and cost: those of spline.Natural.Design.
func (s *Smooth) Columns(dose []float64) ([][]float64, error) { return s.basis.Design(dose) }

// Contrast gives the weights of the four columns for the response at one dose
// less that at another: a drawn curve is the contrasts of its doses with the
// reference dose, the headline contrast is ThirdQ with FirstQ.
//
// Errors: stats.ErrNotFinite. Cost: none.
func (s *Smooth) Contrast(dose, reference float64) ([]float64, error) {
	row, err := s.basis.Row(dose)
	if err != nil {
		return nil, err
	}
	other, err := s.basis.Row(reference)
	if err != nil {
		return nil, err
	}
	for j := range row {
		row[j] -= other[j]
	}
	return row, nil
}

// Relation gives the weights whose joint test asks whether dose and response
// are related at all.
func (s *Smooth) Relation() [][]float64 {
	rows := make([][]float64, s.basis.Columns())
	for j := range rows {
		rows[j] = make([]float64, len(rows))
		rows[j][j] = 1
	}
	return rows
}

// Curvature gives the weights whose joint test asks whether the curve departs
// from a straight line: three rows, zero for the coefficients of any line.
func (s *Smooth) Curvature() [][]float64 {
	_, line := s.basis.Line()
	// Row j compares coefficient j with the first in the proportion of a line.
	// The line's first coefficient is not zero: it has slope at the boundary.
	rows := make([][]float64, len(line)-1)
	for j := range rows {
		rows[j] = make([]float64, len(line))
		rows[j][0], rows[j][j+1] = -line[j+1], line[0]
	}
	return rows
}
