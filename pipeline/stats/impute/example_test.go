package impute_test

import (
	"context"
	"fmt"
	"math"

	"evenlimb/pipeline/stats/impute"
)

// Pain at the start is missing for one person of eight.
func ExampleChained() {
	filled, err := impute.Chained(context.Background(), []impute.Variable{
		{Name: "weeks", Values: []float64{5, 9, 7, 12, 20, 6, 15, 8}},
		{Name: "pain", Values: []float64{2, 4, 3, 5, math.NaN(), 2, 7, 4}},
	}, impute.Options{Imputations: 3, Iterations: 5, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range filled {
		fmt.Print(f[1][4], " ")
	}
	// Output: 3 4 4
}

func ExamplePool() {
	p, err := impute.Pool([]float64{2.1, 2.4, 1.8, 2.2}, []float64{0.25, 0.22, 0.27, 0.24}, 120, 0.95)
	fmt.Printf("%.2f (%.2f to %.2f), %.0f %% lost %v\n", p.Value, p.Low, p.High, 100*p.Lost, err)
	// Output: 2.12 (0.97 to 3.28), 28 % lost <nil>
}
