package dose

import (
	"cmp"
	"context"
	"errors"
	"hash/fnv"
	"math"
	"slices"
	"sync"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/stats"
	"evenlimb/pipeline/stats/resample"
)

// amount is one way of saying how much was done.
type amount struct {
	stem string
	unit string
	rows string // condition under which it is known
	of   func(r row) *float64
}

var amountsShown = []amount{
	{"sets_per_week", "sets a week", "", func(r row) *float64 { return r.Sets }},
	{"reps_per_week", "repetitions a week", " and reps is not null", func(r row) *float64 { return r.Reps }},
	{"inflated_minutes", "minutes a week", " and inflated_minutes is not null", func(r row) *float64 { return r.InflatedMinutes }},
	{"pressure_minutes", "pressure-minutes a week", " and pressure_minutes is not null", func(r row) *float64 { return r.PressureMinutes }},
	{"sessions_per_week", "sessions a week", "", func(r row) *float64 {
		if r.Sessions == nil {
			return nil
		}
		return number(float64(*r.Sessions))
	}},
}

// quarters are the quantiles of an amount that are shown.
var quarters = []struct {
	suffix string
	p      float64
}{{"_lower_quartile", 0.25}, {"_median", 0.5}, {"_upper_quartile", 0.75}}

// amounts adds how much was done among those who did some, and how that
// compares with what was intended.
func (m *maker) amounts(ctx context.Context, g group) error {
	some := g.pick(row.some)
	gone := m.mostGone(g)
	for _, a := range amountsShown {
		known := g.pick(func(r row) bool { return r.some() && a.of(r) != nil })
		figures := make([]result.Figure, len(quarters))
		for i, q := range quarters {
			f := m.figure(g, a.stem+q.suffix)
			f.Unit = a.unit
			f.Persons, f.Episodes, f.Missing = count(persons(known)), count(len(known)), count(len(some)-len(known))
			figures[i] = f
		}
		switch {
		case gone != "":
			withholdAll(figures, gone)
		case len(known) == 0:
			withholdAll(figures, "Of nobody who did some work with the cuff before the landmark is this known.")
		default:
			if err := m.spread(ctx, g, a, known, figures); err != nil {
				return err
			}
		}
		for _, f := range figures {
			m.add(g, f, m.someRows()+a.rows)
		}
	}
	return m.planned(ctx, g, gone)
}

func withholdAll(figures []result.Figure, reason string) {
	for i := range figures {
		withhold(&figures[i], reason)
	}
}

// spread fills in the quartiles of an amount per week.
func (m *maker) spread(ctx context.Context, g group, a amount, known []row, figures []result.Figure) error {
	values := make([]float64, len(known))
	order := make([]int, len(known))
	for i, r := range known {
		values[i], order[i] = *r.perWeek(a.of(r)), i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(values[i], values[j]) })
	return m.bootstrap(ctx, g.picture+"/"+a.stem, known, figures, func(weight []int) ([]float64, error) {
		out := make([]float64, len(quarters))
		for i, q := range quarters {
			out[i] = quantile(values, order, weight, q.p)
		}
		return out, nil
	})
}

// quantile is the smallest value that at least a share p of the weight does not
// exceed; order sorts the values, and weight is above 0 somewhere.
func quantile(values []float64, order, weight []int, p float64) float64 {
	total := 0
	for _, w := range weight {
		total += w
	}
	wanted, sum := max(1, int(math.Ceil(p*float64(total)))), 0
	for _, i := range order {
		if sum += weight[i]; sum >= wanted {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}

// planned adds the sets done over those intended for the window, of all whose
// plan intended some.
func (m *maker) planned(ctx context.Context, g group, gone string) error {
	intended := g.pick(func(r row) bool { return r.analysed() && r.PlannedSets != nil && *r.PlannedSets > 0 })
	unknown := g.pick(func(r row) bool { return r.analysed() && r.PlannedSets == nil })
	f := m.figure(g, "plan_sets_share")
	f.Unit = "share"
	f.Persons, f.Episodes, f.Missing = count(persons(intended)), count(len(intended)), count(len(unknown))
	figures := []result.Figure{f}
	switch {
	case gone != "":
		withholdAll(figures, gone)
	case len(intended) == 0:
		withholdAll(figures, "No plan on record says how many sets with the cuff were intended.")
	default:
		err := m.bootstrap(ctx, g.picture+"/plan_sets_share", intended, figures, func(weight []int) ([]float64, error) {
			var done, meant float64
			for i, r := range intended {
				done += float64(weight[i]) * *r.Sets
				meant += float64(weight[i]) * *r.PlannedSets
			}
			return []float64{done / meant}, nil
		})
		if err != nil {
			return err
		}
	}
	m.add(g, figures[0], landmarkRows(m.period.To)+" and sets is not null and planned_sets > 0")
	return nil
}

// bootstrap fills figures with the numbers that statistic makes of the rows and
// with the interval over draws of persons. The statistic is given how often each
// row is drawn, and keeps nothing of it. The seed is made of name. Where draws do not differ, or there is
// one person, a number stands without an interval.
func (m *maker) bootstrap(ctx context.Context, name string, rows []row, figures []result.Figure, statistic func(weight []int) ([]float64, error)) error {
	index := map[int]int{}
	person := make([]int, len(rows))
	once := make([]int, len(rows))
	for i, r := range rows {
		if _, ok := index[r.PersonKey]; !ok {
			index[r.PersonKey] = len(index)
		}
		person[i], once[i] = index[r.PersonKey], 1
	}
	point, err := statistic(once)
	if err != nil {
		return err
	}
	for k := range figures {
		figures[k].Value, figures[k].Method = number(point[k]), "of all as they are"
	}
	if len(index) < 2 {
		return nil
	}
	seed := fnv.New64a()
	_, _ = seed.Write([]byte(name))            // a hash takes every write
	type scratch struct{ times, weight []int } // draws are thousands
	spare := sync.Pool{New: func() any { return &scratch{make([]int, len(index)), make([]int, len(rows))} }}
	draws, err := resample.Bootstrap(ctx, len(index), func(draw []int) ([]float64, error) {
		s := spare.Get().(*scratch) //nolint:forcetypeassert // nothing else is put there
		defer spare.Put(s)
		clear(s.times)
		for _, p := range draw {
			s.times[p]++
		}
		for i := range rows {
			s.weight[i] = s.times[person[i]]
		}
		return statistic(s.weight)
	}, resample.Options{Replicates: m.in.Replicates, Seed: seed.Sum64(), MaxFailed: 0.5})
	if err != nil {
		return err
	}
	for k := range figures {
		e, err := draws.Percentile(k, level)
		if errors.Is(err, stats.ErrNoVariation) {
			continue
		}
		if err != nil {
			return err
		}
		f := &figures[k]
		f.Low, f.High, f.StdError, f.Level, f.Method = number(e.Low), number(e.High), number(e.SE), e.Level, e.Method
		for _, w := range e.Warnings {
			f.Warnings = append(f.Warnings, w.Text)
		}
	}
	return nil
}
