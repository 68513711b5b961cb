package calibrate

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rule is by what a figure fails. Nothing fails by chance alone: the exact
// interval of what was counted must lie wholly outside.
type Rule struct {
	Level float64 // of the exact intervals
	Bias  float64 // standard errors that the mean of the replicates may be off by chance
}

// Full is the rule; Smoke is for the few replicates of a test.
var (
	Full  = Rule{Level: 0.99, Bias: 2.6}
	Smoke = Rule{Level: 0.999, Bias: 3.3}
)

// Between what coverage and rejection rate must lie, and how far, in standard
// errors of a figure, its mean may lie from the truth.
const (
	coverLow, coverHigh, coverExact    = 0.93, 0.97, 0.95
	rejectLow, rejectHigh, rejectExact = 0.04, 0.06, 0.05
	biasLimit                          = 0.1
)

// Share is a share with its exact interval (Clopper and Pearson 1934).
type Share struct {
	Count, N  int
	Low, High float64
}

// Value is the share; NaN of nothing.
func (s Share) Value() float64 { return float64(s.Count) / float64(s.N) }

func shareOf(count, n int, level float64) Share {
	s := Share{Count: count, N: n, High: 1}
	k, rest := float64(count), float64(n-count)
	if count > 0 {
		s.Low = distuv.Beta{Alpha: k, Beta: rest + 1}.Quantile((1 - level) / 2)
	}
	if count < n {
		s.High = distuv.Beta{Alpha: k + 1, Beta: rest}.Quantile((1 + level) / 2)
	}
	return s
}

// Sees says what the rule can see in n replicates: the largest number of
// intervals that hold the truth with which a figure still fails, the same for
// exact limits, and the smallest number of rejections, where there is nothing to
// find, with which it fails.
func (r Rule) Sees(n int) (covers, exact, rejects int) {
	rejects = n + 1
	for k := range n + 1 {
		s := shareOf(k, n, r.Level)
		if s.High < coverLow {
			covers = k
		}
		if s.High < coverExact {
			exact = k
		}
		if s.Low > rejectHigh {
			rejects = min(rejects, k)
		}
	}
	return covers, exact, rejects
}

// Judged is what the replicates of a condition say of a figure.
type Judged struct {
	Condition  string
	Figure     string
	Replicates int
	Withheld   int // replicates that show nothing
	Bare       int // that show a value without an interval
	Truth      float64
	TruthSE    float64
	Mean       float64 // of the values shown
	SE         float64 // their standard deviation
	Off        float64 // bias over SE
	Width      float64 // mean, of the intervals
	Cover      Share
	Reject     Share // of intervals that leave out 0; N 0 where nobody tests
	NoEffect   bool  // there is nothing to find: Reject is held to its level, else it is the power
	Fails      []string
}

// Verdict is one word and the reasons.
func (j Judged) Verdict() string {
	switch {
	case len(j.Fails) > 0:
		return "fails: " + strings.Join(j.Fails, "; ")
	case j.Cover.N == 0:
		return "never shown"
	default:
		return "holds"
	}
}

// Judge counts and applies the rule. The truth is in the unit and direction of
// the figure.
func (r Rule) Judge(c Condition, f Figure, truth, truthSE float64, outcomes []Outcome) Judged {
	j := Judged{Condition: c.Name, Figure: f.Name, Replicates: len(outcomes), Truth: truth, TruthSE: truthSE, NoEffect: c.NoEffect}
	var sum, squares float64
	covered, rejected, shown, values := 0, 0, 0, 0
	for _, o := range outcomes {
		switch o.State {
		case Withheld:
			j.Withheld++
			continue
		case Bare:
			j.Bare++
		case Shown:
			shown++
			j.Width += o.High - o.Low
			if o.Low <= truth && truth <= o.High {
				covered++
			}
			if o.Low > 0 || o.High < 0 {
				rejected++
			}
		}
		values++
		sum += o.Value - truth // about the truth: values far from 0 lose no digits
		squares += (o.Value - truth) * (o.Value - truth)
	}
	j.Width /= float64(shown)
	bias := sum / float64(values)
	j.Mean = truth + bias
	j.SE = math.Sqrt((squares - sum*bias) / float64(values-1))
	j.Off = bias / j.SE
	j.Cover = shareOf(covered, shown, r.Level)
	if f.Tested {
		j.Reject = shareOf(rejected, shown, r.Level)
	}
	j.Fails = r.fails(j, f, values)
	return j
}

func (r Rule) fails(j Judged, f Figure, values int) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	if j.Cover.N > 0 {
		switch c := j.Cover; {
		case f.Exact && c.High < coverExact, !f.Exact && c.High < coverLow:
			say("covers too rarely")
		case !f.Exact && c.Low > coverHigh:
			say("covers too often")
		}
	}
	if values > 1 && math.Abs(j.Off)-r.Bias/math.Sqrt(float64(values)) > biasLimit {
		say("off by %+.2f SE", j.Off)
	}
	if j.NoEffect && j.Reject.N > 0 {
		switch c := j.Reject; {
		case f.Exact && c.Low > rejectExact, !f.Exact && c.Low > rejectHigh:
			say("rejects too often")
		case !f.Exact && c.High < rejectLow:
			say("rejects too rarely")
		}
	}
	return list
}
