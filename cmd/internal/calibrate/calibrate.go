// Package calibrate proves the intervals: it draws made-up practices of which
// the truth is known, analyses each by the very code that analyses a real one,
// and counts how often the intervals hold the truth.
//
// A replicate is one practice, drawn from one seed. Its records become the rows
// that the queries publish (Publish), the analyses of pipeline/analysis make
// figures of them (figures.go lists which are judged), and each figure is kept
// as an Outcome. Seeds are 1 to R, none skipped. A condition (conditions.go)
// departs from the base in one property. The truth of a figure is computed by
// the generator alone (Truth), and the rule by which a figure fails stands in
// judge.go.
//
// Everything here is the same for any number of cores.
package calibrate

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"evenlimb/pipeline/result"
	"evenlimb/seeds/practice"
)

// State says what a replicate shows of a figure.
type State string

// The states of a figure.
const (
	Shown    State = "shown"    // a value with an interval
	Bare     State = "bare"     // a value without an interval
	Withheld State = "withheld" // nothing: the analysis says why
)

// Outcome is what one replicate says of one figure. Numbers are in the figure's
// unit and hold six digits, as in a results file; 0 where there is none.
type Outcome struct {
	Seed             int
	Figure           string
	State            State
	Value, Low, High float64
	SE               float64
}

// Replicate draws the practice of a condition with a seed, analyses it, and
// returns the outcomes of the figures of the analyses named, in the order of
// Figures.
func Replicate(ctx context.Context, c Condition, seed int, analyses []string) ([]Outcome, error) {
	s := c.Scenario
	s.Seed = uint64(seed) //nolint:gosec // seeds are 1 and up
	p, err := practice.DrawBrief(s)
	if err != nil {
		return nil, err
	}
	published, err := Publish(p)
	if err != nil {
		return nil, err
	}
	return published.outcomes(ctx, s, seed, analyses)
}

func (p *Published) outcomes(ctx context.Context, s practice.Scenario, seed int, analyses []string) ([]Outcome, error) {
	month := s.Start.AddDate(0, s.Months-1, 0)
	var outcomes []Outcome
	for _, name := range analyses {
		at := slices.IndexFunc(Analyses, func(a Analysis) bool { return a.Name == name })
		if at < 0 {
			return nil, fmt.Errorf("no analysis %q", name)
		}
		set, err := Analyses[at].run(ctx, p, month)
		if err != nil {
			return nil, fmt.Errorf("seed %d: %w", seed, err)
		}
		byID := make(map[string]result.Figure, len(set.Figures))
		for _, f := range set.Figures {
			byID[f.ID] = f
		}
		for _, f := range Figures {
			if f.Analysis == name {
				outcomes = append(outcomes, outcome(seed, f, byID[f.ID()]))
			}
		}
	}
	return outcomes, nil
}

// outcome reads a figure; one that is not there is the zero Figure and counts as
// withheld. A rate of which no event was seen states its upper limit alone: its
// value is then 0.
func outcome(seed int, of Figure, f result.Figure) Outcome {
	o := Outcome{Seed: seed, Figure: of.Name, State: Withheld}
	if f.Status == result.Withheld || f.Value == nil && f.High == nil {
		return o
	}
	of0 := func(x *float64) float64 {
		if x == nil {
			return 0
		}
		return sixDigits(*x)
	}
	o.State, o.Value, o.Low, o.High, o.SE = Bare, of0(f.Value), of0(f.Low), of0(f.High), of0(f.StdError)
	if f.High != nil && (f.Low != nil || f.Value == nil) {
		o.State = Shown
	}
	return o
}

func sixDigits(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		return x
	}
	return y
}
