package regress_test

import (
	"fmt"
	"slices"
	"testing"

	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"
)

func TestMultinomialAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "regress/multinomial")
	for name, columns := range map[string]int{"birthwt": 4, "infert": 3, "mtcars": 2, "iris": 2} {
		file := "multinomial_" + name + ".csv"
		d := regress.Data{Y: a.Column(file, "y"), Weights: a.Column(file, "w")}
		for j := range columns {
			column := fmt.Sprintf("x%d", j+1)
			d.Names, d.Columns = append(d.Names, column), append(d.Columns, a.Column(file, column))
		}
		m, err := regress.Multinomial(d)
		if err != nil {
			t.Fatal(name, err)
		}
		testkit.AllAlmostEqual(t, name+" coefficients", slices.Concat(m.Coef...), a.Floats(name+".coef"), tolerance)
		testkit.AllAlmostEqual(t, name+" errors", slices.Concat(m.SE...), a.Floats(name+".se"), tolerance)
		compareMatrix(t, name+" covariance", m.Covariance, a.Floats(name+".vcov"))
		testkit.AlmostEqual(t, name+" log-likelihood", m.LogLik, a.Float(name+".loglik"), 1e-11)
		testkit.AllAlmostEqual(t, name+" rows and kinds", []float64{float64(m.N), float64(m.Kinds)}, []float64{a.Float(name + ".rows"), a.Float(name + ".kinds")}, 0)
		shares, err := m.Predict(d.Columns)
		if err != nil {
			t.Fatal(name, err)
		}
		testkit.AllAlmostEqual(t, name+" shares", slices.Concat(shares...), a.Floats(name+".share"), tolerance)
	}
}
