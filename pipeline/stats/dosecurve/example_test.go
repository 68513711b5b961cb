package dosecurve_test

import (
	"fmt"

	"evenlimb/pipeline/stats/dosecurve"
	"evenlimb/pipeline/stats/regress"
)

// Minutes of work with the cuff inflated in the first four weeks, and the
// strength index at week 12, of twelve people.
var (
	minutes = []float64{20, 35, 40, 55, 60, 75, 90, 100, 120, 140, 150, 180}
	index   = []float64{71, 78, 75, 80, 84, 81, 86, 85, 90, 87, 91, 90}
)

func ExampleQuantile() {
	median, err := dosecurve.Quantile(minutes, 0.5)
	fmt.Println(median, err)
	// Output: 82.5 <nil>
}

func ExampleBands() {
	bands, err := dosecurve.Bands(minutes, index, []float64{0, 60, 120, 180}, 0.95)
	for _, b := range bands {
		fmt.Printf("%g to %g minutes: %.1f (%d people)\n", b.From, b.To, b.Mean.Value, b.Mean.N)
	}
	fmt.Println(err)
	// Output:
	// 0 to 60 minutes: 76.0 (4 people)
	// 60 to 120 minutes: 84.0 (4 people)
	// 120 to 180 minutes: 89.5 (4 people)
	// <nil>
}

func ExampleThirds() {
	e, err := dosecurve.Thirds(minutes, index, 0.95)
	fmt.Printf("%.1f points (%.1f to %.1f) %v\n", e.Value, e.Low, e.High, err)
	// Output: 13.5 points (7.6 to 19.4) <nil>
}

func ExampleNewSmooth() {
	s, err := dosecurve.NewSmooth(minutes)
	fmt.Println(s.Knots, s.Low, s.High, err)
	// Output: [35.5 82.5 149] 20 180 <nil>
}

func ExampleSmooth_Columns() {
	s, err := dosecurve.NewSmooth(minutes)
	if err != nil {
		fmt.Println(err)
		return
	}
	columns, err := s.Columns([]float64{30, 60, 90})
	fmt.Println(len(columns), len(columns[0]), err)
	// Output: 4 3 <nil>
}

func ExampleSmooth_Contrast() {
	s, err := dosecurve.NewSmooth(minutes)
	if err != nil {
		fmt.Println(err)
		return
	}
	columns, err := s.Columns(minutes)
	if err != nil {
		fmt.Println(err)
		return
	}
	constant := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	m, err := regress.LeastSquares(regress.Data{
		Y: index, Columns: append([][]float64{constant}, columns...), Names: []string{"constant", "1", "2", "3", "4"},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	weights, err := s.Contrast(s.ThirdQ, s.FirstQ)
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := m.Combine(append([]float64{0}, weights...), m.ModelBased(), 0.95)
	fmt.Printf("%.1f points between the quartiles %v\n", e.Value, err)
	// Output: 8.5 points between the quartiles <nil>
}

func ExampleSmooth_Relation() {
	s, err := dosecurve.NewSmooth(minutes)
	fmt.Println(len(s.Relation()), err)
	// Output: 4 <nil>
}

func ExampleSmooth_Curvature() {
	s, err := dosecurve.NewSmooth(minutes)
	fmt.Println(len(s.Curvature()), err)
	// Output: 3 <nil>
}

func curve() (*dosecurve.Emax, error) {
	constant := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	return dosecurve.FitEmax(dosecurve.EmaxData{Response: index, Dose: minutes, Columns: [][]float64{constant}, Names: []string{"start"}})
}

func ExampleFitEmax() {
	e, err := curve()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f minutes for half of %.0f points\n", e.ED50, e.Emax)
	// Output: 50 minutes for half of 39 points
}

func ExampleEmax_Difference() {
	e, err := curve()
	if err != nil {
		fmt.Println(err)
		return
	}
	d, err := e.Difference(120, 60, e.Model.ModelBased(), 0.95)
	fmt.Printf("%.1f points (%.1f to %.1f) %v\n", d.Value, d.Low, d.High, err)
	// Output: 6.3 points (4.2 to 8.4) <nil>
}
