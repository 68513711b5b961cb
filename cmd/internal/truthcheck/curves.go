// Package truthcheck holds what the program finds in a made-up practice against
// what is known of it: the curves against the truth they estimate, and the
// findings against the list of what was planted.
package truthcheck

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"evenlimb/pipeline/result"
	"evenlimb/seeds/practice"
)

// Limit is how many standard errors an estimate may lie from its truth.
const Limit = 4

// leastEpisodes is the number at risk at the start from which a type's curve is
// compared.
const leastEpisodes = 100

// curveWeeks are the weeks at which curves are compared.
var curveWeeks = []int{6, 12, 26}

// ErrTooSmall says that no type has enough episodes for its curve to be compared.
var ErrTooSmall = errors.New("compare curves: no type has 100 episodes at risk and a known truth; make the practice larger")

// Point is one estimate beside its truth.
type Point struct {
	Figure   string
	Value    float64
	Truth    float64
	StdError float64 // taken at the truth
}

// Off is how many standard errors the estimate lies from its truth.
func (p Point) Off() float64 { return (p.Value - p.Truth) / p.StdError }

// Agrees says whether that is within Limit. Where fewer than 5 people are
// expected to have returned, or not to have, one of them can lie further off:
// then the estimate agrees when the exact binomial probability of one as far
// out, or further, is not below that of Limit.
func (p Point) Agrees() bool {
	if math.Abs(p.Off()) <= Limit {
		return true
	}
	n := p.Truth * (1 - p.Truth) / (p.StdError * p.StdError) // people who would give this error
	share, truth := p.Value, p.Truth
	if share < truth {
		share, truth = 1-share, 1-truth
	}
	if n*truth >= 5 || share >= 1 {
		return false
	}
	tail := mathext.RegIncBeta(n*share, n*(1-share)+1, truth)
	return tail >= distuv.UnitNormal.Survival(Limit)
}

// String says it in a line.
func (p Point) String() string {
	return fmt.Sprintf("%s is %.4f, the truth is %.4f: %.1f standard errors off", p.Figure, p.Value, p.Truth, p.Off())
}

// CompareCurves compares the share returned by week 6, 12 and 26 of every type
// of the whole practice that has 100 episodes at risk at the start. The standard
// error is that of the Aalen-Johansen estimator by the delta method (Marubini
// and Valsecchi 1995, section 10.2) with the true weekly hazards and the
// observed numbers at risk, so that a wrong estimate cannot widen its own
// margin. A week before which nobody is left at risk is not compared: nothing
// was watched there; nor one by which nobody ever returns. When there is nothing
// to compare it fails with ErrTooSmall.
func CompareCurves(truth *practice.Truth, figures []result.Figure) ([]Point, error) {
	curves := map[string]map[string]float64{} // by type, then statistic@week
	pictures := map[string]string{}
	var types []string
	for _, f := range figures {
		if f.Question != "return" || f.InjuryType == "" || f.Site != "" || f.Value == nil {
			continue
		}
		picture, statistic, x, err := result.SplitID(f.ID)
		if err != nil {
			return nil, fmt.Errorf("compare curves: %w", err)
		}
		if curves[f.InjuryType] == nil {
			curves[f.InjuryType] = map[string]float64{}
			types = append(types, f.InjuryType)
		}
		curves[f.InjuryType][statistic+"@"+x] = *f.Value
		pictures[f.InjuryType] = picture
	}
	var points []Point
	for _, injury := range types {
		known := trueCurve(truth, injury)
		if known == nil || curves[injury]["at_risk@w0"] < leastEpisodes {
			continue
		}
		for _, week := range curveWeeks {
			value, ok := curves[injury][at("cumulative", week)]
			if !ok {
				continue
			}
			if known[week].returned == 0 {
				continue
			}
			if left, ok := curves[injury][at("at_risk", week-1)]; ok && left == 0 {
				continue
			}
			se := standardError(known, func(week int) float64 { return curves[injury][at("at_risk", week)] }, week)
			if !(se > 0) || math.IsInf(se, 0) {
				return nil, fmt.Errorf("compare curves: %s: the numbers at risk up to week %d are not all there", injury, week)
			}
			points = append(points, Point{
				Figure: result.ID(pictures[injury], "cumulative", fmt.Sprintf("w%d", week)), Value: value, Truth: known[week].returned,
				StdError: math.Hypot(se, known[week].se),
			})
		}
	}
	if len(points) == 0 {
		return nil, ErrTooSmall
	}
	return points, nil
}

func at(statistic string, week int) string { return fmt.Sprintf("%s@w%d", statistic, week) }

// knot is the truth at a week end.
type knot struct{ returned, ended, se float64 }

// Comparable says whether any type has enough episodes for CompareCurves, so
// that nobody computes a truth that nothing is held against.
func Comparable(figures []result.Figure) bool {
	return slices.ContainsFunc(figures, func(f result.Figure) bool {
		return f.Question == "return" && f.InjuryType != "" && f.Site == "" && f.Statistic == "at_risk" && f.Value != nil && *f.Value >= leastEpisodes
	})
}

// trueCurve returns the truth at week ends 0 to 26; nil for a type the file
// does not know.
func trueCurve(truth *practice.Truth, injury string) []knot {
	var curve []knot
	for week := range curveWeeks[len(curveWeeks)-1] + 1 {
		returned, known := truth.Find("return." + injury + "/" + at("cumulative", week))
		ended, both := truth.Find("return." + injury + "/" + at("competing", week))
		if !known || !both {
			return nil
		}
		curve = append(curve, knot{returned.Value, ended.Value, returned.SE})
	}
	return curve
}

// standardError is that of the share returned by a week end. Those who left in
// the course of a week without an event count half.
func standardError(curve []knot, atRisk func(week int) float64, by int) float64 {
	variance := 0.0
	for week := range by {
		here, next := curve[week], curve[week+1]
		free := 1 - here.returned - here.ended
		back := (next.returned - here.returned) / free
		either := back + (next.ended-here.ended)/free
		risk := atRisk(week)
		left := math.Max(0, risk-atRisk(week+1)-risk*either)
		risk -= left / 2
		rest := curve[by].returned - next.returned
		variance += rest * rest * either / (risk * (1 - either))
		variance += free * free * back * (1 - back) / risk
		variance -= 2 * rest * free * back / risk
	}
	return math.Sqrt(variance)
}
