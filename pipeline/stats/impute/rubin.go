package impute

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Pooled is a result over all imputations.
type Pooled struct {
	stats.Estimate
	DegreesOfFreedom float64 // of the t interval; 1e9 stands for normal
	Lost             float64 // fraction of the information lost to missing values, 0 to 1
}

// Pool combines the results of the same analysis of each imputation: their
// mean, with an interval that knows how far they differ.
//
// Input: values and their squared standard errors, one per imputation, two or
// more; completeDF, the residual degrees of freedom had nothing been missing (0:
// so many that they do not matter); level, two-sided. Output: Pooled, in the
// unit of values.
//
// Errors: stats.ErrEmpty, ErrLength, ErrNotFinite; ErrTooFew for one
// imputation, or when they differ so much that the limits cannot be computed; ErrRange for a variance not above 0, a negative completeDF or the
// level. The warning "much-lost" says that more than half of the information
// was lost.
//
// Method: Rubin's rules (Rubin 1987) with the degrees of freedom of Barnard and
// Rubin (Biometrika 1999;86:948). Agrees with the formulas written in R.
//
// Cost: none.
func Pool(values, variances []float64, completeDF, level float64) (Pooled, error) {
	if err := checkPool(values, variances, completeDF, level); err != nil {
		return Pooled{}, fmt.Errorf("pooling imputations: %w", err)
	}
	m := float64(len(values))
	within := stat.Mean(variances, nil)
	between := (1 + 1/m) * stat.Variance(values, nil)
	total := within + between
	share := between / total
	df := degreesOfFreedom(m, share, within/total, completeDF)
	ratio := between / within
	half := math.Sqrt(total)
	p := Pooled{
		Estimate: stats.Estimate{
			Value: stat.Mean(values, nil), SE: half, Level: level,
			Method: fmt.Sprintf("%d imputations, Rubin's rules", len(values)),
		},
		DegreesOfFreedom: df,
		Lost:             (ratio + 2/(df+3)) / (ratio + 1),
	}
	half *= tQuantile((1+level)/2, df)
	p.Low, p.High = p.Value-half, p.Value+half
	if err := stats.CheckFinite("limits", []float64{p.Low, p.High}); err != nil {
		return Pooled{}, fmt.Errorf("pooling imputations: next to nothing is known, use more imputations: %w", stats.ErrTooFew)
	}
	if p.Lost > 0.5 {
		p.Warnings = append(p.Warnings, stats.Warning{
			Code: "much-lost",
			Text: fmt.Sprintf("%.0f %% of the information was lost to missing values.", 100*p.Lost),
		})
	}
	return p, nil
}

// manyDF stands for degrees of freedom without end.
const manyDF = 1e9

// degreesOfFreedom follows Barnard and Rubin; share is that of the variance
// between imputations, rest the other one.
func degreesOfFreedom(m, share, rest, complete float64) float64 {
	old := math.Min(manyDF, (m-1)/(share*share))
	if complete == 0 {
		return old
	}
	observed := (complete + 1) / (complete + 3) * complete * rest
	return math.Min(manyDF, 1/(share*share/(m-1)+1/observed))
}

// tQuantile is that of Student's t; with many degrees of freedom its expansion
// about the normal one, which then holds to 12 digits.
func tQuantile(p, df float64) float64 {
	if df < 1e4 {
		return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
	}
	z := distuv.UnitNormal.Quantile(p)
	z3 := z * z * z
	return z + (z3+z)/(4*df) + (5*z3*z*z+16*z3+3*z)/(96*df*df)
}

func checkPool(values, variances []float64, completeDF, level float64) error {
	if len(values) == 0 {
		return stats.ErrEmpty
	}
	if err := stats.CheckLength("variances", len(variances), len(values)); err != nil {
		return err
	}
	for name, xs := range map[string][]float64{"values": values, "variances": variances, "completeDF": {completeDF}} {
		if err := stats.CheckFinite(name, xs); err != nil {
			return err
		}
	}
	if len(values) < 2 {
		return fmt.Errorf("one imputation: %w", stats.ErrTooFew)
	}
	for i, v := range variances {
		if v <= 0 || v > 1e150 || math.Abs(values[i]) > 1e75 {
			return fmt.Errorf("values[%d] %v with variance %v: %w", i, values[i], v, stats.ErrRange)
		}
	}
	if completeDF < 0 {
		return fmt.Errorf("completeDF %v: %w", completeDF, stats.ErrRange)
	}
	return stats.CheckLevel(level)
}
