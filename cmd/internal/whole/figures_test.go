package whole

import (
	"fmt"
	"math"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/testkit"
)

// How far a figure may lie from R's, relative.
const (
	ofCurves = 1e-8 // sums and products over the same rows
	ofFixed  = 1e-7 // mixed models: what the fixed effects give
	ofErrors = 1e-6 // and what rests on their variances
)

// figure returns a figure of the month. One that is not there ends the test.
func (p practiceNow) figure(t *testing.T, id string) result.Figure {
	t.Helper()
	f, ok := p.figures[id]
	if !ok {
		t.Fatalf("the month has no figure %s", id)
	}
	return f
}

// near compares a number of a figure with R's; none is NaN in R's answers.
func near(t *testing.T, what string, got *float64, want, rel float64) {
	t.Helper()
	switch {
	case got == nil && math.IsNaN(want):
	case got == nil:
		t.Errorf("%s: not shown, R has %.12g", what, want)
	case math.IsNaN(want):
		t.Errorf("%s: got %.12g, R has none", what, *got)
	default:
		testkit.AlmostEqual(t, what, *got, want, rel)
	}
}

// counts compares the value of a count.
func (p practiceNow) counts(t *testing.T, id string, want float64) {
	t.Helper()
	near(t, id, p.figure(t, id).Value, want, 0)
}

// countsIfStated is counts for a figure that may be left out.
func (p practiceNow) countsIfStated(t *testing.T, id string, mayLack bool, want float64) {
	t.Helper()
	if _, ok := p.figures[id]; ok || !mayLack {
		p.counts(t, id, want)
	}
}

// points compares the figures STATISTIC@wN of a picture with R's vectors of
// values, errors and limits below a path.
func (p practiceNow) points(t *testing.T, a *testkit.Answers, picture, statistic, path string, weeks []int, ofValue, ofError float64) {
	t.Helper()
	value, se, low, high := a.Floats(path+".value"), a.Floats(path+".se"), a.Floats(path+".low"), a.Floats(path+".high")
	for i, week := range weeks {
		id := result.ID(picture, statistic, fmt.Sprintf("w%d", week))
		f := p.figures[id] // left out where nothing can be said: then R has nothing either
		near(t, id, f.Value, value[i], ofValue)
		near(t, id+" error", errorOf(f), se[i], ofError)
		near(t, id+" low", limit(f, f.Low), low[i], ofError)
		near(t, id+" high", limit(f, f.High), high[i], ofError)
	}
}

// errorOf and limit leave out what says nothing: a curve that has not begun has
// limits equal to its value and no error.
func errorOf(f result.Figure) *float64 {
	if limit(f, f.Low) == nil {
		return nil
	}
	return f.StdError
}

func limit(f result.Figure, x *float64) *float64 {
	if f.Low == nil || f.High == nil || *f.Low == *f.High {
		return nil
	}
	return x
}

// weeksTo counts from 0 by a step.
func weeksTo(last, step int) []int {
	var weeks []int
	for week := 0; week <= last; week += step {
		weeks = append(weeks, week)
	}
	return weeks
}
