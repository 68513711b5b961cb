package disclosure

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"time"

	"evenlimb/pipeline/result"
)

// Audience is who will read.
type Audience int

// The audiences. The zero Audience is nobody: the gate refuses it.
const (
	Nobody Audience = iota
	// Circulating is for reports that may be passed on.
	Circulating
	// Inside is for the practice's own leadership and clinicians.
	Inside
)

// String returns the audience as it stands in a manifest.
func (a Audience) String() string {
	switch a {
	case Circulating:
		return "circulating"
	case Inside:
		return "inside"
	default:
		return "nobody"
	}
}

// Shown is one figure as its audience may see it. Where Status is
// result.Hidden, value, limits and everything counted are nil and Reason says
// why in a sentence.
type Shown struct {
	result.Figure
	Kind Kind

	// ValueBelow, EventsBelow and MissingBelow are above zero where all that may
	// be said of the number is that it is smaller: "fewer than 10". As a rule it
	// is then 1 or more; a zero is hidden so only to protect another count.
	ValueBelow   int
	EventsBelow  int
	MissingBelow int

	// PersonsRounded says that Persons is rounded to the nearest 5, because the
	// exact number would give a hidden one away.
	PersonsRounded bool

	// Definition is a SHA-256 of the rows' definition (published tables and
	// predicates), in hex; empty where the figure has no source.
	Definition string
}

// Published is a figure of an earlier report as it was shown, read from the
// publication register.
type Published struct {
	Report     string // monthly, compare, safety
	Period     string // "2025-06"
	Revision   int    // 1 for the first issue
	Batch      int
	FigureID   string
	Shown      bool
	Text       string // the value in words, as it was printed
	Value      *float64
	Low        *float64
	High       *float64
	Persons    *int
	Status     result.Status
	Definition string
}

// Released is what the gate lets through. Only Release makes one that writers
// accept; the zero value holds nothing and its Check fails.
type Released struct {
	passed   bool
	audience Audience
	floors   Floors
	context  result.Context
	figures  []Shown // by id
	index    map[string]int
	history  []Published
	before   map[string]Published // by figure id: the report of the month before; nil without one
}

// Check returns an error unless r came through the gate. Every writer calls it
// first.
func (r *Released) Check() error {
	if r == nil || !r.passed {
		return errors.New("these figures did not come through the small-count gate: make them with disclosure.Release")
	}
	return nil
}

// Context returns names, dates and file counts for the report.
func (r *Released) Context() result.Context { return cloneContext(r.context) }

// Audience returns who may read.
func (r *Released) Audience() Audience { return r.audience }

// Floors returns the floors that were applied.
func (r *Released) Floors() Floors { return r.floors }

// History returns what earlier reports showed, as it was handed in.
func (r *Released) History() []Published { return slices.Clone(r.history) }

// HasBefore says that there is a report of the month before.
func (r *Released) HasBefore() bool { return r.before != nil }

// Before returns a figure as the report of the month before showed it, in its
// newest issue; false where that report did not hold it or does not exist.
func (r *Released) Before(id string) (Published, bool) {
	p, ok := r.before[id]
	p.Value, p.Low, p.High, p.Persons = clone(p.Value), clone(p.Low), clone(p.High), clone(p.Persons)
	return p, ok
}

// monthBefore picks the newest issue of the monthly report of the month before.
func monthBefore(month time.Time, history []Published) map[string]Published {
	period := month.AddDate(0, -1, 0).Format("2006-01")
	var before map[string]Published
	revision := 0
	for _, p := range history {
		if p.Report != "monthly" || p.Period != period || p.Revision < revision {
			continue
		}
		if p.Revision > revision {
			before, revision = map[string]Published{}, p.Revision
		}
		before[p.FigureID] = p
	}
	return before
}

// Figures returns every figure, the hidden ones too, by id. Points of one
// curve stand in the order of their position.
func (r *Released) Figures() []Shown { return cloneShown(r.figures) }

// Picture returns the figures of one picture, in the same order.
func (r *Released) Picture(picture string) []Shown {
	from, _ := slices.BinarySearchFunc(r.figures, picture, func(s Shown, p string) int { return cmp.Compare(s.Picture(), p) })
	to := from
	for to < len(r.figures) && r.figures[to].Picture() == picture {
		to++
	}
	return cloneShown(r.figures[from:to])
}

// Lookup returns the figure with the id.
func (r *Released) Lookup(id string) (Shown, bool) {
	i, ok := r.index[id]
	if !ok {
		return Shown{}, false
	}
	s := r.figures[i]
	s.Figure = cloneFigure(s.Figure)
	return s, true
}

// Counts returns how many figures are shown, hidden by the gate, and withheld
// by their method. A curve counts once, and so does its row of numbers at risk;
// such a row counts as shown when any of it is.
func (r *Released) Counts() (shown, hidden, withheld int) {
	for _, f := range r.lines() {
		switch f.Status {
		case result.Hidden:
			hidden++
		case result.Withheld:
			withheld++
		default:
			shown++
		}
	}
	return shown, hidden, withheld
}

// HiddenFor is a reason for hiding and how many figures it hid.
type HiddenFor struct {
	Reason  string
	Figures int
}

// HiddenBy splits the hidden figures of Counts by reason, in the order of the
// reasons' text.
func (r *Released) HiddenBy() []HiddenFor {
	by := map[string]int{}
	for _, f := range r.lines() {
		if f.Status == result.Hidden {
			by[f.Reason]++
		}
	}
	out := make([]HiddenFor, 0, len(by))
	for _, reason := range slices.Sorted(maps.Keys(by)) {
		out = append(out, HiddenFor{reason, by[reason]})
	}
	return out
}

// lines returns one figure for each that is counted: of a curve the first that
// is not hidden, else its first.
func (r *Released) lines() map[string]Shown {
	lines := map[string]Shown{}
	for _, f := range r.figures {
		line := f.ID
		if f.Kind == CurvePoint || f.Kind == NumberAtRisk {
			line = f.Picture() + "/" + f.Statistic + "@"
		}
		if before, seen := lines[line]; !seen || (before.Status == result.Hidden && f.Status != result.Hidden) {
			lines[line] = f
		}
	}
	return lines
}

func cloneShown(figures []Shown) []Shown {
	out := slices.Clone(figures)
	for i := range out {
		out[i].Figure = cloneFigure(out[i].Figure)
	}
	return out
}

func cloneContext(c result.Context) result.Context {
	c.Sites = slices.Clone(c.Sites)
	c.InjuryTypes = slices.Clone(c.InjuryTypes)
	c.KeepsActivity = slices.Clone(c.KeepsActivity)
	c.Stages = slices.Clone(c.Stages)
	c.Files = slices.Clone(c.Files)
	for i := range c.Files {
		c.Files[i].Forms = slices.Clone(c.Files[i].Forms)
	}
	c.Settings = slices.Clone(c.Settings)
	return c
}

// cloneFigure copies f so that nothing is shared with the original.
func cloneFigure(f result.Figure) result.Figure {
	f.X = clone(f.X)
	f.Value, f.Low, f.High, f.StdError = clone(f.Value), clone(f.Low), clone(f.High), clone(f.StdError)
	f.Persons, f.Episodes, f.Events, f.Missing = clone(f.Persons), clone(f.Episodes), clone(f.Events), clone(f.Missing)
	f.Exposure = clone(f.Exposure)
	f.Warnings = slices.Clone(f.Warnings)
	return f
}

func clone[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}
