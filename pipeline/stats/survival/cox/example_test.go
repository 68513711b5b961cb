package cox_test

import (
	"fmt"

	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/stats/survival/cox"
)

// Ten people: day and whether they returned, age over 50, weekly sessions.
var care = cox.Data{
	Data: survival.Data{
		Time:  []float64{21, 28, 28, 35, 42, 49, 56, 63, 70, 84},
		Event: []int{1, 1, 1, 1, 0, 1, 1, 0, 1, 0},
	},
	X: [][]float64{
		{0, 0, 1, 0, 1, 0, 1, 1, 0, 1},
		{3, 2, 2, 3, 1, 2, 3, 1, 1, 2},
	},
}

func ExampleFit() {
	model, err := cox.Fit(care, cox.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d events, log-likelihood %.3f\n", model.Events, model.LogLik)
	// Output: 7 events, log-likelihood -8.894
}

func ExampleModel_Coefficient() {
	model, _ := cox.Fit(care, cox.Options{})
	b := model.Coefficient(0)
	fmt.Printf("%.2f, standard error %.2f\n", b.Value, b.SE)
	// Output: -1.77, standard error 1.01
}

func ExampleModel_HazardRatio() {
	model, _ := cox.Fit(care, cox.Options{})
	ratio := model.HazardRatio(0)
	fmt.Printf("over 50: %.2f (%.2f to %.2f)\n", ratio.Value, ratio.Low, ratio.High)
	// Output: over 50: 0.17 (0.02 to 1.24)
}

func ExampleModel_Wald() {
	model, _ := cox.Fit(care, cox.Options{})
	both, err := model.Wald()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("p = %.2f on %d df\n", both.P, both.DF)
	// Output: p = 0.10 on 2 df
}

func ExampleModel_Score() {
	in := care
	in.Person = []int{1, 1, 2, 3, 4, 5, 6, 7, 8, 9} // the first two rows are one person
	model, _ := cox.Fit(in, cox.Options{})
	test, err := model.Score()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: p = %.2f\n", test.Method, test.P)
	// Output: robust score test over persons: p = 0.10
}

func ExampleModel_LikelihoodRatio() {
	model, _ := cox.Fit(care, cox.Options{})
	fmt.Printf("p = %.2f\n", model.LikelihoodRatio().P)
	// Output: p = 0.04
}

func ExampleModel_Baseline() {
	model, _ := cox.Fit(care, cox.Options{})
	times, cumulative, err := model.Baseline(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f %.3f\n", times[:2], cumulative[:2])
	// Output: [21 28] [0.042 0.175]
}

func ExampleModel_Survival() {
	model, _ := cox.Fit(care, cox.Options{})
	share, err := model.Survival([]float64{1, 2}, 0, []float64{42})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("over 50, 2 sessions, not yet by day 42: %.2f (%.2f to %.2f)\n", share[0].Value, share[0].Low, share[0].High)
	// Output: over 50, 2 sessions, not yet by day 42: 0.90 (0.35 to 0.99)
}

func ExampleModel_Expected() {
	model, _ := cox.Fit(care, cox.Options{})
	site := cox.Data{
		Data: survival.Data{Time: []float64{30, 60}, Event: []int{1, 1}},
		X:    [][]float64{{0, 1}, {2, 2}},
	}
	expected, err := model.Expected(site)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("2 observed, %.2f expected\n", expected[0]+expected[1])
	// Output: 2 observed, 0.77 expected
}

func ExampleModel_Proportionality() {
	model, _ := cox.Fit(care, cox.Options{})
	each, joint, err := model.Proportionality(cox.EventShare)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f %.2f, joint %.2f\n", each[0].P, each[1].P, joint.P)
	// Output: 0.34 0.58, joint 0.30
}

func ExampleModel_Concordance() {
	model, _ := cox.Fit(care, cox.Options{})
	c, err := model.Concordance()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f (%.2f to %.2f)\n", c.Value, c.Low, c.High)
	// Output: 0.82 (0.63 to 1.00)
}

// The share returned by day 56, had everybody been over 50 and had nobody.
func ExampleStandardise() {
	model, _ := cox.Fit(care, cox.Options{})
	sessions := care.X[1]
	everybody := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	nobody := make([]float64, 10)
	for _, over50 := range [][]float64{everybody, nobody} {
		shares, err := cox.Standardise([]*cox.Model{model}, [][]float64{over50, sessions}, nil, nil, []float64{56})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.2f\n", shares[1][0])
	}
	// Output:
	// 0.35
	// 0.79
}
