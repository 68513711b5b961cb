package control_test

import (
	"fmt"

	"evenlimb/pipeline/stats/control"
	"evenlimb/pipeline/stats/rates"
)

// Events per quarter against a baseline of 48 in 9,600 sessions.
func ExampleU() {
	points, err := control.U([]int{7, 4, 19}, []float64{1200, 1100, 1300},
		rates.Count{Events: 48, Exposure: 9600}, 0.998)
	fmt.Println(err)
	for _, p := range points {
		fmt.Printf("%.4f within %.4f to %.4f: %d\n", p.Value, p.Low, p.High, p.Signal)
	}
	// Output:
	// <nil>
	// 0.0058 within 0.0000 to 0.0133: 0
	// 0.0036 within 0.0000 to 0.0136: 0
	// 0.0146 within 0.0000 to 0.0131: 1
}

func ExampleP() {
	points, err := control.P([]int{88, 61}, []int{100, 100}, 0.85, 0.998)
	fmt.Println(points[0].Signal, points[1].Signal, err)
	// Output: 0 -1 <nil>
}

func ExampleG() {
	points, err := control.G([]int{610, 35}, rates.Count{Events: 20, Exposure: 9600}, 0.9)
	fmt.Println(points[0].Signal, points[1].Signal, points[0].Low, err)
	// Output: 0 0 24 <nil>
}

func ExampleRuns() {
	var points []control.Point
	for _, v := range []float64{4, 6, 7, 7, 8, 3} {
		points = append(points, control.Point{Value: v, Centre: 5})
	}
	runs, err := control.Runs(points, 4)
	fmt.Println(runs, err)
	// Output: [{1 4 1}] <nil>
}

func ExampleRunsMean() {
	mean, err := control.RunsMean(8, 0.5, 0.5)
	fmt.Println(mean, err)
	// Output: 255 <nil>
}

func ExampleCUSUM_Path() {
	c := control.CUSUM{Ratio: 2, Threshold: 4}
	path, err := c.Path([]int{1, 3, 4, 1}, []float64{1, 1, 1.2, 1})
	fmt.Println(path, err)
	// Output: [{0 false} {1.5625 false} {3.84375 false} {3.40625 false}] <nil>
}

// False alarms in a year of months with one expected event each, known from 30.
func ExampleCUSUM_RunLength() {
	c := control.CUSUM{Ratio: 2, Threshold: 4}
	year := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	r, err := c.RunLength(control.Watch{Expected: year, BaselineEvents: 30}, 12)
	fmt.Printf("%.2f a year, %.2f within the first %v\n", r.AlarmsPerCycle, r.By[11], err)
	// Output: 0.14 a year, 0.11 within the first <nil>
}

// At most one false alarm in ten years.
func ExampleThreshold() {
	year := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	c, err := control.Threshold(2, control.Watch{Expected: year, BaselineEvents: 30}, 0.1)
	fmt.Println(c.Threshold, err)
	// Output: 4.65625 <nil>
}
