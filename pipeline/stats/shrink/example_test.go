package shrink_test

import (
	"fmt"

	"evenlimb/pipeline/stats/shrink"
)

// What a third against the first quarter of dose gave in four injury types.
func ExampleRandomEffects() {
	p, err := shrink.RandomEffects([]float64{4, 7, -1, 5}, []float64{2, 1.5, 3, 2.5}, 0.95)
	fmt.Printf("mean %.1f (%.1f to %.1f), spread %.1f %v\n", p.Value, p.Low, p.High, p.Tau, err)
	for _, s := range p.Shrunk {
		fmt.Printf("%.1f ", s.Value)
	}
	// Output:
	// mean 4.4 (-0.6 to 9.4), spread 2.1 <nil>
	// 4.2 6.1 2.6 4.6
}
