package disclosure

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"evenlimb/pipeline/result"
)

// Floors are the numbers of persons below which something is hidden. They come
// from the practice's settings.
type Floors struct {
	Circulating int  // any rate or model result, and the smallest count shown, in a report that circulates
	Site        int  // a rate or model result of a single site, in a report that circulates
	Curve       int  // persons at the start of a curve, in a report that circulates
	Inside      int  // all of these in a report for the practice's own people
	Strict      bool // hide also what is shown only because a rate is: see Release
}

// lowestFloor is the least that any floor may be set to: below three persons
// a person can pick out the other one.
const lowestFloor = 3

// Input is what one release is made from. None of it is changed.
type Input struct {
	Figures  result.Set
	Context  result.Context
	Audience Audience
	Floors   Floors
	History  []Published
}

// Release decides figure by figure what the audience may see.
//
// A rate, mean or model result is shown when it rests on the floor of persons;
// a count of persons from 1 to the floor less one becomes "fewer than" the
// floor; further counts are hidden until no total, taken by itself, narrows one
// of these to fewer than 5 values. Numbers at risk are rounded to 5 and printed at weeks 0, 6, 12, 26 and
// 52; a RoundedCount is rounded to 5 too. With Floors.Strict a rate must also have the floor of persons with and
// without the outcome, where it says how many had it, and a count of events
// below the floor is hidden.
//
// The result does not depend on the order of the figures or the totals. An
// error means that the set contradicts itself or holds a number that is not
// finite, which is a fault of the program that made it.
func Release(in Input) (*Released, error) {
	limits, err := limitsFor(in.Audience, in.Floors)
	if err != nil {
		return nil, err
	}
	rows, err := prepare(in.Figures)
	if err != nil {
		return nil, err
	}
	equations, err := balance(rows, in.Figures.Totals)
	if err != nil {
		return nil, err
	}
	equations = append(equations, sameCounts(rows)...)
	for _, r := range rows {
		r.decide(limits)
	}
	hideComplements(equations, limits.persons)

	released := &Released{
		passed:   true,
		audience: in.Audience,
		floors:   in.Floors,
		context:  cloneContext(in.Context),
		figures:  make([]Shown, len(rows)),
		index:    make(map[string]int, len(rows)),
		history:  cloneHistory(in.History),
		before:   monthBefore(in.Context.Month, in.History),
	}
	definitions := definitionHashes(in.Figures.Sources)
	given := hiddenNumbers(rows)
	for i, r := range rows {
		shown := r.shown(limits, given[r.figure.Picture()])
		shown.Definition = definitions[r.figure.ID]
		released.figures[i] = shown
		released.index[r.figure.ID] = i
	}
	return released, nil
}

// limits are the floors that hold for one audience.
type limits struct {
	persons int
	site    int
	curve   int
	strict  bool
}

func limitsFor(a Audience, f Floors) (limits, error) {
	for _, floor := range []struct {
		name  string
		value int
	}{{"circulating", f.Circulating}, {"site", f.Site}, {"curve", f.Curve}, {"inside", f.Inside}} {
		if floor.value < lowestFloor {
			return limits{}, fmt.Errorf("small-count floor %q is %d; it must be at least %d: set it under [small_counts] in practice.toml",
				floor.name, floor.value, lowestFloor)
		}
	}
	switch a {
	case Circulating:
		return limits{persons: f.Circulating, site: max(f.Site, f.Circulating), curve: max(f.Curve, f.Circulating), strict: f.Strict}, nil
	case Inside:
		return limits{persons: f.Inside, site: f.Inside, curve: f.Inside, strict: f.Strict}, nil
	default:
		return limits{}, fmt.Errorf("small-count gate: audience %d is neither circulating nor inside", a)
	}
}

// row is one figure on its way through the gate.
type row struct {
	figure result.Figure
	kind   Kind
	hidden string // why, a sentence; empty while shown
	below  int    // above 0: the value is less than it, and that is said
}

func (r *row) hide(reason string) { r.hidden = reason }

// counts says that the figure counts persons or episodes, so that it can stand
// in a sum that gives persons away.
func (r *row) counts() bool { return r.kind == PersonsByOutcome || r.kind == PersonsInTotal }

// prepare copies the figures into order and refuses what no gate can judge.
func prepare(set result.Set) ([]*row, error) {
	rows := make([]*row, len(set.Figures))
	seen := make(map[string]bool, len(set.Figures))
	for i, f := range set.Figures {
		if seen[f.ID] {
			return nil, fmt.Errorf("figure %s stands twice in the set", f.ID)
		}
		seen[f.ID] = true
		if f.Status == result.Hidden {
			return nil, fmt.Errorf("figure %s comes hidden: only the gate hides", f.ID)
		}
		for _, v := range []*float64{f.X, f.Value, f.Low, f.High, f.StdError, f.Exposure} {
			if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
				return nil, fmt.Errorf("figure %s holds a number that is not finite", f.ID)
			}
		}
		_, statistic, x, err := result.SplitID(f.ID)
		if err != nil {
			return nil, err
		}
		if statistic != f.Statistic {
			return nil, fmt.Errorf("figure %s carries the statistic %q", f.ID, f.Statistic)
		}
		rows[i] = &row{figure: cloneFigure(f), kind: KindOf(f.Question, f.Statistic, x != "")}
	}
	slices.SortFunc(rows, func(a, b *row) int {
		return cmp.Or(
			cmp.Compare(a.figure.Picture(), b.figure.Picture()),
			cmp.Compare(a.figure.Statistic, b.figure.Statistic),
			cmp.Compare(position(a.figure), position(b.figure)),
			cmp.Compare(a.figure.ID, b.figure.ID),
		)
	})
	return rows, nil
}

func position(f result.Figure) float64 {
	if f.X == nil {
		return 0
	}
	return *f.X
}

func cloneHistory(history []Published) []Published {
	out := slices.Clone(history)
	for i, p := range out {
		out[i].Value, out[i].Low, out[i].High, out[i].Persons = clone(p.Value), clone(p.Low), clone(p.High), clone(p.Persons)
	}
	return out
}
