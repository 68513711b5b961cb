package whole

import (
	"fmt"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/pipeline/testkit"
)

// doseFlow are the counts to the landmark; leftOut, of the whole practice, why
// people are not among those analysed.
var (
	doseFlow = []string{"began", "left_out", "analysed", "no_cuff_work", "some_cuff_work"}
	leftOut  = []string{"at_target", "no_usable", "returned", "ended_otherwise", "in_care", "lost", "left_otherwise", "dose_unknown"}
)

func TestDosesAreThoseOfR(t *testing.T) {
	p := built(t)
	a := testkit.Reference(t, "whole/dose")
	for _, reason := range leftOut {
		p.counts(t, result.ID(result.PictureID("dose", "", "", "", "", "", "24m"), "left_out."+reason, ""), a.Float("left_out."+reason))
	}
	for _, injury := range types {
		picture := result.PictureID("dose", injury, "", "", "", "", "24m")
		for _, statistic := range doseFlow {
			p.counts(t, result.ID(picture, statistic, ""), a.Float(injury+"."+statistic))
		}
		for name, stem := range map[string]string{"sets": "sets_per_week", "pressure_minutes": "pressure_minutes", "sessions": "sessions_per_week"} {
			want := a.Floats(injury + "." + name + "_quartiles")
			for i, suffix := range []string{"_lower_quartile", "_median", "_upper_quartile"} {
				id := result.ID(picture, stem+suffix, "")
				near(t, id, p.figure(t, id).Value, want[i], ofCurves)
			}
		}
		id := result.ID(picture, "plan_sets_share", "")
		near(t, id, p.figure(t, id).Value, a.Float(injury+".plan_sets_share"), ofCurves)

		at := fmt.Sprintf("w%g", a.Float(injury+".week"))
		thirds := injury + ".thirds"
		value, se, low, high, n := a.Floats(thirds+".value"), a.Floats(thirds+".se"), a.Floats(thirds+".low"), a.Floats(thirds+".high"), a.Floats(thirds+".episodes")
		for i, statistic := range []string{"returned_low_third", "returned_middle_third", "returned_high_third"} {
			id := result.ID(picture, statistic, at)
			f := p.figure(t, id)
			near(t, id, f.Value, value[i], ofCurves)
			near(t, id+" error", errorOf(f), se[i], ofCurves)
			near(t, id+" low", limit(f, f.Low), low[i], ofCurves)
			near(t, id+" high", limit(f, f.High), high[i], ofCurves)
			testkit.AlmostEqual(t, id+" episodes", float64(*f.Episodes), n[i], 0)
		}
		for name, statistic := range map[string]string{"contrast_raw": "thirds_contrast_raw", "contrast_standardised": "thirds_contrast_standardised"} {
			id := result.ID(picture, statistic, at)
			near(t, id, p.figure(t, id).Value, a.Float(injury+"."+name), ofCurves)
		}
	}
}
