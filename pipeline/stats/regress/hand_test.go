package regress_test

import (
	"math"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/testkit"
)

const (
	t2 = 4.302652729911275 // 97.5 % point of t on 2 degrees of freedom
	z  = 1.959963984540054 // of the normal distribution
)

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func must[T any](t *testing.T) func(T, error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// By hand: x 0 1 2 3, y 1 2 2 5. Sxx 5, Sxy 6: slope 1.2, intercept 0.7;
// remainders 0.3 0.1 -1.1 0.7, their squares sum to 1.8, s^2 0.9. Leverages are
// 1/4 + (x-1.5)^2/5: 0.7 0.3 0.3 0.7. The products (x-1.5)^2 e^2 are 0.2025
// 0.0025 0.3025 1.1025, so the slope's variance is
//
//	model 0.9/5; HC0 1.61/25; HC1 twice that; HC2 and HC3 each product over
//	0.3 or 0.7, or their squares
func TestLeastSquaresByHand(t *testing.T) {
	x := []float64{0, 1, 2, 3}
	m := must[*regress.Model](t)(regress.LeastSquares(regress.Data{
		Y: []float64{1, 2, 2, 5}, Columns: [][]float64{ones(4), x}, Names: []string{"constant", "x"},
	}))
	testkit.AllAlmostEqual(t, "line", m.Coef, []float64{0.7, 1.2}, 1e-13)
	testkit.AlmostEqual(t, "residual", m.ResidualSD, math.Sqrt(0.9), 1e-13)
	testkit.AlmostEqual(t, "error", m.SE[1], math.Sqrt(0.18), 1e-13)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, -2*(math.Log(2*math.Pi*0.45)+1), 1e-13)
	outer, inner := 0.2025+1.1025, 0.0025+0.3025
	for kind, want := range []float64{1.61 / 25, 2 * 1.61 / 25, (outer/0.3 + inner/0.7) / 25, (outer/0.09 + inner/0.49) / 25} {
		c := must[*regress.Covariance](t)(m.Heteroscedastic(regress.HC(kind)))
		testkit.AlmostEqual(t, "robust variance", c.Matrix[1][1], want, 1e-12)
		testkit.AlmostEqual(t, "robust error", c.SE[1], math.Sqrt(want), 1e-12)
	}
	e := must[regress.Combination](t)(m.Combine([]float64{0, 1}, m.ModelBased(), 0.95))
	testkit.AllAlmostEqual(t, "slope", []float64{e.Value, e.SE, e.Low, e.High, e.T, e.DF, e.Level},
		[]float64{1.2, math.Sqrt(0.18), 1.2 - t2*math.Sqrt(0.18), 1.2 + t2*math.Sqrt(0.18), 1.2 / math.Sqrt(0.18), 2, 0.95}, 1e-9)
	// P(|t| > u) on 2 degrees of freedom is 1 - u/sqrt(2+u^2), u^2 = 8.
	testkit.AlmostEqual(t, "p", e.P, 1-math.Sqrt(8.0/10), 1e-12)
	w := must[regress.Test](t)(m.Wald([][]float64{{0, 1}}, m.ModelBased()))
	testkit.AllAlmostEqual(t, "joint test", []float64{w.Statistic, w.DF1, w.DF2, w.P}, []float64{8, 1, 2, e.P}, 1e-12)

	// 3 slope - 1 as a function of its own: value 2.6, tangent 3.
	f := must[regress.Combination](t)(m.Combine([]float64{0, 3}, m.ModelBased(), 0.95)).Around(2.6, nil)
	se := 3 * math.Sqrt(0.18)
	testkit.AllAlmostEqual(t, "function", []float64{f.Value, f.SE, f.Low, f.High, f.T, f.DF, f.Level},
		[]float64{2.6, se, 2.6 - t2*se, 2.6 + t2*se, 2.6 / se, 2, 0.95}, 1e-9)
	testkit.AlmostEqual(t, "its p", f.P, 1-f.T/math.Sqrt(2+f.T*f.T), 1e-12)
}

