package guard_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"evenlimb/pipeline/intake/guard"
	"evenlimb/pipeline/intake/source"
)

// bouts makes a canonical file of the widest table.
func bouts(rows int) string {
	rng := rand.New(rand.NewPCG(1, 2))
	var b strings.Builder
	b.WriteString("session_id,bout_no,exercise,level,movement_range,limb_use,side,sets,reps,reps_by_set,seconds_per_rep,load_kg,load_basis,load_percent_1rm,rest_seconds,reps_in_reserve,cuff_inflated,mode,occlusion_pressure_mmhg,occlusion_position,occlusion_method,occlusion_measured_on,applied_pressure_mmhg,pressure_percent,cuff_width_cm,cuff_code,inflated_minutes,end_reason,pain\n")
	exercises := []string{"knee_extension", "leg_press", "heel_raise_standing", "step_up"}
	for i := range rows {
		fmt.Fprintf(&b, "s%06d,%d,%s,%d,full,one,left,4,75,30/15/15/15,2.%d,%d.5,external,%d,30,2,true,continuous,%d,seated,doppler,2025-%02d-%02d,%d,%d.%d,11,c%d,4.%d,planned,%d\n",
			i/5, 1+i%5, exercises[rng.IntN(4)], rng.IntN(4), rng.IntN(9), 10+rng.IntN(50), 20+rng.IntN(20), 120+rng.IntN(100), 1+rng.IntN(12), 1+rng.IntN(28), 80+rng.IntN(60), 40+rng.IntN(40), rng.IntN(9), rng.IntN(4), rng.IntN(9), rng.IntN(10))
	}
	return b.String()
}

// BenchmarkGuard reads a canonical file with and without the guard, in turn, and
// gives the least time of each, for another program may hold a core.
func BenchmarkGuard(b *testing.B) {
	const rows = 20_000
	text := bouts(rows)
	read := func(with bool) float64 {
		began := time.Now() //nolint:forbidigo // it measures time
		g := guard.New(guard.Rules{Sender: "north"})
		r := source.NewCSV(strings.NewReader(text))
		headings, err := r.Headings()
		if err != nil || g.Headings(1, headings) != nil {
			b.Fatal("headings refused")
		}
		for {
			rec, ok, err := r.Next()
			if err != nil {
				b.Fatal(err)
			}
			if !ok {
				break
			}
			if with {
				g.Row(rec.Line, rec.Cells)
			}
		}
		if s := g.Verdict(); s != nil {
			b.Fatal(s.Where(), s.Kind)
		}
		return float64(time.Since(began).Nanoseconds()) / rows
	}
	least := map[bool]float64{false: math.Inf(1), true: math.Inf(1)}
	for b.Loop() {
		for _, with := range []bool{false, true} {
			least[with] = min(least[with], read(with))
		}
	}
	b.ReportMetric(least[false], "ns/row-read")
	b.ReportMetric(least[true]-least[false], "ns/row-guarded")
}

// BenchmarkRow looks at rows that are read already.
func BenchmarkRow(b *testing.B) {
	lines := strings.Split(strings.TrimSpace(bouts(2000)), "\n")
	var rows [][]string
	for _, line := range lines {
		rows = append(rows, strings.Split(line, ","))
	}
	g := guard.New(guard.Rules{Sender: "north"})
	if g.Headings(1, rows[0]) != nil {
		b.Fatal("headings refused")
	}
	for i := 0; b.Loop(); i++ {
		g.Row(i, rows[1+i%2000])
	}
}
