package resample_test

import (
	"context"
	"fmt"

	"evenlimb/pipeline/stats/resample"
)

// Weeks to return of eight people.
var weeks = []float64{4, 6, 7, 9, 9, 12, 15, 30}

func meanWeeks(draw []int) ([]float64, error) {
	var sum float64
	for _, person := range draw {
		sum += weeks[person]
	}
	return []float64{sum / float64(len(draw))}, nil
}

func ExampleBootstrap() {
	draws, err := resample.Bootstrap(context.Background(), len(weeks), meanWeeks,
		resample.Options{Replicates: 2000, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(draws.Point[0], len(draws.Values[0]))
	// Output: 11.5 2000
}

func ExampleJackknife() {
	left, err := resample.Jackknife(context.Background(), len(weeks), meanWeeks, 0)
	fmt.Printf("without the last: %.2f %v\n", left[0][7], err)
	// Output: without the last: 8.86 <nil>
}

func ExampleDraws_Percentile() {
	draws, err := resample.Bootstrap(context.Background(), len(weeks), meanWeeks,
		resample.Options{Replicates: 2000, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := draws.Percentile(0, 0.95)
	fmt.Printf("%.1f weeks (%.1f to %.1f) %v\n", e.Value, e.Low, e.High, err)
	// Output: 11.5 weeks (7.1 to 17.4) <nil>
}

func ExampleDraws_BCa() {
	ctx := context.Background()
	draws, err := resample.Bootstrap(ctx, len(weeks), meanWeeks, resample.Options{Replicates: 2000, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	left, err := resample.Jackknife(ctx, len(weeks), meanWeeks, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := draws.BCa(0, 0.95, left[0])
	fmt.Printf("%.1f weeks (%.1f to %.1f) %v\n", e.Value, e.Low, e.High, err)
	// Output: 11.5 weeks (7.8 to 19.3) <nil>
}