// By hand: the mean of clusters {1,3} and {5,9} is 4.5; remainders sum to -5
// and 5, so CR0 is (25+25)/16. CR1 doubles it. For CR2 each cluster's
// (I - 11'/4)^(-1/2) stretches its sum by sqrt(2). Two equal clusters leave one
// degree of freedom, where the quartile of t is 1.
func TestClusteredByHand(t *testing.T) {
	m := must[*regress.Model](t)(regress.LeastSquares(regress.Data{
		Y: []float64{1, 5, 3, 9}, Columns: [][]float64{ones(4)}, Names: []string{"mean"},
	}))
	for kind, want := range []float64{3.125, 6.25, 6.25} {
		c := must[*regress.Covariance](t)(m.Clustered(regress.CR(kind), []int{4, 8, 4, 8}))
		testkit.AlmostEqual(t, "variance", c.Matrix[0][0], want, 1e-12)
		e := must[regress.Combination](t)(m.Combine([]float64{1}, c, 0.5))
		se := math.Sqrt(want)
		testkit.AllAlmostEqual(t, "mean", []float64{e.Value, e.SE, e.DF, e.Low, e.High, e.Level}, []float64{4.5, se, 1, 4.5 - se, 4.5 + se, 0.5}, 1e-9)
		codes := ""
		for _, w := range e.Warnings {
			codes += w.Code + " "
		}
		if codes != "few-clusters few-degrees " || c.Clusters != 2 {
			t.Errorf("warnings %q, %d clusters", codes, c.Clusters)
		}
	}
}

// By hand: 3 of 10 without, 6 of 10 with. Log odds ratio log((6/4)/(3/7)), its
// variance 1/6+1/4+1/3+1/7; standardised over anybody the shares themselves,
// 0.3 and 0.6, with variances 0.021 and 0.024.
func TestLogisticByHand(t *testing.T) {
	y, with := make([]float64, 20), make([]float64, 20)
	for i := range 10 {
		with[10+i] = 1
		if i < 3 {
			y[i] = 1
		}
		if i < 6 {
			y[10+i] = 1
		}
	}
	d := regress.Data{Y: y, Columns: [][]float64{ones(20), with}, Names: []string{"constant", "with"}}
	m := must[*regress.Model](t)(regress.Logistic(d))
	testkit.AllAlmostEqual(t, "log odds", m.Coef, []float64{math.Log(3.0 / 7), math.Log(3.5)}, 1e-12)
	testkit.AllAlmostEqual(t, "errors", m.SE, []float64{math.Sqrt(1.0/3 + 1.0/7), math.Sqrt(1.0/6 + 1.0/4 + 1.0/3 + 1.0/7)}, 1e-12)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, 3*math.Log(0.3)+7*math.Log(0.7)+6*math.Log(0.6)+4*math.Log(0.4), 1e-13)
	testkit.AlmostEqual(t, "AIC", m.AIC(), 4-2*m.LogLik, 1e-13)
	testkit.AllAlmostEqual(t, "no residual spread", []float64{m.ResidualSD}, []float64{0}, 0)

	e := must[regress.Combination](t)(m.Combine([]float64{0, 1}, m.ModelBased(), 0.95))
	se := m.SE[1]
	testkit.AllAlmostEqual(t, "ratio", []float64{e.Low, e.High, e.T, e.P, e.DF},
		[]float64{math.Log(3.5) - z*se, math.Log(3.5) + z*se, math.Log(3.5) / se, math.Erfc(math.Log(3.5) / se / math.Sqrt2), 0}, 1e-12)
	w := must[regress.Test](t)(m.Wald([][]float64{{0, 1}}, m.ModelBased()))
	testkit.AllAlmostEqual(t, "joint test", []float64{w.Statistic, w.DF1, w.DF2, w.P}, []float64{e.T * e.T, 1, 0, e.P}, 1e-10)

	s := must[*regress.Standardised](t)(m.Standardise(m.ModelBased(), 0.95,
		regress.Scenario{Columns: [][]float64{ones(5), ones(5)}}, regress.Scenario{Columns: [][]float64{ones(5), make([]float64, 5)}}))
	logit := func(p float64) float64 { return math.Log(p / (1 - p)) }
	share := func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
	for k, p := range []float64{0.6, 0.3} {
		e := s.Means[k]
		half := z * math.Sqrt(1/(10*p)+1/(10*(1-p)))
		testkit.AllAlmostEqual(t, "share", []float64{e.Value, e.SE, e.Low, e.High, e.Level},
			[]float64{p, math.Sqrt(p * (1 - p) / 10), share(logit(p) - half), share(logit(p) + half), 0.95}, 1e-12)
		if e.N != 5 {
			t.Errorf("N %d, want 5", e.N)
		}
	}
	se = math.Sqrt(0.045)
	diff := must[stats.Estimate](t)(s.Difference(0, 1))
	testkit.AllAlmostEqual(t, "difference", []float64{diff.Value, diff.SE, diff.Low, diff.High, diff.Level}, []float64{0.3, se, 0.3 - z*se, 0.3 + z*se, 0.95}, 1e-12)
	ratio := must[stats.Estimate](t)(s.Ratio(0, 1))
	se = math.Sqrt(0.4/6 + 0.7/3)
	testkit.AllAlmostEqual(t, "ratio of shares", []float64{ratio.Value, ratio.SE, ratio.Low, ratio.High, ratio.Level},
		[]float64{2, 2 * se, 2 * math.Exp(-z*se), 2 * math.Exp(z*se), 0.95}, 1e-12)
}

