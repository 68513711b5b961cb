package main

import (
	"context"
	_ "embed"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"evenlimb/pipeline/stats/survival"
	"evenlimb/pipeline/stats/survival/cox"
)

//go:embed bench_survival.R
var benchSurvivalR string

var survivalBenches = []bench{
	{"survival", "Kaplan-Meier (20 groups) and Cox (6 columns) on a million rows, against survfit and coxph", benchSurvival},
	{"cox-cluster", "clustered Cox variance: its time grows with the rows", benchClustered},
}

const benchGroups = 20

// followUp is a million made-up rows: six covariates, times to the event and to
// the end of watching, continuous and in whole days.
type followUp struct {
	time, day []float64
	event     []int
	group     []int
	x         [][]float64
}

func newFollowUp(rows int) *followUp {
	rng := rand.New(rand.NewPCG(1, 2))
	f := &followUp{
		time: make([]float64, rows), day: make([]float64, rows),
		event: make([]int, rows), group: make([]int, rows),
	}
	slopes := []float64{0.2, -0.3, 0.1, 0.05, -0.1, 0.4}
	for range slopes {
		f.x = append(f.x, make([]float64, rows))
	}
	for i := range rows {
		eta := 0.0
		for j, b := range slopes {
			v := rng.NormFloat64()
			if j == 1 || j == 2 {
				v = float64(rng.IntN(2))
			}
			f.x[j][i] = v
			eta += b * v
		}
		event, end := 200*rng.ExpFloat64()/math.Exp(eta), 30+700*rng.Float64()
		f.time[i] = math.Min(event, end)
		if event <= end {
			f.event[i] = 1
		}
		f.day[i] = math.Max(1, math.Ceil(f.time[i]))
		f.group[i] = rng.IntN(benchGroups)
	}
	return f
}

func benchSurvival(ctx context.Context, r *report) error {
	const rows = 1_000_000
	f := newFollowUp(rows)
	theirs, err := survivalInR(ctx, f)
	if err != nil {
		return err
	}
	for _, c := range []struct {
		name          string
		times         []float64
		curves, model float64 // required ratios
	}{
		{"day", f.day, 15, 6},
		{"time", f.time, 6, 5},
	} {
		if err := benchCurves(r, f, "km_"+c.name, c.times, c.curves, theirs); err != nil {
			return err
		}
		if err := benchCox(r, f, "cox_"+c.name, c.times, c.model, theirs); err != nil {
			return err
		}
	}
	return nil
}

func benchCurves(r *report, f *followUp, name string, times []float64, required float64, theirs map[string][]float64) error {
	in := survival.Data{Time: times, Event: f.event}
	var curves []*survival.Curve
	work := func() error {
		parts, err := survival.Split(in, f.group, benchGroups)
		if err != nil {
			return err
		}
		curves = curves[:0]
		for _, part := range parts {
			c, err := survival.KaplanMeier(part, survival.Options{})
			if err != nil {
				return err
			}
			curves = append(curves, c)
		}
		return nil
	}
	ours, err := timed(work)
	if err != nil {
		return err
	}
	bytes, err := allocated(work)
	if err != nil {
		return err
	}
	var got []float64
	result := 0.0
	for _, c := range curves {
		result += 8 * 8 * float64(len(c.Time)) // the eight columns of a curve
		for _, day := range []float64{42, 84, 182, 365} {
			e := c.At(day)
			got = append(got, e.Value, e.Low, e.High)
		}
	}
	r.ratio(name, ours, seconds(theirs, name), required)
	r.atMost(name+" memory/input, less result", (bytes-result)/(24*float64(len(times))), 3)
	return r.same(name, got, theirs[name], 1e-8)
}

func benchCox(r *report, f *followUp, name string, times []float64, required float64, theirs map[string][]float64) error {
	in := cox.Data{Data: survival.Data{Time: times, Event: f.event}, X: f.x}
	var m *cox.Model
	work := func() (err error) {
		m, err = cox.Fit(in, cox.Options{})
		return err
	}
	ours, err := timed(work)
	if err != nil {
		return err
	}
	bytes, err := allocated(work)
	if err != nil {
		return err
	}
	got := append([]float64(nil), m.Coef...)
	for j := range m.Coef {
		got = append(got, m.Coefficient(j).SE)
	}
	r.ratio(name, ours, seconds(theirs, name), required)
	r.atMost(name+" memory/input", bytes/(8*float64(2+len(f.x))*float64(len(times))), 3)
	return r.same(name, got, theirs[name], 1e-6)
}

func seconds(theirs map[string][]float64, name string) time.Duration {
	return time.Duration(theirs[name+"_seconds"][0] * float64(time.Second))
}

// survivalInR returns what R says about the same rows.
func survivalInR(ctx context.Context, f *followUp) (map[string][]float64, error) {
	columns := map[string][]float64{"time": f.time, "day": f.day, "event": floats(f.event), "group": floats(f.group)}
	for j, col := range f.x {
		columns[fmt.Sprintf("x%d", j+1)] = col
	}
	return inR(ctx, benchSurvivalR, columns)
}

// benchClustered fits with ten rows a person at two sizes: four times the rows
// may take at most six times as long.
func benchClustered(_ context.Context, r *report) error {
	fit := func(rows int) (time.Duration, error) {
		f := newFollowUp(rows)
		person := make([]int, rows)
		for i := range person {
			person[i] = i / 10
		}
		in := cox.Data{Data: survival.Data{Time: f.day, Event: f.event, Person: person}, X: f.x}
		return timed(func() error {
			_, err := cox.Fit(in, cox.Options{})
			return err
		})
	}
	small, err := fit(100_000)
	if err != nil {
		return err
	}
	large, err := fit(400_000)
	if err != nil {
		return err
	}
	r.atMost("clustered Cox, 4 times the rows", large.Seconds()/small.Seconds(), 6)
	r.atMost("clustered Cox, seconds at 100,000", small.Seconds(), 1)
	return nil
}
