package scores

import (
	"errors"
	"fmt"
	"slices"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/mixed"
)

// typical adds the typical value at the weeks stated and its change since the
// baseline: a linear mixed model with a mean for each week, an intercept random
// by episode, and one by person where a fifth of them have two episodes. So
// whoever stopped answering counts by what he answered before.
func (m *maker) typical(g group) error {
	model, withheld, err := fit(g)
	if err != nil {
		return err
	}
	for i, week := range g.stated {
		weights := make([]float64, len(g.stated))
		weights[i] = 1
		if err := m.combined(g, "typical", week, weights, model, withheld); err != nil {
			return err
		}
	}
	for i, week := range g.stated[1:] {
		weights := make([]float64, len(g.stated))
		weights[0], weights[i+1] = -1, 1
		if err := m.combined(g, "change", week, weights, model, withheld); err != nil {
			return err
		}
	}
	return nil
}

// fit estimates the model; what the answers cannot give becomes a reason.
func fit(g group) (model *mixed.Model, withheld string, err error) {
	data := mixed.Data{Columns: make([][]float64, len(g.stated))}
	for _, week := range g.stated {
		data.Names = append(data.Names, fmt.Sprintf("week %d", week))
	}
	var persons []int
	seen := map[int]bool{}
	for _, a := range g.answers {
		at := slices.Index(g.stated, a.week)
		if at < 0 {
			continue
		}
		data.Y = append(data.Y, a.value)
		data.Group.Group, persons = append(data.Group.Group, a.episode), append(persons, a.person)
		seen[a.person] = true
		for j := range data.Columns {
			is := 0.0
			if j == at {
				is = 1
			}
			data.Columns[j] = append(data.Columns[j], is)
		}
	}
	episodes := distinct(data.Group.Group)
	if 5*(episodes-len(seen)) >= len(seen) {
		data.Above = &mixed.Random{Group: persons}
	}
	model, err = mixed.Fit(data, mixed.Options{})
	switch {
	case err == nil:
		return model, "", nil
	case errors.Is(err, stats.ErrTooFew), errors.Is(err, stats.ErrNoVariation), errors.Is(err, stats.ErrOneGroup):
		return nil, "Too few people answered more than once to tell a course.", nil
	case errors.Is(err, stats.ErrNotConverged):
		return nil, "The model of the course did not converge.", nil
	default:
		return nil, "", err
	}
}

// combined adds one combination of the means of the weeks.
func (m *maker) combined(g group, statistic string, week int, weights []float64, model *mixed.Model, withheld string) error {
	f := m.figure(g, statistic)
	f.X, f.XUnit, f.Unit = number(float64(week)), "weeks", g.measure.unit
	m.rests(&f, slices.DeleteFunc(slices.Clone(g.answers), func(a answer) bool { return !slices.Contains(g.stated, a.week) }))
	if withheld != "" {
		f.Status, f.Reason = result.Withheld, withheld
		m.add(g, f, m.inModel(g))
		return nil
	}
	e, err := model.Combine(weights, level)
	if err != nil {
		return err
	}
	f.Value, f.Low, f.High, f.StdError, f.Level = number(e.Value), number(e.Low), number(e.High), number(e.SE), level
	f.Method = e.Method
	if model.AboveN > 0 {
		f.Method += ", persons and episodes"
	}
	for _, w := range e.Warnings {
		f.Warnings = append(f.Warnings, w.Text)
	}
	m.add(g, f, m.inModel(g))
	return nil
}

func distinct(keys []int) int {
	sorted := slices.Sorted(slices.Values(keys))
	return len(slices.Compact(sorted))
}
