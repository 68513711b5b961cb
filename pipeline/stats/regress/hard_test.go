package regress_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/regress"
)

func TestFitsRefuse(t *testing.T) {
	good := func() regress.Data { return cohort(rand.New(rand.NewPCG(2, 2)), 40) }
	models := map[string]func(regress.Data) error{
		"least squares": func(d regress.Data) error { _, err := regress.LeastSquares(d); return err },
		"logistic":      func(d regress.Data) error { _, err := regress.Logistic(d); return err },
		"Poisson":       func(d regress.Data) error { _, err := regress.Poisson(d); return err },
		"multinomial":   func(d regress.Data) error { _, err := regress.Multinomial(d); return err },
	}
	for name, c := range map[string]struct {
		spoil func(*regress.Data)
		want  error
	}{
		"no rows":       {func(d *regress.Data) { d.Y = nil }, stats.ErrEmpty},
		"no columns":    {func(d *regress.Data) { d.Columns, d.Names = nil, nil }, stats.ErrEmpty},
		"no names":      {func(d *regress.Data) { d.Names = nil }, stats.ErrLength},
		"short column":  {func(d *regress.Data) { d.Columns[2] = d.Columns[2][1:] }, stats.ErrLength},
		"short weights": {func(d *regress.Data) { d.Weights = []float64{1} }, stats.ErrLength},
		"short offset":  {func(d *regress.Data) { d.Offset = []float64{1} }, stats.ErrLength},
		"NaN outcome":   {func(d *regress.Data) { d.Y[0] = math.NaN() }, stats.ErrNotFinite},
		"NaN column":    {func(d *regress.Data) { d.Columns[1][0] = math.NaN() }, stats.ErrNotFinite},
		"zero weight":   {func(d *regress.Data) { d.Weights = make([]float64, 40) }, stats.ErrRange},
		"copied column": {func(d *regress.Data) { copy(d.Columns[2], d.Columns[1]) }, stats.ErrCollinear},
		"few rows":      {func(d *regress.Data) { *d, _ = d.Rows([]int{0, 1, 2}) }, stats.ErrTooFew},
	} {
		for model, fit := range models {
			d := good()
			c.spoil(&d)
			if err := fit(d); !errors.Is(err, c.want) {
				t.Errorf("%s, %s: error %v, want %v", model, name, err, c.want)
			}
		}
	}
	all := func(v float64) func(*regress.Data) {
		return func(d *regress.Data) {
			for i := range d.Y {
				d.Y[i] = v
			}
		}
	}
	// told makes the outcome known from the second column, or from one value of it.
	told := func(both bool) func(*regress.Data) {
		return func(d *regress.Data) {
			for i, x := range d.Columns[1] {
				if both || x == 1 {
					d.Y[i] = x
				}
			}
			d.Y[0] = d.Columns[1][0]
		}
	}
	for _, c := range []struct {
		model, name string
		spoil       func(*regress.Data)
		want        error
		mention     string
	}{
		{"least squares", "constant outcome", all(3), stats.ErrNoVariation, ""},
		{"logistic", "no events", all(0), stats.ErrNoEvents, ""},
		{"logistic", "only events", all(1), stats.ErrNoVariation, ""},
		{"logistic", "outcome 2", all(2), stats.ErrRange, ""},
		{"logistic", "complete separation", told(true), stats.ErrSeparation, "treated"},
		{"logistic", "separation of one group", told(false), stats.ErrSeparation, "treated"},
		{"Poisson", "no events", all(0), stats.ErrNoEvents, ""},
		{"Poisson", "negative count", all(-1), stats.ErrRange, ""},
		{"Poisson", "no events in one group", told(true), stats.ErrSeparation, ""},
		{"multinomial", "one kind", all(0), stats.ErrOneGroup, ""},
		{"multinomial", "a kind missing", all(2), stats.ErrNoEvents, ""},
		{"multinomial", "half a kind", all(0.5), stats.ErrRange, ""},
		{"multinomial", "separation", told(true), stats.ErrSeparation, "treated"},
		{"multinomial", "an offset", func(d *regress.Data) { d.Offset = make([]float64, 40) }, stats.ErrRange, ""},
	} {
		d := good()
		c.spoil(&d)
		err := models[c.model](d)
		if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.mention) {
			t.Errorf("%s, %s: error %v, want %v naming %q", c.model, c.name, err, c.want, c.mention)
		}
	}
}

// Data that are hard without being wrong: large and small units, a far outlier,
// a count of millions, rates near zero.
func TestHardDataIsAnswered(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	d := cohort(rng, 200)
	for i := range d.Columns[2] {
		d.Columns[2][i] = 1e6 + 1e-2*d.Columns[2][i]*1e4
	}
	d.Columns[2][7] = 1e6 + 5e3
	m := must[*regress.Model](t)(regress.Logistic(d))
	counts := cohort(rng, 50)
	for i := range counts.Y {
		counts.Y[i] = math.Floor(1e7 * rng.Float64())
	}
	p := must[*regress.Model](t)(regress.Poisson(counts))
	counts.Y = make([]float64, 50)
	counts.Y[3], counts.Y[9], counts.Y[30] = 1, 1, 1
	counts.Columns, counts.Names, counts.Offset = counts.Columns[:1], counts.Names[:1], make([]float64, 50)
	for i := range counts.Offset {
		counts.Offset[i] = 20
	}
	r := must[*regress.Model](t)(regress.Poisson(counts))
	for _, model := range []*regress.Model{m, p, r} {
		for j := range model.Coef {
			if math.IsNaN(model.Coef[j]+model.SE[j]) || model.SE[j] <= 0 {
				t.Errorf("coefficient %v, error %v", model.Coef[j], model.SE[j])
			}
		}
	}
	if math.Abs(r.Coef[0]-(math.Log(0.06)-20)) > 1e-9 {
		t.Errorf("log rate %v", r.Coef[0])
	}
}

