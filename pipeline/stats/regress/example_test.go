package regress_test

import (
	"context"
	"fmt"

	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/stats/resample"
)

// Twelve people of four clinicians: strength index at week 12 on that at the
// start and on the way of treating.
func strength() (d regress.Data, clinician []int) {
	return regress.Data{
		Y: []float64{82, 90, 77, 95, 88, 84, 91, 99, 79, 93, 86, 97},
		Columns: [][]float64{
			{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1},
			{70, 80, 68, 85, 77, 74, 75, 86, 66, 79, 72, 81},
			{0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1},
		},
		Names: []string{"constant", "at start", "new way"},
	}, []int{1, 1, 2, 2, 3, 3, 1, 1, 2, 4, 3, 4}
}

// Whether the same people were back at their sport by week 26.
func returned() regress.Data {
	d, _ := strength()
	d.Y = []float64{0, 1, 0, 1, 1, 0, 1, 1, 1, 0, 0, 1}
	return d
}

func ExampleLeastSquares() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("new way: %+.2f points (error %.2f)\n", m.Coef[2], m.SE[2])
	// Output: new way: +3.99 points (error 0.74)
}

func ExampleLogistic() {
	m, err := regress.Logistic(returned())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("log odds ratio of the new way: %.2f (error %.2f)\n", m.Coef[2], m.SE[2])
	// Output: log odds ratio of the new way: 0.72 (error 1.36)
}

func ExamplePoisson() {
	// Events in 400 and 250 sessions: the offset is the log of the sessions.
	m, err := regress.Poisson(regress.Data{
		Y: []float64{4, 2, 5}, Columns: [][]float64{{1, 1, 1}, {0, 0, 1}}, Names: []string{"constant", "second site"},
		Offset: []float64{5.991464547107982, 5.521460917862246, 5.703782474656201},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("log rate ratio of the second site: %.2f (error %.2f)\n", m.Coef[1], m.SE[1])
	// Output: log rate ratio of the second site: 0.59 (error 0.61)
}

func ExampleMultinomial() {
	d := returned()
	d.Y = []float64{0, 1, 0, 2, 1, 0, 2, 1, 2, 0, 2, 1}
	d.Columns, d.Names = d.Columns[:1], d.Names[:1]
	m, err := regress.Multinomial(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Kinds, "kinds", m.N, "rows")
	// Output: 3 kinds 12 rows
}

func ExampleMultinomialModel_Predict() {
	d := returned()
	d.Y = []float64{0, 1, 0, 2, 1, 0, 2, 1, 2, 0, 2, 0}
	d.Columns, d.Names = d.Columns[:1], d.Names[:1]
	m, err := regress.Multinomial(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	shares, err := m.Predict([][]float64{{1}})
	fmt.Printf("%.3f %v\n", shares[0], err)
	// Output: [0.417 0.250 0.333] <nil>
}

func ExampleModel_Predict() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	expected, err := m.Predict([][]float64{{1, 1}, {75, 75}, {0, 1}}, nil)
	fmt.Printf("%.1f %v\n", expected, err)
	// Output: [85.3 89.3] <nil>
}

func ExampleModel_AIC() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f\n", m.AIC())
	// Output: 44.42
}

func ExampleModel_ModelBased() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f\n", m.ModelBased().SE)
	// Output: [4.571 0.060 0.738]
}

func ExampleModel_Heteroscedastic() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := m.Heteroscedastic(regress.HC3)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f\n", c.SE)
	// Output: [6.582 0.084 0.860]
}

func ExampleModel_Clustered() {
	d, clinician := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := m.Clustered(regress.CR2, clinician)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d clinicians, error of the new way %.3f, %s\n", c.Clusters, c.SE[2], c.Warnings[0].Code)
	// Output: 4 clinicians, error of the new way 0.384, few-clusters
}

func ExampleModel_Combine() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := m.Combine([]float64{0, 0, 1}, m.ModelBased(), 0.95)
	fmt.Printf("%.1f points (%.1f to %.1f) %v\n", e.Value, e.Low, e.High, err)
	// Output: 4.0 points (2.3 to 5.7) <nil>
}

func ExampleCombination_Around() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := m.Combine([]float64{0, 0, 2}, m.ModelBased(), 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f\n", e.Around(8, nil).Value)
	// Output: 8.0
}

func ExampleModel_Wald() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	w, err := m.Wald([][]float64{{0, 1, 0}, {0, 0, 1}}, m.ModelBased())
	fmt.Printf("F %.1f on %g and %g degrees of freedom %v\n", w.Statistic, w.DF1, w.DF2, err)
	// Output: F 163.2 on 2 and 9 degrees of freedom <nil>
}

// What share would be back had all been treated the new way, or none.
func ExampleModel_Standardise() {
	d := returned()
	m, err := regress.Logistic(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	way := func(value float64) regress.Scenario {
		column := make([]float64, len(d.Y))
		for i := range column {
			column[i] = value
		}
		return regress.Scenario{Columns: [][]float64{d.Columns[0], d.Columns[1], column}}
	}
	s, err := m.Standardise(m.ModelBased(), 0.95, way(1), way(0))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f and %.2f\n", s.Means[0].Value, s.Means[1].Value)
	// Output: 0.65 and 0.52
}

func ExampleStandardised_Difference() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	all := func(value float64) regress.Scenario {
		return regress.Scenario{Columns: [][]float64{{1, 1}, {70, 80}, {value, value}}}
	}
	s, err := m.Standardise(m.ModelBased(), 0.95, all(1), all(0))
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := s.Difference(0, 1)
	fmt.Printf("%.2f %v\n", e.Value, err)
	// Output: 3.99 <nil>
}

func ExampleStandardised_Ratio() {
	d, _ := strength()
	m, err := regress.LeastSquares(d)
	if err != nil {
		fmt.Println(err)
		return
	}
	all := func(value float64) regress.Scenario {
		return regress.Scenario{Columns: [][]float64{{1, 1}, {70, 80}, {value, value}}}
	}
	s, err := m.Standardise(m.ModelBased(), 0.95, all(1), all(0))
	if err != nil {
		fmt.Println(err)
		return
	}
	e, err := s.Ratio(0, 1)
	fmt.Printf("%.3f %v\n", e.Value, err)
	// Output: 1.047 <nil>
}

// A bootstrap interval: persons drawn again and the model refitted each time.
func ExampleData_Rows() {
	d, _ := strength()
	draws, err := resample.Bootstrap(context.Background(), len(d.Y), func(draw []int) ([]float64, error) {
		drawn, err := d.Rows(draw)
		if err != nil {
			return nil, err
		}
		m, err := regress.LeastSquares(drawn)
		if err != nil {
			return nil, err
		}
		return []float64{m.Coef[2]}, nil
	}, resample.Options{Replicates: 200, Seed: 1, MaxFailed: 0.05})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f from %d persons\n", draws.Point, draws.Persons)
	// Output: [3.99] from 12 persons
}
