package symmetry

import (
	"math"
	"testing"

	"evenlimb/pipeline/warehouse"
)

const (
	bothStrength = "symmetry.strength.24m/"
	bothGirth    = "symmetry.girth.24m/"
)

// twoSided begins an episode with both sides involved.
func (in *Input) twoSided() int {
	key := in.begin(300)
	in.Episodes[key-1].Bilateral = true
	return key
}

func (in *Input) limb(key int, measure, limb string, day int, value, baseline float64) {
	e := in.Episodes[key-1]
	in.Both = append(in.Both, warehouse.BilateralChange{
		LimbChange: warehouse.LimbChange{
			EpisodeKey: key, PersonKey: e.PersonKey, Site: e.Site, InjuryType: e.InjuryType, StartDate: e.StartDate,
			Measure: measure, Day: day, Value: value, Baseline: baseline,
		},
		Limb: limb,
	})
}

// TestEachLimbBesideItsBaseline has ten people whose worse sides stand at 121 and
// 144 % of their baselines, the logarithms being twice ln 1.1 and twice ln 1.2.
func TestEachLimbBesideItsBaseline(t *testing.T) {
	in := input()
	for i := range 10 {
		key := in.twoSided()
		in.limb(key, force, "worse", 84, []float64{121, 144}[i%2], 100)
		in.limb(key, force, "worse", 90, 500, 100) // later, and farther off
		in.limb(key, "girth_calf", "worse", 42, 36.5, 36)
		in.limb(key, "girth_thigh_10", "worse", 42, 44.1, 44) // with the calf: 0.3
		if i > 0 {
			in.limb(key, force, "other", 84, 110, 100) // nine are too few
		}
	}
	f := figures(t, in)
	g := f[bothStrength+"worse_side_percent@w12"]
	closeTo(t, "strength", g.Value, 100*1.1*1.2)
	// Five of either value: deviations of ln(1.2/1.1) either way, variance 10 d^2/9, error d/3.
	d := math.Log(1.2 / 1.1)
	closeTo(t, "error", g.StdError, 132*d/3)
	closeTo(t, "low", g.Low, 132*math.Exp(-2.2621571627409915*d/3)) // t with 9 degrees of freedom
	if *g.Persons != 10 || *g.Episodes != 10 || g.Unit != "% of its baseline" {
		t.Errorf("%d people, %d episodes, unit %s", *g.Persons, *g.Episodes, g.Unit)
	}
	closeTo(t, "girth", f[bothGirth+"worse_side_change@w6"].Value, 0.3)
	for _, id := range []string{bothStrength + "other_side_percent@w12", bothStrength + "worse_side_percent@w6", bothGirth + "worse_side_change@w12"} {
		if _, ok := f[id]; ok {
			t.Errorf("%s rests on fewer than ten people", id)
		}
	}
}
