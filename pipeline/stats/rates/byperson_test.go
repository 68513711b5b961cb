package rates

import (
	"errors"
	"math"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

func TestByPersonAgreesWithR(t *testing.T) {
	a := testkit.Reference(t, "rates/byperson")
	agrees := func(set string, e stats.Estimate, err error) {
		must(t, err)
		for field, got := range map[string]float64{"value": e.Value, "se": e.SE, "low": e.Low, "high": e.High} {
			testkit.AlmostEqual(t, set+" "+field, got, a.Float(set+"."+field), exact)
		}
	}
	for _, set := range []string{"bacteria", "epil", "menarche", "quine"} {
		file := "byperson_" + set + ".csv"
		e, err := ShareByPerson(whole(a.Column(file, "with")), whole(a.Column(file, "of")), 0.95)
		agrees(set, e, err)
	}
	for _, set := range []string{"insurance", "cgd", "ships"} {
		file := "byperson_" + set + ".csv"
		e, err := RatioByPerson(a.Column(file, "above"), a.Column(file, "below"), 0.95)
		agrees(set, e, err)
	}
}

// Four persons with 1 of 2, 0 of 2, 2 of 4 and 0 of 2 trials: 3 of 10. Scores
// with - 0.3 of: 0.4, -0.6, 0.8, -0.6, squares 1.52; variance 1.52 x 4/3 / 100 =
// 0.0202667; independent trials would have 0.3 x 0.7 / 10 = 0.021, less than one
// trial more, so all ten count.
func TestShareByPersonByHand(t *testing.T) {
	e, err := ShareByPerson([]int{1, 0, 2, 0, 0}, []int{2, 2, 4, 2, 0}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "value", e.Value, 0.3, 1e-15)
	testkit.AlmostEqual(t, "se", e.SE, math.Sqrt(1.52*4/3)/10, 1e-14)
	if e.N != 4 || e.Events != 3 {
		t.Errorf("persons %d, events %d", e.N, e.Events)
	}
	// z = t(3) = 3.182446: (0.3 + z^2/20 -+ z sqrt(0.021 + z^2/400)) / (1 + z^2/10)
	z := 3.182446305284263
	half, middle, scale := z*math.Sqrt(0.021+z*z/400), 0.3+z*z/20, 1+z*z/10
	testkit.AlmostEqual(t, "low", e.Low, (middle-half)/scale, 1e-12)
	testkit.AlmostEqual(t, "high", e.High, (middle+half)/scale, 1e-12)
}

// Whoever never stops, and whoever always does: two persons carry as much as
// 0.25 / (2 x 2.5^2 x 2 / 100) = 1 trial.
func TestTrialsOfOnePersonAreNoPersons(t *testing.T) {
	e, err := ShareByPerson([]int{5, 0}, []int{5, 5}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "se", e.SE, 0.5, 1e-14)
	if e.Low > 0.01 || e.High < 0.99 {
		t.Errorf("two persons say no more than %v to %v", e.Low, e.High)
	}
}

func TestNoneOfManyTrialsCountsPersons(t *testing.T) {
	few, err := ShareByPerson([]int{0, 0, 0}, []int{100, 100, 100}, 0.95)
	must(t, err)
	one, err := ShareByPerson([]int{0, 0, 0}, []int{1, 1, 1}, 0.95)
	must(t, err)
	if few.Low != 0 || few.High != one.High || few.Warnings[0].Code != "all-or-none" {
		t.Errorf("%+v and %+v", few, one)
	}
	all, err := ShareByPerson([]int{100, 100, 100}, []int{100, 100, 100}, 0.95)
	must(t, err)
	if all.High != 1 || math.Abs(all.Low-(1-few.High)) > 1e-15 {
		t.Errorf("all: %+v", all)
	}
}

// 3 + 1 over 4 + 4: 0.5. Scores 1 and -1; SE sqrt(2 x 2)/8 = 0.25; t(1) = 12.7062.
func TestRatioByPersonByHand(t *testing.T) {
	e, err := RatioByPerson([]float64{3, 1, 0}, []float64{4, 4, 0}, 0.95)
	must(t, err)
	testkit.AlmostEqual(t, "value", e.Value, 0.5, 1e-15)
	testkit.AlmostEqual(t, "se", e.SE, 0.25, 1e-15)
	testkit.AlmostEqual(t, "high", e.High, 0.5*math.Exp(12.706204736174698*0.5), 1e-9)
	testkit.AlmostEqual(t, "low", e.Low, 0.5*math.Exp(-12.706204736174698*0.5), 1e-9)
	if e.N != 2 {
		t.Errorf("%d persons", e.N)
	}
	same, err := RatioByPerson([]float64{2, 4}, []float64{4, 8}, 0.95)
	must(t, err)
	if same.Low != 0.5 || same.High != 0.5 || len(same.Warnings) != 1 {
		t.Errorf("all alike: %+v", same)
	}
	none, err := RatioByPerson([]float64{0, 0}, []float64{4, 8}, 0.95)
	must(t, err)
	if none.Value != 0 || none.High != 0 || len(none.Warnings) != 1 {
		t.Errorf("nothing done: %+v", none)
	}
}

func TestByPersonRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		with, of []int
		level    float64
		want     error
	}{
		"no trial":        {[]int{0}, []int{0}, 0.95, stats.ErrEmpty},
		"lengths":         {[]int{0}, []int{1, 1}, 0.95, stats.ErrLength},
		"more than of":    {[]int{2, 0}, []int{1, 1}, 0.95, stats.ErrRange},
		"below none":      {[]int{-1, 0}, []int{1, 1}, 0.95, stats.ErrRange},
		"one person":      {[]int{1, 0}, []int{2, 0}, 0.95, stats.ErrTooFew},
		"level":           {[]int{1, 0}, []int{2, 1}, 1, stats.ErrRange},
		"nobody":          {nil, nil, 0.95, stats.ErrEmpty},
		"one person, all": {[]int{2}, []int{2}, 0.95, stats.ErrTooFew},
	} {
		if _, err := ShareByPerson(c.with, c.of, c.level); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, c := range map[string]struct {
		above, below []float64
		level        float64
		want         error
	}{
		"nobody":     {nil, nil, 0.95, stats.ErrEmpty},
		"nothing":    {[]float64{0, 0}, []float64{0, 0}, 0.95, stats.ErrEmpty},
		"lengths":    {[]float64{1}, []float64{1, 1}, 0.95, stats.ErrLength},
		"no number":  {[]float64{math.NaN(), 1}, []float64{1, 1}, 0.95, stats.ErrNotFinite},
		"infinite":   {[]float64{1, 1}, []float64{1, math.Inf(1)}, 0.95, stats.ErrNotFinite},
		"negative":   {[]float64{-1, 1}, []float64{1, 1}, 0.95, stats.ErrRange},
		"over none":  {[]float64{1, 1}, []float64{0, 0}, 0.95, stats.ErrRange},
		"one person": {[]float64{1, 0}, []float64{1, 0}, 0.95, stats.ErrTooFew},
		"level":      {[]float64{1, 1}, []float64{1, 1}, 0, stats.ErrRange},
	} {
		if _, err := RatioByPerson(c.above, c.below, c.level); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Order, and persons without trials, change nothing; inputs stay as they were.
func TestByPersonProperties(t *testing.T) {
	with, of := []int{3, 0, 2, 1}, []int{6, 4, 2, 9}
	a, err := ShareByPerson(with, of, 0.95)
	must(t, err)
	b, err := ShareByPerson([]int{1, 0, 2, 0, 3}, []int{9, 0, 2, 4, 6}, 0.95)
	must(t, err)
	if a.Value != b.Value || math.Abs(a.SE-b.SE) > 1e-15 || math.Abs(a.Low-b.Low) > 1e-15 || a.N != b.N {
		t.Errorf("%+v and %+v", a, b)
	}
	if with[0] != 3 || of[3] != 9 {
		t.Error("the input was changed")
	}
}
