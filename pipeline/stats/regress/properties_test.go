package regress_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
	"evenlimb/pipeline/stats/resample"
	"evenlimb/pipeline/testkit"
)

// cohort makes persons whose chance of an outcome rises with a treatment and
// with severity, which is commoner among the treated.
func cohort(rng *rand.Rand, n int) regress.Data {
	d := regress.Data{Names: []string{"constant", "treated", "severity"}, Columns: make([][]float64, 3)}
	for range n {
		severity := rng.NormFloat64()
		treated := 0.0
		if rng.Float64() < 1/(1+math.Exp(-severity)) {
			treated = 1
		}
		y := 0.0
		if rng.Float64() < 1/(1+math.Exp(0.3-0.8*treated-0.7*severity)) {
			y = 1
		}
		d.Y = append(d.Y, y)
		for j, x := range []float64{1, treated, severity} {
			d.Columns[j] = append(d.Columns[j], x)
		}
	}
	return d
}

func scenarios(d regress.Data) []regress.Scenario {
	out := make([]regress.Scenario, 2)
	for k, value := range []float64{1, 0} {
		columns := slices.Clone(d.Columns)
		columns[1] = make([]float64, len(d.Y))
		for i := range columns[1] {
			columns[1][i] = value
		}
		out[k].Columns = columns
	}
	return out
}

func difference(d regress.Data) (stats.Estimate, error) {
	m, err := regress.Logistic(d)
	if err != nil {
		return stats.Estimate{}, err
	}
	c, err := m.Heteroscedastic(regress.HC0)
	if err != nil {
		return stats.Estimate{}, err
	}
	s, err := m.Standardise(c, 0.95, scenarios(d)...)
	if err != nil {
		return stats.Estimate{}, err
	}
	return s.Difference(0, 1)
}

func TestRowOrderAndWeights(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	d := cohort(rng, 80)
	before := slices.Clone(d.Y)
	cluster := make([]int, 80)
	for i := range cluster {
		cluster[i] = i / 7
	}
	order := rng.Perm(80)
	shuffled := must[regress.Data](t)(d.Rows(order))
	moved := make([]int, 80)
	for i, r := range order {
		moved[i] = cluster[r]
	}
	a, b := must[*regress.Model](t)(regress.Logistic(d)), must[*regress.Model](t)(regress.Logistic(shuffled))
	testkit.AllAlmostEqual(t, "coefficients of shuffled rows", b.Coef, a.Coef, 1e-11)
	ca, cb := must[*regress.Covariance](t)(a.Clustered(regress.CR2, cluster)), must[*regress.Covariance](t)(b.Clustered(regress.CR2, moved))
	testkit.AllAlmostEqual(t, "errors of shuffled rows", cb.SE, ca.SE, 1e-10)
	if !slices.Equal(before, d.Y) {
		t.Error("inputs changed")
	}

	// Weight 2 is the row twice.
	twice := must[regress.Data](t)(d.Rows(append(slices.Clone(order), order...)))
	d.Weights = ones(80)
	for i := range d.Weights {
		d.Weights[i] = 2
	}
	for _, fit := range []func(regress.Data) (*regress.Model, error){regress.Logistic, regress.Poisson} {
		w, tw := must[*regress.Model](t)(fit(d)), must[*regress.Model](t)(fit(twice))
		testkit.AllAlmostEqual(t, "coefficients of doubled rows", w.Coef, tw.Coef, 1e-10)
		testkit.AllAlmostEqual(t, "errors of doubled rows", w.SE, tw.SE, 1e-10)
		testkit.AlmostEqual(t, "likelihood of doubled rows", w.LogLik, tw.LogLik, 1e-12)
	}
}

// Each row its own cluster: CR0 is HC0, and CR2 is HC2, in least squares.
func TestClustersOfOneRow(t *testing.T) {
	d := cohort(rand.New(rand.NewPCG(1, 8)), 30)
	m := must[*regress.Model](t)(regress.LeastSquares(d))
	cluster := make([]int, 30)
	for i := range cluster {
		cluster[i] = -i
	}
	for hc, cr := range map[regress.HC]regress.CR{regress.HC0: regress.CR0, regress.HC2: regress.CR2} {
		h, c := must[*regress.Covariance](t)(m.Heteroscedastic(hc)), must[*regress.Covariance](t)(m.Clustered(cr, cluster))
		testkit.AllAlmostEqual(t, "errors", c.SE, h.SE, 1e-11)
	}
}

func TestRowsTakesEverything(t *testing.T) {
	d := regress.Data{
		Y: []float64{1, 2, 3}, Columns: [][]float64{{4, 5, 6}, {7, 8, 9}}, Names: []string{"a", "b"},
		Weights: []float64{10, 11, 12}, Offset: []float64{13, 14, 15},
	}
	r := must[regress.Data](t)(d.Rows([]int{2, 0, 2}))
	for what, pair := range map[string][2][]float64{
		"outcome": {r.Y, {3, 1, 3}}, "first column": {r.Columns[0], {6, 4, 6}}, "second column": {r.Columns[1], {9, 7, 9}},
		"weights": {r.Weights, {12, 10, 12}}, "offset": {r.Offset, {15, 13, 15}},
	} {
		testkit.AllAlmostEqual(t, what, pair[0], pair[1], 0)
	}
	r.Y[0] = -1
	if d.Y[2] != 3 {
		t.Error("a draw shares memory with the data")
	}
	if _, err := d.Rows([]int{3}); !errors.Is(err, stats.ErrRange) {
		t.Errorf("row 3 of 3: error %v", err)
	}
}

// The standard deviation of a bootstrap over persons, with the model refitted
// in each draw, is what the delta method says.
func TestDeltaMethodAgreesWithBootstrap(t *testing.T) {
	d := cohort(rand.New(rand.NewPCG(3, 3)), 400)
	e := must[stats.Estimate](t)(difference(d))
	draws, err := resample.Bootstrap(t.Context(), len(d.Y), func(draw []int) ([]float64, error) {
		again, err := d.Rows(draw)
		if err != nil {
			return nil, err
		}
		e, err := difference(again)
		return []float64{e.Value}, err
	}, resample.Options{Replicates: 400, Seed: 9})
	if err != nil {
		t.Fatal(err)
	}
	interval := must[stats.Estimate](t)(draws.Percentile(0, 0.95))
	// A standard deviation of 400 draws is within 3.5 % of itself; three of them.
	if ratio := interval.SE / e.SE; math.Abs(ratio-1) > 0.11 {
		t.Errorf("bootstrap %v, delta method %v", interval.SE, e.SE)
	}
}

// The standardised difference is what the generator makes it, and its interval
// covers as often as it says.
func TestStandardisedDifferenceCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 2))
	// The truth by Simpson's rule over severity.
	truth, steps := 0.0, 4000
	for k := range steps + 1 {
		x := -8 + 16*float64(k)/float64(steps)
		w := []float64{2, 4}[k%2]
		if k == 0 || k == steps {
			w = 1
		}
		share := func(a float64) float64 { return 1 / (1 + math.Exp(0.3-0.8*a-0.7*x)) }
		truth += w * 16 / float64(steps) / 3 * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) * (share(1) - share(0))
	}
	const runs = 500
	covered := 0
	for range runs {
		e := must[stats.Estimate](t)(difference(cohort(rng, 200)))
		if e.Low <= truth && truth <= e.High {
			covered++
		}
	}
	// Monte Carlo error 0.0097; four of them.
	if share := float64(covered) / runs; math.Abs(share-0.95) > 0.039 {
		t.Errorf("intervals cover in %v of the runs", share)
	}
}
