package spline_test

import (
	"fmt"

	"evenlimb/pipeline/stats/spline"
)

// The curve of a girth difference over the weeks of care: knots at weeks 4 and
// 10, straight after week 26.
func ExampleNewNatural() {
	b, err := spline.NewNatural([]float64{4, 10}, 0, 26, false)
	fmt.Println(b.Columns(), "columns", err)
	// Output: 3 columns <nil>
}

func ExampleNatural_Columns() {
	b, err := spline.NewNatural(nil, 0, 26, false)
	fmt.Println(b.Columns(), err)
	// Output: 1 <nil>
}

func ExampleNatural_Row() {
	b, err := spline.NewNatural([]float64{4, 10}, 0, 26, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	row, err := b.Row(12)
	fmt.Printf("%.4f %v\n", row, err)
	// Output: [0.4151 0.4398 -0.1547] <nil>
}

func ExampleNatural_Design() {
	b, err := spline.NewNatural(nil, 0, 10, true)
	if err != nil {
		fmt.Println(err)
		return
	}
	columns, err := b.Design([]float64{0, 5, 10})
	for _, c := range columns {
		fmt.Printf("%.4f\n", c)
	}
	fmt.Println(err)
	// Output:
	// [0.5518 0.4984 0.4450]
	// [-0.6289 0.0398 0.7085]
	// <nil>
}

func ExampleNatural_Line() {
	b, err := spline.NewNatural([]float64{4, 10}, 2, 26, false)
	constant, coefficients := b.Line()
	fmt.Println(constant, len(coefficients), err)
	// Output: 2 3 <nil>
}
