package interval_test

import (
	"fmt"
	"math"

	"evenlimb/pipeline/stats/survival/interval"
)

// Eight people: last visit without the recorded return, first visit with it.
var visits = interval.Data{
	Lower: []float64{0, 14, 14, 28, 28, 42, 42, 56},
	Upper: []float64{14, 28, 28, 42, 56, math.Inf(1), 63, math.Inf(1)},
}

var over50 = []float64{0, 0, 1, 0, 1, 1, 0, 1}

func ExampleTurnbull() {
	curve, err := interval.Turnbull(visits)
	if err != nil {
		fmt.Println(err)
		return
	}
	for j, share := range curve.Mass {
		fmt.Printf("after day %.0f and by day %.0f: %.3f\n", curve.From[j], curve.To[j], share)
	}
	// Output:
	// after day 0 and by day 14: 0.125
	// after day 14 and by day 28: 0.250
	// after day 28 and by day 42: 0.208
	// after day 42 and by day 56: 0.104
	// after day 56 and by day 63: 0.312
}

func ExampleCurve_By() {
	curve, _ := interval.Turnbull(visits)
	least, most := curve.By(21)
	fmt.Printf("returned by day 21: between %.3f and %.3f\n", least, most)
	// Output: returned by day 21: between 0.125 and 0.375
}

func ExampleWeibull() {
	model, err := interval.Weibull(visits, [][]float64{over50}, interval.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f %.2f, log scale %.2f\n", model.Coef[0], model.Coef[1], model.LogScale)
	// Output: 3.48 0.62, log scale -0.66
}

func ExampleRegression_Factor() {
	model, _ := interval.Weibull(visits, [][]float64{over50}, interval.Options{})
	f := model.Factor(0)
	fmt.Printf("over 50, times are longer by the factor %.2f (%.2f to %.2f)\n", f.Value, f.Low, f.High)
	// Output: over 50, times are longer by the factor 1.87 (0.71 to 4.88)
}

func ExampleRegression_Share() {
	model, _ := interval.Weibull(visits, [][]float64{over50}, interval.Options{})
	share, err := model.Share([]float64{1}, 42)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("over 50, returned by day 42: %.2f (%.2f to %.2f)\n", share.Value, share.Low, share.High)
	// Output: over 50, returned by day 42: 0.39 (0.11 to 0.87)
}

func ExampleRegression_Quantile() {
	model, _ := interval.Weibull(visits, [][]float64{over50}, interval.Options{})
	half, err := model.Quantile([]float64{1}, 0.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("over 50, half are back by day %.0f (%.0f to %.0f)\n", half.Value, half.Low, half.High)
	// Output: over 50, half are back by day 50 (24 to 103)
}
