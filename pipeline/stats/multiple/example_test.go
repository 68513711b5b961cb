package multiple_test

import (
	"fmt"

	"evenlimb/pipeline/stats/multiple"
)

func ExampleHolm() {
	p, err := multiple.Holm([]float64{0.01, 0.02, 0.3})
	fmt.Printf("%.3f %v\n", p, err)
	// Output: [0.030 0.040 0.300] <nil>
}

func ExampleBenjaminiHochberg() {
	p, err := multiple.BenjaminiHochberg([]float64{0.01, 0.02, 0.3})
	fmt.Printf("%.3f %v\n", p, err)
	// Output: [0.030 0.030 0.300] <nil>
}