func TestInferenceRefuses(t *testing.T) {
	d := cohort(rand.New(rand.NewPCG(2, 2)), 40)
	m := must[*regress.Model](t)(regress.Logistic(d))
	c := m.ModelBased()
	cluster := make([]int, 40)
	cluster[0] = 1
	clustered := must[*regress.Covariance](t)(m.Clustered(regress.CR0, cluster))
	// The one treated row of a model of its own is fitted exactly.
	alone := regress.Data{Y: []float64{1, 2, 3, 5}, Columns: [][]float64{ones(4), {0, 0, 0, 1}}, Names: []string{"constant", "alone"}}
	exact := must[*regress.Model](t)(regress.LeastSquares(alone))
	multi := must[*regress.MultinomialModel](t)(regress.Multinomial(d))
	short := scenarios(d)
	short[1].Columns = [][]float64{{1}, {1}, {1}}
	standardised := must[*regress.Standardised](t)(m.Standardise(c, 0.95, scenarios(d)...))
	for name, pair := range map[string]struct {
		call func() error
		want error
	}{
		"one cluster":     {func() error { _, err := m.Clustered(regress.CR2, make([]int, 40)); return err }, stats.ErrOneGroup},
		"short cluster":   {func() error { _, err := m.Clustered(regress.CR2, []int{1}); return err }, stats.ErrLength},
		"unknown CR":      {func() error { _, err := m.Clustered(9, cluster); return err }, stats.ErrRange},
		"unknown HC":      {func() error { _, err := m.Heteroscedastic(9); return err }, stats.ErrRange},
		"leverage one":    {func() error { _, err := exact.Heteroscedastic(regress.HC3); return err }, stats.ErrTooFew},
		"short weights":   {func() error { _, err := m.Combine([]float64{1}, c, 0.95); return err }, stats.ErrLength},
		"NaN weights":     {func() error { _, err := m.Combine([]float64{1, math.NaN(), 1}, c, 0.95); return err }, stats.ErrNotFinite},
		"zero weights":    {func() error { _, err := m.Combine(make([]float64, 3), c, 0.95); return err }, stats.ErrNoVariation},
		"level 0":         {func() error { _, err := m.Combine(ones(3), c, 0); return err }, stats.ErrRange},
		"no joint rows":   {func() error { _, err := m.Wald(nil, c); return err }, stats.ErrEmpty},
		"same rows twice": {func() error { _, err := m.Wald([][]float64{{0, 1, 0}, {0, 2, 0}}, c); return err }, stats.ErrCollinear},
		"two clusters":    {func() error { _, err := m.Wald([][]float64{{0, 1, 0}, {0, 0, 1}}, clustered); return err }, stats.ErrCollinear},
		"short joint row": {func() error { _, err := m.Wald([][]float64{{0, 1}}, c); return err }, stats.ErrLength},
		"no scenarios":    {func() error { _, err := m.Standardise(c, 0.95); return err }, stats.ErrEmpty},
		"level 2":         {func() error { _, err := m.Standardise(c, 2, scenarios(d)...); return err }, stats.ErrRange},
		"other persons":   {func() error { _, err := m.Standardise(c, 0.95, short...); return err }, stats.ErrLength},
		"other rows": {func() error {
			_, err := m.Standardise(clustered, 0.95, regress.Scenario{Columns: [][]float64{{1}, {1}, {1}}})
			return err
		}, stats.ErrLength},
		"no such scenario":     {func() error { _, err := standardised.Difference(0, 2); return err }, stats.ErrRange},
		"no such ratio":        {func() error { _, err := standardised.Ratio(-1, 0); return err }, stats.ErrRange},
		"predict: columns":     {func() error { _, err := m.Predict([][]float64{{1}}, nil); return err }, stats.ErrLength},
		"predict: nothing":     {func() error { _, err := m.Predict([][]float64{{}, {}, {}}, nil); return err }, stats.ErrEmpty},
		"predict: NaN":         {func() error { _, err := m.Predict([][]float64{{1}, {1}, {math.NaN()}}, nil); return err }, stats.ErrNotFinite},
		"predict: offset":      {func() error { _, err := m.Predict([][]float64{{1}, {1}, {1}}, []float64{}); return err }, stats.ErrLength},
		"kinds: columns":       {func() error { _, err := multi.Predict([][]float64{{1}}); return err }, stats.ErrLength},
		"kinds: short column":  {func() error { _, err := multi.Predict([][]float64{{1}, {}, {1}}); return err }, stats.ErrLength},
		"kinds: nothing":       {func() error { _, err := multi.Predict([][]float64{{}, {}, {}}); return err }, stats.ErrEmpty},
		"ratio of a mean <= 0": {func() error { return negativeRatio(t) }, stats.ErrRange},
	} {
		if err := pair.call(); !errors.Is(err, pair.want) {
			t.Errorf("%s: error %v, want %v", name, err, pair.want)
		}
	}
}

func negativeRatio(t *testing.T) error {
	t.Helper()
	m := must[*regress.Model](t)(regress.LeastSquares(regress.Data{Y: []float64{-1, -2, 1}, Columns: [][]float64{ones(3)}, Names: []string{"mean"}}))
	s := must[*regress.Standardised](t)(m.Standardise(m.ModelBased(), 0.95, regress.Scenario{Columns: [][]float64{ones(3)}}))
	_, err := s.Ratio(0, 0)
	return err
}
