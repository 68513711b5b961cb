package main

import (
	"context"
	_ "embed"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"evenlimb/pipeline/stats/mixed"
)

//go:embed bench_mixed.R
var benchMixedR string

var mixedBenches = []bench{
	{"mixed", "random intercept and slope, 100,000 persons of 10 rows, against lmer", benchMixed},
}

// courses makes persons with their own level and slope, seen ten times.
func courses(persons, visits int) mixed.Data {
	rng := rand.New(rand.NewPCG(3, 4))
	n := persons * visits
	y, constant, week, person := make([]float64, n), make([]float64, n), make([]float64, n), make([]int, n)
	for i := range n {
		constant[i], person[i] = 1, i/visits
		week[i] = float64(i%visits) + 0.5*rng.Float64()
	}
	var level, slope float64
	for i := range n {
		if i%visits == 0 {
			level = 2 * rng.NormFloat64()
			slope = 0.15*level + 0.4*rng.NormFloat64()
		}
		y[i] = 10 + level + (1.5+slope)*week[i] + 1.5*rng.NormFloat64()
	}
	return mixed.Data{
		Y: y, Columns: [][]float64{constant, week}, Names: []string{"constant", "week"},
		Group: mixed.Random{Group: person, Slope: week},
	}
}

func benchMixed(ctx context.Context, r *report) error {
	d := courses(100_000, 10)
	theirs, err := mixedInR(ctx, d)
	if err != nil {
		return err
	}
	var m *mixed.Model
	work := func() (err error) {
		m, err = mixed.Fit(d, mixed.Options{})
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
	r.ratio("slope", ours, seconds(theirs, "slope"), 20)
	// Outcome, two columns, one of them the slope too, and the group.
	r.atMost("slope memory/input", bytes/float64(4*8*len(d.Y)), 3)
	if err := r.same("slope_fixed", append(append([]float64(nil), m.Coef...), m.SE...), theirs["slope_fixed"], 1e-5); err != nil {
		return err
	}
	spread := []float64{m.ResidualSD, m.Group.InterceptSD, m.Group.SlopeSD, m.Group.Correlation}
	if err := r.same("slope_spread", spread, theirs["slope_spread"], 1e-3); err != nil {
		return err
	}
	return r.same("slope_loglik", []float64{m.LogLik}, theirs["slope_loglik"], 1e-8)
}

func mixedInR(ctx context.Context, d mixed.Data) (map[string][]float64, error) {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a folder of our own in the temporary one
	for name, col := range map[string][]float64{"y": d.Y, "x": d.Columns[1], "g": floats(d.Group.Group)} {
		buf := make([]byte, 0, 8*len(col))
		for _, v := range col {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(v))
		}
		if err := os.WriteFile(filepath.Join(dir, name), buf, 0o600); err != nil {
			return nil, err
		}
	}
	script := filepath.Join(dir, "bench.R")
	if err := os.WriteFile(script, []byte(benchMixedR), 0o600); err != nil {
		return nil, err
	}
	return runR(ctx, script, dir)
}
