package mixed_test

import (
	"fmt"

	"evenlimb/pipeline/stats/mixed"
	"evenlimb/pipeline/stats/spline"
)

// Girth differences in cm of four people, at care weeks 0, 3, 7 and 12.
func girth() mixed.Data {
	weeks := []float64{0, 3, 7, 12, 0, 3, 7, 12, 0, 3, 7, 12, 0, 3, 7, 12}
	constant := make([]float64, len(weeks))
	people := make([]int, len(weeks))
	for i := range weeks {
		constant[i], people[i] = 1, 1+i/4
	}
	return mixed.Data{
		Y:       []float64{3.1, 2.6, 1.7, 0.8, 2.2, 1.9, 1.3, 0.9, 4.0, 3.0, 2.2, 0.9, 2.9, 2.6, 2.4, 1.7},
		Columns: [][]float64{constant, weeks},
		Names:   []string{"constant", "week"},
		Group:   mixed.Random{Group: people, Slope: weeks},
	}
}

func ExampleFit() {
	m, err := mixed.Fit(girth(), mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f cm at the start, %.3f cm a week (df %.1f)\n", m.Coef[0], m.Coef[1], m.DF[1])
	// Output: 3.04 cm at the start, -0.164 cm a week (df 3.0)
}

func ExampleModel_Combine() {
	m, err := mixed.Fit(girth(), mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	change, err := m.Combine([]float64{0, 6}, 0.95)
	fmt.Printf("%.2f cm in six weeks (%.2f to %.2f) %v\n", change.Value, change.Low, change.High, err)
	// Output: -0.98 cm in six weeks (-1.68 to -0.29) <nil>
}

// A smooth curve over the weeks, averaged over a mix of two settings.
func ExampleModel_MeanCurve() {
	data := girth()
	weeks := data.Columns[1]
	basis, err := spline.NewNatural([]float64{4}, 0, 12, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	curve, err := basis.Design(weeks)
	if err != nil {
		fmt.Println(err)
		return
	}
	home := []float64{0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 1}
	data.Columns = append([][]float64{data.Columns[0], home}, curve...)
	data.Names = []string{"constant", "home", "curve 1", "curve 2"}
	m, err := mixed.Fit(data, mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	var points [][][]float64
	for _, week := range []float64{0, 6, 12} {
		row, err := basis.Row(week)
		if err != nil {
			fmt.Println(err)
			return
		}
		points = append(points, [][]float64{append([]float64{1, 0}, row...), append([]float64{1, 1}, row...)})
	}
	means, err := m.MeanCurve(points, []float64{0.75, 0.25}, 0.95)
	for _, mean := range means {
		fmt.Printf("%.2f ", mean.Value)
	}
	fmt.Println(err)
	// Output: 3.00 2.00 1.03 <nil>
}

func ExampleModel_Effects() {
	m, err := mixed.Fit(girth(), mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	people, _ := m.Effects()
	for _, e := range people {
		fmt.Printf("person %d: %+.2f cm at the start, %+.3f cm a week\n", e.Group, e.Intercept, e.Slope)
	}
	// Output:
	// person 1: +0.08 cm at the start, -0.030 cm a week
	// person 2: -0.84 cm at the start, +0.052 cm a week
	// person 3: +0.86 cm at the start, -0.086 cm a week
	// person 4: -0.10 cm at the start, +0.064 cm a week
}
