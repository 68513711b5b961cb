package evalue_test

import (
	"fmt"

	"evenlimb/pipeline/stats/evalue"
)

func ExampleRiskRatio() {
	e, err := evalue.RiskRatio(1.4, 1.1, 1.8)
	fmt.Printf("%.2f, limit %.2f %v\n", e.Point, e.Limit, err)
	// Output: 2.15, limit 1.43 <nil>
}

func ExampleHazardToRisk() {
	r, err := evalue.HazardToRisk(1.5)
	fmt.Printf("%.3f %v\n", r, err)
	// Output: 1.324 <nil>
}

func ExampleOddsToRisk() {
	r, err := evalue.OddsToRisk(1.44)
	fmt.Printf("%.3f %v\n", r, err)
	// Output: 1.200 <nil>
}

func ExampleDifferenceToRisk() {
	r, err := evalue.DifferenceToRisk(0.3)
	fmt.Printf("%.3f %v\n", r, err)
	// Output: 1.314 <nil>
}

func ExampleYardstick() {
	m, err := evalue.Yardstick([]evalue.Covariate{
		{Name: "severity", Treatment: 1.6, Outcome: 0.7},
		{Name: "age band", Treatment: 1.1, Outcome: 0.9},
	})
	fmt.Printf("%s: %.2f %v\n", m.Name, m.Strength, err)
	// Output: severity: 1.50 <nil>
}
