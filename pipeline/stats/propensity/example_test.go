package propensity_test

import (
	"fmt"

	"evenlimb/pipeline/stats/propensity"
)

var (
	treated  = []bool{true, false, false, true, true, false, true, false, true, false}
	severity = []float64{1, 0, 1, 1, 2, 0, 2, 1, 0, 2}
	limits   = propensity.Limits{MinShare: 0.3, MinPersons: 20, MaxImbalance: 0.1}
)

func ExampleBinary() {
	w, err := propensity.Binary(treated, propensity.Covariates{
		Names: []string{"severity"}, Columns: [][]float64{severity},
	})
	fmt.Printf("%.2f %v\n", w.Weights[:3], err)
	b := w.Balance[0]
	fmt.Printf("%s: %.2f before, %.2f weighted\n", b.Name, b.Before, b.Weighted)
	// Output:
	// [1.00 0.75 1.00] <nil>
	// severity: 0.48 before, 0.00 weighted
}

func ExampleMultinomial() {
	w, err := propensity.Multinomial([]int{0, 1, 2, 0, 1, 2, 0, 1, 2, 0}, propensity.Covariates{
		Names: []string{"severity"}, Columns: [][]float64{severity},
	})
	fmt.Printf("%.2f %v\n", w.Weights[:3], err)
	// Output: [1.03 1.27 1.40] <nil>
}

func ExampleContinuous() {
	w, err := propensity.Continuous([]float64{2.1, 3, 2.2, 1.9, 1.2, 3.4, 2, 2.6, 2.9, 1.5}, propensity.Covariates{
		Names: []string{"severity"}, Columns: [][]float64{severity},
	})
	fmt.Printf("%.2f %v\n", w.Weights[:3], err)
	// Output: [0.51 0.26 0.46] <nil>
}

func ExampleWeighted_Effective() {
	w := propensity.Weighted{Groups: []propensity.Group{{Persons: 40, Effective: 31.5}, {Persons: 25, Effective: 12}}}
	fmt.Println(w.Effective())
	// Output: 43.5
}

func ExampleWeighted_Withheld() {
	w, err := propensity.Binary(treated, propensity.Covariates{
		Names: []string{"severity"}, Columns: [][]float64{severity},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, reason := range w.Withheld(limits) {
		fmt.Println(reason.Code)
	}
	// Output: effective-persons
}
