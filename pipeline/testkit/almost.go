package testkit

import (
	"math"
	"testing"
)

// tiny is the size below which AlmostEqual stops being relative: a difference
// is measured against max(|want|, tiny).
const tiny = 1e-6

// AlmostEqual fails the test unless got lies within rel of want, relative to
// the larger of |want| and 1e-6. A NaN on either side fails.
func AlmostEqual(tb testing.TB, what string, got, want, rel float64) {
	tb.Helper()
	if !almostEqual(got, want, rel) {
		tb.Errorf("%s = %.17g, want %.17g within %g (off by %.3g)",
			what, got, want, rel, math.Abs(got-want)/math.Max(math.Abs(want), tiny))
	}
}

// AllAlmostEqual is AlmostEqual for each pair; it stops after five faults.
func AllAlmostEqual(tb testing.TB, what string, got, want []float64, rel float64) {
	tb.Helper()
	if len(got) != len(want) {
		tb.Errorf("%s has %d values, want %d", what, len(got), len(want))
		return
	}
	faults := 0
	for i := range got {
		if almostEqual(got[i], want[i], rel) {
			continue
		}
		tb.Errorf("%s[%d] = %.17g, want %.17g within %g (off by %.3g)", what, i, got[i], want[i], rel,
			math.Abs(got[i]-want[i])/math.Max(math.Abs(want[i]), tiny))
		if faults++; faults == 5 {
			tb.Errorf("%s: further differences not listed", what)
			return
		}
	}
}

func almostEqual(got, want, rel float64) bool {
	return math.Abs(got-want) <= rel*math.Max(math.Abs(want), tiny)
}