// By hand: 5 events in 100 sessions, 12 in 150; the log rate ratio has variance
// 1/5 + 1/12. A third row weighs nothing.
func TestPoissonByHand(t *testing.T) {
	offset := []float64{math.Log(100), math.Log(150), math.Log(1000)}
	d := regress.Data{
		Y: []float64{5, 12, 40}, Columns: [][]float64{{1, 1, 1}, {0, 1, 0}}, Names: []string{"constant", "second"},
		Offset: offset, Weights: []float64{1, 1, 1e-12},
	}
	m := must[*regress.Model](t)(regress.Poisson(d))
	testkit.AllAlmostEqual(t, "log rates", m.Coef, []float64{math.Log(0.05), math.Log(1.6)}, 1e-9)
	testkit.AllAlmostEqual(t, "errors", m.SE, []float64{math.Sqrt(0.2), math.Sqrt(0.2 + 1.0/12)}, 1e-9)
	testkit.AllAlmostEqual(t, "no residual spread", []float64{m.ResidualSD}, []float64{0}, 0)
	s := must[*regress.Standardised](t)(m.Standardise(m.ModelBased(), 0.95, regress.Scenario{Columns: [][]float64{{1}, {0}}}))
	half := z * math.Sqrt(0.2)
	testkit.AllAlmostEqual(t, "rate", []float64{s.Means[0].Value, s.Means[0].Low, s.Means[0].High}, []float64{0.05, 0.05 * math.Exp(-half), 0.05 * math.Exp(half)}, 1e-9)
}

// By hand: 2, 3 and 5 of three kinds. Log odds log(3/2), log(5/2) with
// variances 1/2+1/3, 1/2+1/5 and covariance 1/2.
func TestMultinomialByHand(t *testing.T) {
	m := must[*regress.MultinomialModel](t)(regress.Multinomial(regress.Data{
		Y: []float64{2, 0, 1, 2, 1, 2, 0, 2, 1, 2}, Columns: [][]float64{ones(10)}, Names: []string{"constant"},
	}))
	testkit.AllAlmostEqual(t, "log odds", []float64{m.Coef[0][0], m.Coef[1][0]}, []float64{math.Log(1.5), math.Log(2.5)}, 1e-13)
	testkit.AllAlmostEqual(t, "errors", []float64{m.SE[0][0], m.SE[1][0]}, []float64{math.Sqrt(0.5 + 1.0/3), math.Sqrt(0.7)}, 1e-13)
	testkit.AlmostEqual(t, "covariance", m.Covariance[0][1], 0.5, 1e-13)
	testkit.AlmostEqual(t, "log-likelihood", m.LogLik, 2*math.Log(0.2)+3*math.Log(0.3)+5*math.Log(0.5), 1e-13)
	shares := must[[][]float64](t)(m.Predict([][]float64{{1}}))
	testkit.AllAlmostEqual(t, "shares", shares[0], []float64{0.2, 0.3, 0.5}, 1e-13)
}
