package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/testkit"
)

// Group 0: event day 1, censored day 3. Group 1: events days 2 and 4.
//
//	day 1: 2 + 2 at risk: expected 1/2 of the event, variance 1/4
//	day 2: 1 + 2 at risk: expected 1/3, variance 2/9
//	day 4: 0 + 1 at risk: expected 0, variance 0
//
// Observed 1, expected 5/6: chi-square = (1/6)^2 / (17/36) = 1/17.
func TestLogRankByHand(t *testing.T) {
	in := Data{Time: []float64{1, 3, 2, 4}, Event: []int{1, 0, 1, 1}}
	got, err := LogRank(in, []int{0, 0, 1, 1}, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "observed", got.Observed, []float64{1, 2}, 0)
	testkit.AllAlmostEqual(t, "expected", got.Expected, []float64{5. / 6, 13. / 6}, 1e-14)
	testkit.AlmostEqual(t, "chi-square", got.Statistic, 1./17, 1e-12)
	// For one degree of freedom P = erfc(sqrt(x/2)).
	testkit.AlmostEqual(t, "p", got.P, math.Erfc(math.Sqrt(1./34)), 1e-12)
	if got.DF != 1 || got.N != 4 || got.Events != 3 {
		t.Errorf("%+v", got)
	}
}

// Without other ends and censoring the subdistribution is the distribution:
// Gray's score is then observed less expected of the log-rank test. Days 1..4
// in turn of groups 0, 1, 0, 1: expected of group 0 is 1/2 + 1/3 + 1/2 = 4/3.
func TestGrayByHand(t *testing.T) {
	in := Data{Time: []float64{1, 2, 3, 4}, Event: []int{1, 1, 1, 1}}
	got, err := GrayTest(in, []int{0, 1, 0, 1}, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AllAlmostEqual(t, "observed", got.Observed, []float64{2, 2}, 0)
	testkit.AllAlmostEqual(t, "expected", got.Expected, []float64{4. / 3, 8. / 3}, 1e-14)
}

func TestGroupProperties(t *testing.T) {
	d := made(5, 240, 2, true)
	d.Weight, d.Person = nil, nil
	r := rand.New(rand.NewPCG(6, 6))
	group, strata := make([]int, 240), make([]int, 240)
	for i := range group {
		group[i], strata[i] = r.IntN(3), r.IntN(4)
	}
	single := clone(d)
	for i, k := range single.Event {
		single.Event[i] = min(k, 1)
	}
	before := clone(single)
	logRank := func(d Data, group []int, n int, strata []int) Test {
		t.Helper()
		got, err := LogRank(d, group, n, strata)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	base := logRank(single, group, 3, strata)
	if !reflect.DeepEqual(single, before) {
		t.Fatal("inputs were changed")
	}
	testkit.AlmostEqual(t, "observed and expected sum alike", sum(base.Expected), sum(base.Observed), 1e-10)
	extra := logRank(single, group, 5, strata)
	testkit.AlmostEqual(t, "empty groups", extra.Statistic, base.Statistic, 1e-9)
	if extra.DF != base.DF {
		t.Errorf("empty groups cost degrees of freedom: %d", extra.DF)
	}
	shuffled, order := Data{}, r.Perm(240)
	var g2, s2 []int
	for _, i := range order {
		shuffled.Time = append(shuffled.Time, single.Time[i])
		shuffled.Entry = append(shuffled.Entry, single.Entry[i])
		shuffled.Event = append(shuffled.Event, single.Event[i])
		g2, s2 = append(g2, group[i]), append(s2, strata[i])
	}
	testkit.AlmostEqual(t, "row order", logRank(shuffled, g2, 3, s2).Statistic, base.Statistic, 1e-10)
	renamed := slices.Clone(strata)
	for i := range renamed {
		renamed[i] = 100 - 7*renamed[i]
	}
	testkit.AlmostEqual(t, "names of strata", logRank(single, group, 3, renamed).Statistic, base.Statistic, 1e-10)

	d.Entry, shuffled = nil, Data{}
	gray, err := GrayTest(d, group, 3, strata)
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range order {
		shuffled.Time, shuffled.Event = append(shuffled.Time, d.Time[i]), append(shuffled.Event, d.Event[i])
	}
	again, err := GrayTest(shuffled, g2, 4, s2)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "Gray, row order and an empty group", again.Statistic, gray.Statistic, 1e-9)
}

// Small simulation, 600 trials of 2 x 40 persons with the same rates: a test at
// 5 % rejects 30 times on average, and between 14 and 48 times in all but one
// of a thousand runs (Monte Carlo error 5.3).
func TestGroupTestsHoldTheirLevel(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	rejected := map[string]int{}
	inside := 0
	for range 600 {
		in, single := Data{}, Data{}
		var group []int
		for i := range 80 {
			event, other, end := 100*r.ExpFloat64(), 250*r.ExpFloat64(), 50+100*r.Float64()
			time, code := math.Ceil(math.Min(event, math.Min(other, end))), 0
			switch {
			case event < other && event < end:
				code = 1
			case other < end:
				code = 2
			}
			in.Time, in.Event = append(in.Time, time), append(in.Event, code)
			single.Event = append(single.Event, code&1)
			group = append(group, i%2)
		}
		single.Time = in.Time
		lr, err := LogRank(single, group, 2, nil)
		if err != nil {
			t.Fatal(err)
		}
		gray, err := GrayTest(in, group, 2, nil)
		if err != nil {
			t.Fatal(err)
		}
		if lr.P < 0.05 {
			rejected["log-rank"]++
		}
		if gray.P < 0.05 {
			rejected["Gray"]++
		}
		// Truth: the event comes first by day 60 with probability
		// (1/100)/(1/100+1/250) (1 - exp(-60 (1/100 + 1/250))), less censoring of none before day 50.
		curves := mustAJ(t, in, 2, Options{})
		truth := 0.01 / 0.014 * -math.Expm1(-60*0.014)
		if e := curves[1].At(60); e.Low <= truth && truth <= e.High {
			inside++
		}
	}
	for name, n := range rejected {
		if n < 14 || n > 48 {
			t.Errorf("%s rejects %d of 600 true hypotheses", name, n)
		}
	}
	// 95 % of 600 is 570, Monte Carlo error 5.3.
	if inside < 550 || inside > 590 {
		t.Errorf("%d of 600 intervals hold the truth", inside)
	}
}

func TestGroupRefusals(t *testing.T) {
	in := Data{Time: []float64{1, 2, 3, 4}, Event: []int{1, 1, 0, 1}}
	group := []int{0, 1, 0, 1}
	type test func(Data, []int, int, []int) (Test, error)
	for name, run := range map[string]test{"log-rank": LogRank, "Gray": GrayTest} {
		check := func(what string, want error, d Data, group []int, n int, strata []int) {
			t.Helper()
			if _, err := run(d, group, n, strata); !errors.Is(err, want) {
				t.Errorf("%s, %s: %v", name, what, err)
			}
		}
		check("no rows", stats.ErrEmpty, Data{}, nil, 2, nil)
		check("one group", stats.ErrOneGroup, in, []int{1, 1, 1, 1}, 2, nil)
		check("unknown group", stats.ErrRange, in, []int{0, 1, 2, 1}, 2, nil)
		check("group length", stats.ErrLength, in, group[:3], 2, nil)
		check("strata length", stats.ErrLength, in, group, 2, group[:3])
		check("no events", stats.ErrNoEvents, Data{Time: in.Time, Event: make([]int, 4)}, group, 2, nil)
		check("weights", stats.ErrRange, Data{Time: in.Time, Event: in.Event, Weight: in.Time}, group, 2, nil)
		check("groups never at risk together", stats.ErrNoVariation, in, group, 2, group)
	}
	late := Data{Time: in.Time, Event: in.Event, Entry: []float64{0, 0, 1, 1}}
	if _, err := GrayTest(late, group, 2, nil); !errors.Is(err, stats.ErrRange) {
		t.Errorf("Gray with late entry: %v", err)
	}
	if got, err := LogRank(Data{Time: []float64{5, 5, 5, 5}, Event: []int{1, 0, 1, 0}}, group, 2, nil); err != nil || math.IsNaN(got.P) {
		t.Errorf("all tied: %+v, %v", got, err)
	}
}

// Shares of 1/2 (SE sqrt(1/8)) and 1: the second has no error, the difference
// has that of the first.
func TestDifferenceByHand(t *testing.T) {
	a := mustKM(t, Data{Time: []float64{1, 3}, Event: []int{1, 0}}, Options{})
	b := mustKM(t, Data{Time: []float64{3, 3}, Event: []int{0, 0}}, Options{})
	share, err := ShareDifference(a, b, 2)
	if err != nil {
		t.Fatal(err)
	}
	testkit.AlmostEqual(t, "difference", share.Value, -0.5, 1e-14)
	testkit.AlmostEqual(t, "error", share.SE, math.Sqrt(1./8), 1e-14)
	testkit.AlmostEqual(t, "low is cut", share.Low, -1, 1e-14)
	mean, err := MeanDifference(a, b, 2)
	if err != nil {
		t.Fatal(err)
	}
	// Areas to day 2: 1 + 1/2 and 2; variance (1/2)^2 x 1/(2 x 1).
	testkit.AlmostEqual(t, "difference of means", mean.Value, -0.5, 1e-14)
	testkit.AlmostEqual(t, "its error", mean.SE, math.Sqrt(1./8), 1e-14)
	testkit.AlmostEqual(t, "high", mean.High, -0.5+1.959963984540054*math.Sqrt(1./8), 1e-14)
	if share.Level != 0.95 || mean.Level != 0.95 {
		t.Errorf("levels %v and %v", share.Level, mean.Level)
	}

	other := mustAJ(t, Data{Time: []float64{1, 3}, Event: []int{1, 0}}, 1, Options{})[1]
	if _, err := ShareDifference(a, other, 2); !errors.Is(err, stats.ErrRange) {
		t.Errorf("different causes: %v", err)
	}
	wide := mustKM(t, Data{Time: []float64{1, 3}, Event: []int{1, 0}}, Options{Level: 0.9})
	if _, err := MeanDifference(a, wide, 2); !errors.Is(err, stats.ErrRange) {
		t.Errorf("different levels: %v", err)
	}
	if _, err := ShareDifference(a, b, math.NaN()); !errors.Is(err, stats.ErrNotFinite) {
		t.Errorf("time NaN: %v", err)
	}
	if _, err := MeanDifference(a, b, -1); !errors.Is(err, stats.ErrRange) {
		t.Errorf("negative horizon: %v", err)
	}
}

// The same persons in both groups with the same course: no difference and no
// error, whereas independent groups would have one.
func TestDifferenceOfTheSamePersons(t *testing.T) {
	d := made(8, 60, 1, true)
	a, b := mustKM(t, d, Options{}), mustKM(t, d, Options{})
	share, err := ShareDifference(a, b, 30)
	if err != nil {
		t.Fatal(err)
	}
	mean, err := MeanDifference(a, b, 30)
	if err != nil {
		t.Fatal(err)
	}
	if share.SE > 1e-12 || mean.SE > 1e-10 || share.N != 30 {
		t.Errorf("errors %v and %v over %d persons, 0, 0 and 30 expected", share.SE, mean.SE, share.N)
	}
}
