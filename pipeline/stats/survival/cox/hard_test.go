package cox

import (
	"errors"
	"math"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/survival"
)

func TestSeparationIsReported(t *testing.T) {
	d := made(9, 60)
	d.Weight, d.Person, d.Strata, d.Offset, d.Entry = nil, nil, nil, nil, nil
	for i := range d.Event { // nobody with column 1 at 0 has the event
		if d.X[1][i] == 0 {
			d.Event[i] = 0
		}
	}
	for _, v := range []Variance{ModelBased, Robust, CR2} {
		m := mustFit(t, d, Options{Variance: v})
		if !slices.Equal(m.Separated, []int{1}) {
			t.Fatalf("separated %v, column 1 expected", m.Separated)
		}
		e := m.HazardRatio(1)
		if len(e.Warnings) == 0 || e.Warnings[0].Code == "" || !(e.Value > 1000) {
			t.Errorf("separation: %+v", e)
		}
		checkModel(t, "separation", m)
	}
	clean := mustFit(t, made(10, 60), Options{})
	if len(clean.Separated) != 0 {
		t.Error("separation reported where there is none")
	}
}

func checkModel(t *testing.T, name string, m *Model) {
	t.Helper()
	check := func(xs ...float64) {
		t.Helper()
		if err := stats.CheckFinite(name, xs); err != nil {
			t.Error(err)
		}
	}
	check(m.Coef...)
	check(flat(m.Cov)...)
	check(m.LogLik, m.LogLik0)
	check(m.DF...)
	for j := range m.Coef {
		a, b := m.Coefficient(j), m.HazardRatio(j)
		check(a.Value, a.Low, a.High, a.SE, b.Value, b.Low, b.High, b.SE)
	}
	if c, err := m.Concordance(); err == nil {
		check(c.Value, c.Low, c.High, c.SE)
	}
	for _, clock := range []Clock{EventShare, Identity} {
		if each, joint, err := m.Proportionality(clock); err == nil {
			check(joint.Statistic, joint.P)
			for _, test := range each {
				check(test.Statistic, test.P)
			}
		}
	}
	x := make([]float64, len(m.Coef))
	curve, err := m.Survival(x, m.layout.strata[0], []float64{0, 1, 50, 1e6})
	if err != nil {
		t.Error(err)
	}
	for _, e := range curve {
		check(e.Value, e.Low, e.High, e.SE)
	}
}

// One of two clusters holds all that is known of the column: its coefficient
// varies nowhere else.
func TestFewClustersAreReported(t *testing.T) {
	d := made(12, 60)
	d.Weight, d.Offset = nil, nil
	for i := range d.Person {
		d.Person[i] = i % 2
		d.Strata[i] = i % 2
		if i%2 == 1 {
			d.X[1][i] = 1
		}
	}
	m := mustFit(t, d, Options{Variance: CR2})
	if !slices.ContainsFunc(m.Warnings, func(w stats.Warning) bool { return w.Code == "few-clusters" }) {
		t.Errorf("warnings %v", m.Warnings)
	}
	checkModel(t, "few clusters", m)
	few := mustFit(t, byHand(), Options{})
	if len(few.Warnings) != 1 || few.Warnings[0].Code != "few-events" {
		t.Errorf("three events: warnings %v", few.Warnings)
	}
}

func TestCoxHardData(t *testing.T) {
	plain := func(time []float64, event []int, x ...[]float64) Data {
		return Data{Data: survival.Data{Time: time, Event: event}, X: x}
	}
	for name, in := range map[string]Data{
		"all tied":      plain([]float64{5, 5, 5, 5}, []int{1, 1, 1, 1}, []float64{1, 2, 3, 5}),
		"one event":     plain([]float64{1, 2, 3}, []int{0, 1, 0}, []float64{1, 2, 3}),
		"huge columns":  plain([]float64{1, 2, 3, 4}, []int{1, 1, 1, 0}, []float64{1e150, 2e150, 0, 3e150}),
		"small columns": plain([]float64{1, 2, 3, 4}, []int{1, 1, 1, 0}, []float64{1e-150, 2e-150, 0, 3e-150}),
		"far outlier":   plain([]float64{1, 2, 3, 4, 5}, []int{1, 1, 1, 0, 1}, []float64{1, 2, 0, 1e6, 1}),
	} {
		for _, v := range []Variance{ModelBased, Robust, CR2} {
			m, err := Fit(in, Options{Variance: v})
			if err != nil {
				if !errors.Is(err, stats.ErrNotConverged) && !errors.Is(err, stats.ErrNoVariation) {
					t.Errorf("%s: %v", name, err)
				}
				continue
			}
			checkModel(t, name, m)
		}
	}
}

func TestCoxRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Data)
		want   error
	}{
		"empty":                  {func(d *Data) { *d = Data{} }, stats.ErrEmpty},
		"no columns":             {func(d *Data) { d.X = nil }, stats.ErrEmpty},
		"column length":          {func(d *Data) { d.X[0] = d.X[0][:3] }, stats.ErrLength},
		"offset length":          {func(d *Data) { d.Offset = d.Offset[:3] }, stats.ErrLength},
		"strata length":          {func(d *Data) { d.Strata = d.Strata[:3] }, stats.ErrLength},
		"NaN in a column":        {func(d *Data) { d.X[0][0] = math.NaN() }, stats.ErrNotFinite},
		"infinite offset":        {func(d *Data) { d.Offset[0] = math.Inf(1) }, stats.ErrNotFinite},
		"NaN time":               {func(d *Data) { d.Time[0] = math.NaN() }, stats.ErrNotFinite},
		"negative time":          {func(d *Data) { d.Time[0] = -1 }, stats.ErrRange},
		"weight 0":               {func(d *Data) { d.Weight[0] = 0 }, stats.ErrRange},
		"event 2":                {func(d *Data) { d.Event[0] = 2 }, stats.ErrRange},
		"all censored":           {func(d *Data) { clear(d.Event) }, stats.ErrNoEvents},
		"zero variance":          {func(d *Data) { clear(d.X[0]) }, stats.ErrNoVariation},
		"constant in each set":   {func(d *Data) { d.X[0] = slices.Clone(strataOf(*d)) }, stats.ErrNoVariation},
		"collinear":              {func(d *Data) { d.X = append(d.X, slices.Clone(d.X[0])) }, stats.ErrCollinear},
		"collinear by a sum":     {func(d *Data) { d.X = append(d.X, added(d.X[0], d.X[1])) }, stats.ErrCollinear},
		"one person, robust":     {func(d *Data) { clear(d.Person) }, stats.ErrTooFew},
		"offsets beyond numbers": {func(d *Data) { d.Offset[0] = 1e5 }, stats.ErrRange},
	} {
		d := made(11, 40)
		c.change(&d)
		if _, err := Fit(d, Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, opt := range []Options{{Level: 2}, {Ties: 5}, {Variance: 7}} {
		if _, err := Fit(made(11, 40), opt); !errors.Is(err, stats.ErrRange) {
			t.Errorf("%+v: %v", opt, err)
		}
	}
	m := mustFit(t, made(11, 40), Options{})
	if _, err := m.Survival([]float64{1}, 0, nil); !errors.Is(err, stats.ErrLength) {
		t.Errorf("too few covariates: %v", err)
	}
	if _, err := m.Survival([]float64{1, math.NaN()}, 0, nil); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("NaN covariate: %v", err)
	}
	if _, err := m.Survival([]float64{1, 1}, 99, nil); !errors.Is(err, stats.ErrRange) {
		t.Errorf("unknown stratum: %v", err)
	}
	if _, _, err := m.Baseline(99); !errors.Is(err, stats.ErrRange) {
		t.Errorf("unknown stratum: %v", err)
	}
	if _, _, err := m.Proportionality(9); !errors.Is(err, stats.ErrRange) {
		t.Errorf("unknown clock: %v", err)
	}
	if _, err := Standardise(nil, nil, nil, nil, nil); !errors.Is(err, stats.ErrEmpty) {
		t.Errorf("no models: %v", err)
	}
	if _, err := Standardise([]*Model{m}, made(1, 3).X, nil, nil, []float64{1}); !errors.Is(err, stats.ErrRange) {
		t.Errorf("strata missing: %v", err)
	}
	if _, err := Standardise([]*Model{m}, made(1, 3).X, []int{0, 1, 2}, []float64{1, 0, 1}, []float64{1}); !errors.Is(err, stats.ErrRange) {
		t.Errorf("weight 0: %v", err)
	}
}

func strataOf(d Data) []float64 {
	out := make([]float64, len(d.Strata))
	for i, s := range d.Strata {
		out[i] = float64(s)
	}
	return out
}

func added(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] + b[i]
	}
	return out
}
