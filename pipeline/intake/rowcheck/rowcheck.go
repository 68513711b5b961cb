// Package rowcheck holds the cells of one row against each other: a pressure
// against the percentage stated beside it, minutes against sets and rests, dates
// against their order. What a single cell may hold is in pipeline/export; what
// takes other rows is in queries/checks.
//
// All rules stand in one table, each with its threshold and where that is from.
// A rule either rejects the row, where only a slip of typing, unit or column can
// explain it, or keeps it with a finding. What is dangerous but possible is kept,
// so that those who look for danger see it; a row of adverse_events is always
// kept.
package rowcheck

import (
	"database/sql/driver"
	"slices"
	"strings"
	"time"

	"evenlimb/pipeline/export"
)

// Finding is a rule that a row does not keep to.
type Finding struct {
	Column string // the cell that is named
	Code   string // such as not_the_share
	Words  string // a sentence without its full stop, about this row
	About  string // the same about any row, for counts over a file
	Reject bool
}

// Rule is one rule, for documentation.
type Rule struct {
	Table  string
	Column string
	Code   string
	About  string
	Reject bool
	Source string
}

// rule is a Rule with how it is judged.
type rule struct {
	table, column, code string
	reject              bool
	about               string
	source              string
	reads               []string            // columns; the rule is silent where one is empty
	beside              []string            // columns that it looks at as well, filled or empty
	broken              func(*row) bool     // whether the row breaks it
	words               func(r *row) string // about this row; empty: about
}

// practiceSets marks a threshold that rests on judgement.
const practiceSets = "default for the practice to set"

// rules are all rules, in the order in which findings are given.
var rules = slices.Concat(boutRules, planRules, sessionRules, episodeRules, measurementRules, courseRules, eventRules)

// Rules returns all rules, in the order of the tables.
func Rules() []Rule {
	var list []Rule
	for _, r := range rules {
		list = append(list, Rule{r.table, r.column, r.code, r.about, r.reject, r.source})
	}
	return list
}

// Checker checks the rows of one table, one after the other: it is not for two
// goroutines.
type Checker struct {
	rules []placed
	row   row
}

// placed is a rule with the places of its columns.
type placed struct {
	broken func(*row) bool
	reads  []int // must be filled
	at     []int // these, and those beside them
	*rule
}

// known is what the last cells of some columns stand for: neighbouring rows often
// say the same.
type known struct {
	repsText string
	reps     sets
	measure  string
	span     *measureSpan
	exercise string
	does     exercise
}

// For returns the checker of a table.
func For(t export.Table) *Checker {
	c := &Checker{}
	for i := range rules {
		r := &rules[i]
		if r.table != t.Name {
			continue
		}
		p := placed{broken: r.broken, rule: r}
		for _, name := range slices.Concat(r.reads, r.beside) {
			p.at = append(p.at, slices.IndexFunc(t.Columns, func(c export.Column) bool { return c.Name == name }))
		}
		p.reads = p.at[:len(r.reads)]
		c.rules = append(c.rules, p)
	}
	return c
}

// Check returns what is wrong with a row: one value for each column of the
// table, in its order, nil where nothing is recorded; whole numbers as int32,
// decimals as int64 in units of the fourth decimal, dates as time.Time.
func (c *Checker) Check(values []driver.Value) []Finding {
	var found []Finding
	r := &c.row
	r.values = values
	for i := range c.rules {
		p := &c.rules[i]
		if !p.filled(values) {
			continue
		}
		r.at = p.at
		if !p.broken(r) {
			continue
		}
		words := p.about
		if p.words != nil {
			words = p.words(r)
		}
		found = append(found, Finding{p.column, p.code, words, p.about, p.reject})
	}
	return found
}

func (p *placed) filled(values []driver.Value) bool {
	for _, at := range p.reads {
		if values[at] == nil {
			return false
		}
	}
	return true
}

// row is a row as one rule sees it: its columns by their place in reads and
// beside.
type row struct {
	values []driver.Value
	at     []int
	known  known
}

// unit is 1 in the units in which numbers are compared.
const unit = 10_000

func (r *row) number(i int) int64 {
	switch v := r.values[r.at[i]].(type) {
	case int32:
		return int64(v) * unit
	case int64:
		return v
	default:
		return 0
	}
}

func (r *row) text(i int) string {
	v, _ := r.values[r.at[i]].(string)
	return v
}

func (r *row) is(i int) bool {
	v, _ := r.values[r.at[i]].(bool)
	return v
}

func (r *row) date(i int) time.Time {
	v, _ := r.values[r.at[i]].(time.Time)
	return v
}

// sets are the repetitions by set of a column.
func (r *row) sets(i int) sets {
	if text := r.text(i); text != r.known.repsText {
		r.known.repsText, r.known.reps = strings.Clone(text), bySet(text)
	}
	return r.known.reps
}

// span is what the code table says of the measure in a column.
func (r *row) span(i int) *measureSpan {
	if code := r.text(i); code != r.known.measure || r.known.span == nil {
		span := spans[code]
		r.known.measure, r.known.span = strings.Clone(code), &span
	}
	return r.known.span
}

// exercise is what the code table says of the exercise in a column.
func (r *row) exercise(i int) exercise {
	if code := r.text(i); code != r.known.exercise {
		r.known.exercise, r.known.does = strings.Clone(code), exercises[code]
	}
	return r.known.does
}

// before says whether the date of one column lies before that of another.
func before(i, j int) func(*row) bool {
	return func(r *row) bool { return r.date(i).Before(r.date(j)) }
}
