package propensity

import (
	"fmt"
	"testing"

	"evenlimb/pipeline/testkit"
)

func TestWeightsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "propensity/weights")
	for _, c := range []struct {
		sets []string
		fit  func(treatment []float64, c Covariates) (*WeightedDose, error)
	}{
		{[]string{"birthwt", "lung", "pima", "melanoma", "veteran", "infert"}, func(x []float64, c Covariates) (*WeightedDose, error) {
			treated := make([]bool, len(x))
			for i, v := range x {
				treated[i] = v == 1
			}
			w, err := Binary(treated, c)
			if err != nil {
				return nil, err
			}
			return &WeightedDose{Weighted: *w}, nil
		}},
		{[]string{"race", "cells", "ecog", "education", "anorexia", "stage"}, func(x []float64, c Covariates) (*WeightedDose, error) {
			kind := make([]int, len(x))
			for i, v := range x {
				kind[i] = int(v)
			}
			w, err := Multinomial(kind, c)
			if err != nil {
				return nil, err
			}
			return &WeightedDose{Weighted: *w}, nil
		}},
		{[]string{"meal", "wind", "swiss", "boston", "weight", "bmi"}, Continuous},
	} {
		for _, set := range c.sets {
			file := "weights_" + set + ".csv"
			var covariates Covariates
			for j := range int(a.Float(set + ".columns")) {
				name := fmt.Sprintf("x%d", j+1)
				covariates.Names = append(covariates.Names, name)
				covariates.Columns = append(covariates.Columns, a.Column(file, name))
			}
			w, err := c.fit(a.Column(file, "treatment"), covariates)
			must(t, err)
			var size, before, weighted []float64
			for _, g := range w.Groups {
				size = append(size, g.Effective)
			}
			for _, b := range w.Balance {
				before, weighted = append(before, b.Before), append(weighted, b.Weighted)
			}
			testkit.AllAlmostEqual(t, set+" weights", w.Weights, a.Floats(set+".weights"), 1e-8)
			testkit.AllAlmostEqual(t, set+" effective", size, a.Floats(set+".effective"), 1e-8)
			testkit.AllAlmostEqual(t, set+" before", before, a.Floats(set+".before"), 1e-8)
			testkit.AllAlmostEqual(t, set+" weighted", weighted, a.Floats(set+".weighted"), 1e-6)
			if len(w.Residuals) > 0 {
				testkit.AllAlmostEqual(t, set+" residuals", w.Residuals, a.Floats(set+".residuals"), 1e-8)
				testkit.AlmostEqual(t, set+" skewness", w.Skewness, a.Float(set+".skewness"), 1e-8)
				testkit.AlmostEqual(t, set+" kurtosis", w.Kurtosis, a.Float(set+".kurtosis"), 1e-8)
			}
		}
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
