package dose

import (
	"errors"
	"fmt"

	"evenlimb/pipeline/analysis/dose/adjust"
	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/shrink"
)

// pooled gathers the standardised contrasts of the types, which borrow strength
// from one another.
type pooled struct {
	groups []group
	rows   [][]known
	weeks  []int
	value  []float64
	se     []float64
}

func (p *pooled) take(g group, rows []known, week int, c adjust.Contrast) {
	if !c.HasInterval || c.SE == 0 {
		return
	}
	p.groups, p.rows, p.weeks = append(p.groups, g), append(p.rows, rows), append(p.weeks, week)
	p.value, p.se = append(p.value, c.Value), append(p.se, c.SE)
}

// pool adds the mean contrast of the types and each type's own leaning on the
// others. Each is at its own quartiles and by its own week.
func (m *maker) pool(practice group, p *pooled) error {
	all, err := shrink.RandomEffects(p.value, p.se, level)
	if errors.Is(err, stats.ErrTooFew) || errors.Is(err, stats.ErrEmpty) {
		return nil // nothing to pool; each type stands for itself
	}
	if err != nil {
		return err
	}
	for k, g := range p.groups {
		c := m.comparison(nil)
		c.until(p.weeks[k])
		f := m.response(g, "quartiles_contrast_shrunken", nil, c)
		m.restingOn(&f, p.rows[k])
		fill(&f, adjust.Contrast{Estimate: all.Shrunk[k], HasInterval: true}, fmt.Sprintf("among %d injury types, ", len(p.groups)))
		m.add(g, f, m.someRows()+completeRows)
	}
	f := m.figure(practice, "quartiles_contrast_pooled")
	f.Unit, f.Warnings = "share", []string{caution}
	var rows []known
	codes := make([]string, len(p.groups))
	for k, g := range p.groups {
		rows = append(rows, p.rows[k]...)
		codes[k] = g.injury
	}
	m.restingOn(&f, rows)
	fill(&f, adjust.Contrast{Estimate: all.Estimate, HasInterval: true}, fmt.Sprintf("third less first quartile of dose of %d injury types, each by its own week, standard deviation between their true contrasts %.3g, ", len(p.groups), all.Tau))
	m.add(practice, f, m.someRows()+completeRows+" and injury_type in "+literals(codes))
	return nil
}

// restingOn says on whom a pooled figure rests.
func (m *maker) restingOn(f *result.Figure, rows []known) {
	people := make([]row, len(rows))
	for i, k := range rows {
		people[i] = k.row
	}
	f.Persons, f.Episodes, f.Missing = count(persons(people)), count(len(rows)), nil
}
