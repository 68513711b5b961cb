package survival_test

import (
	"fmt"

	"evenlimb/pipeline/stats/survival"
)

// Twelve people in care: day of the recorded return (1), of another end (2), or
// last day seen without either (0).
var care = survival.Data{
	Time:  []float64{14, 21, 28, 28, 35, 42, 42, 56, 63, 70, 84, 84},
	Event: []int{1, 0, 1, 1, 2, 1, 0, 1, 1, 2, 0, 0},
}

func ExampleKaplanMeier() {
	in := survival.Data{Time: []float64{14, 28, 28, 35, 42}, Event: []int{1, 1, 1, 0, 1}}
	curve, err := survival.KaplanMeier(in, survival.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	e := curve.At(30)
	fmt.Printf("not yet by day 30: %.2f (%.2f to %.2f), %.0f at risk\n", e.Value, e.Low, e.High, curve.AtRisk(30))
	// Output: not yet by day 30: 0.40 (0.05 to 0.75), 2 at risk
}

func ExampleAalenJohansen() {
	curves, err := survival.AalenJohansen(care, 2, survival.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	e := curves[1].At(84)
	fmt.Printf("returned by week 12: %.2f (%.2f to %.2f), %d events\n", e.Value, e.Low, e.High, e.Events)
	// Output: returned by week 12: 0.58 (0.24 to 0.81), 6 events
}

func ExampleCurve_At() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{Interval: survival.Plain})
	for _, week := range []float64{6, 12} {
		fmt.Printf("week %.0f: %.2f\n", week, curves[1].At(7*week).Value)
	}
	// Output:
	// week 6: 0.36
	// week 12: 0.58
}

func ExampleCurve_AtRisk() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{})
	fmt.Println(curves[1].AtRisk(42), curves[1].AtRisk(85))
	// Output: 7 0
}

func ExampleCurve_Before() {
	curve, _ := survival.KaplanMeier(survival.Data{Time: []float64{7, 14}, Event: []int{1, 1}}, survival.Options{})
	fmt.Println(curve.Before(14), curve.At(14).Value)
	// Output: 0.5 0
}

func ExampleCurve_EventsBy() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{})
	fmt.Println(curves[1].EventsBy(42), curves[2].EventsBy(42))
	// Output: 4 1
}

func ExampleCurve_CensoredBy() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{})
	fmt.Println(curves[1].CensoredBy(42))
	// Output: 2
}

func ExampleCurve_Quantile() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{})
	q, err := curves[1].Quantile(0.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("half were back by day %.0f (from day %.0f); the upper limit was reached: %v\n", q.Value, q.Low, q.HighReached)
	// Output: half were back by day 63 (from day 28); the upper limit was reached: false
}

func ExampleCurve_MeanWithout() {
	curves, _ := survival.AalenJohansen(care, 2, survival.Options{})
	mean, err := curves[1].MeanWithout(84)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f of 12 weeks not yet returned (%.1f to %.1f)\n", mean.Value/7, mean.Low/7, mean.High/7)
	// Output: 8.4 of 12 weeks not yet returned (6.2 to 10.5)
}

func ExampleSplit() {
	parts, err := survival.Split(care, []int{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(parts[0].Time, parts[1].Event)
	// Output: [14 28 35 42 63 84] [0 1 1 1 2 0]
}

func ExampleShareDifference() {
	parts, _ := survival.Split(care, []int{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 2)
	a, _ := survival.AalenJohansen(parts[0], 2, survival.Options{})
	b, _ := survival.AalenJohansen(parts[1], 2, survival.Options{})
	d, err := survival.ShareDifference(a[1], b[1], 84)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f (%.2f to %.2f)\n", d.Value, d.Low, d.High)
	// Output: -0.02 (-0.63 to 0.60)
}

func ExampleMeanDifference() {
	parts, _ := survival.Split(care, []int{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 2)
	a, _ := survival.AalenJohansen(parts[0], 2, survival.Options{})
	b, _ := survival.AalenJohansen(parts[1], 2, survival.Options{})
	d, err := survival.MeanDifference(a[1], b[1], 84)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f days (%.1f to %.1f)\n", d.Value, d.Low, d.High)
	// Output: -1.1 days (-30.9 to 28.8)
}

func ExampleLogRank() {
	in := survival.Data{Time: []float64{1, 3, 2, 4}, Event: []int{1, 0, 1, 1}}
	test, err := survival.LogRank(in, []int{0, 0, 1, 1}, 2, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("chi-square %.3f on %d df, p = %.2f\n", test.Statistic, test.DF, test.P)
	// Output: chi-square 0.059 on 1 df, p = 0.81
}

func ExampleGrayTest() {
	test, err := survival.GrayTest(care, []int{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 2, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f and %.0f returned, p = %.2f\n", test.Observed[0], test.Observed[1], test.P)
	// Output: 3 and 3 returned, p = 0.97
}

func ExampleData_Check() {
	fmt.Println(survival.Data{Time: []float64{3}, Event: []int{2}}.Check(1))
	// Output: event[0] is 2, it must lie in 0..1: a value is outside its range
}

func ExampleData_Persons() {
	codes, n := survival.Data{Time: []float64{1, 2, 3}, Person: []int{70, 12, 70}}.Persons()
	fmt.Println(codes, n)
	// Output: [0 1 0] 2
}
