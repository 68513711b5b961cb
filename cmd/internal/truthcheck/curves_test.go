package truthcheck

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/seeds/practice"
)

// course is a made-up true curve: returns level off at 0.7, other ends at 0.15.
func course(week int) (returned, ended float64) {
	left := math.Exp(-float64(week) / 9)
	return 0.7 * (1 - left), 0.15 * (1 - left)
}

func known() *practice.Truth {
	t := &practice.Truth{}
	for week := range 27 {
		returned, ended := course(week)
		for statistic, value := range map[string]float64{"cumulative": returned, "competing": ended} {
			t.Values = append(t.Values, practice.Value{Question: "return", InjuryType: "calf_strain", Statistic: statistic, X: fmt.Sprintf("w%d", week), Value: value})
		}
	}
	return t
}

// curve makes the figures of n people of whom nobody is lost, each estimate off
// its truth by a number of standard errors.
func curve(n, off float64) []result.Figure {
	var figures []result.Figure
	add := func(statistic string, week int, value float64) {
		figures = append(figures, result.Figure{
			ID:       result.ID("return.calf_strain.24m", statistic, fmt.Sprintf("w%d", week)),
			Question: "return", InjuryType: "calf_strain", Statistic: statistic, Value: &value,
		})
	}
	for week := range 27 {
		returned, ended := course(week)
		add("at_risk", week, n*(1-returned-ended))
		add("cumulative", week, returned+off*math.Sqrt(returned*(1-returned)/n))
	}
	return figures
}

// With nobody lost the share returned is binomial, whatever competes.
func TestStandardErrorWithNobodyLostIsBinomial(t *testing.T) {
	points, err := CompareCurves(known(), curve(240, 0))
	if err != nil {
		t.Fatal(err)
	}
	if len(points) != 3 {
		t.Fatalf("%d points, wanted weeks 6, 12 and 26", len(points))
	}
	for _, p := range points {
		want := math.Sqrt(p.Truth * (1 - p.Truth) / 240)
		if math.Abs(p.StdError-want) > 1e-12 {
			t.Errorf("%s: standard error %.10f, wanted %.10f", p.Figure, p.StdError, want)
		}
	}
}

func TestACurveAgreesWithinFourStandardErrors(t *testing.T) {
	for off, want := range map[float64]bool{-3.9: true, 3.9: true, 4.1: false, -4.1: false} {
		points, err := CompareCurves(known(), curve(240, off))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range points {
			if p.Agrees() != want {
				t.Errorf("%s agrees: %t, wanted %t", p, p.Agrees(), want)
			}
		}
	}
}

// One return among 140 where 0.06 are expected lies over 4 standard errors off
// and happens in one practice of twenty; four do not.
func TestFewExpectedReturnsAreJudgedExactly(t *testing.T) {
	const truth, n = 0.0004, 140
	for count, want := range map[float64]bool{0: true, 1: true, 2: true, 4: false} {
		p := Point{Value: count / n, Truth: truth, StdError: math.Sqrt(truth * (1 - truth) / n)}
		if p.Agrees() != want {
			t.Errorf("%v of %v returned: agrees %t, wanted %t", count, n, p.Agrees(), want)
		}
	}
	if p := (Point{Value: 1, Truth: 0.5, StdError: 0.05}); p.Agrees() {
		t.Errorf("%s: agrees", p)
	}
}

func TestNothingToCompareIsAnError(t *testing.T) {
	for name, figures := range map[string][]result.Figure{"no figure": nil, "too few episodes": curve(90, 0)} {
		if _, err := CompareCurves(known(), figures); err == nil || !strings.Contains(err.Error(), "larger") {
			t.Errorf("%s: error %v, wanted one that says what to do", name, err)
		}
	}
}
