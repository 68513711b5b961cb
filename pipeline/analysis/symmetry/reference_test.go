package symmetry

import (
	"testing"

	"evenlimb/pipeline/testkit"
)

// TestZerosAndBothLimbsAgreeWithR takes people measured in R's script through the
// analysis.
func TestZerosAndBothLimbsAgreeWithR(t *testing.T) {
	a := testkit.Reference(t, "symmetry/raises")
	in := input()
	in.Rules.HorizonWeeks = []int{6, 12}
	episodes, sites, severities := a.Column("raises.csv", "episode"), a.Text("raises.csv", "site"), a.Text("raises.csv", "severity")
	days, involved, uninvolved, baseline := a.Column("raises.csv", "day"), a.Column("raises.csv", "involved"), a.Column("raises.csv", "uninvolved"), a.Column("raises.csv", "baseline")
	for i := range episodes {
		if i == 0 || episodes[i] != episodes[i-1] {
			key := in.begin(300)
			in.Episodes[key-1].Site, in.Episodes[key-1].Severity = sites[i], severities[i]
		}
		in.pair(int(episodes[i]), raises, int(days[i]), involved[i], uninvolved[i])
		in.Pairs[len(in.Pairs)-1].UninvolvedBaseline = number(baseline[i])
	}
	limbs := map[float64]int{} // episodes of both.csv
	value, base := a.Column("both.csv", "value"), a.Column("both.csv", "baseline")
	on, which := a.Column("both.csv", "day"), a.Text("both.csv", "limb")
	for i, episode := range a.Column("both.csv", "episode") {
		if limbs[episode] == 0 {
			limbs[episode] = in.twoSided()
		}
		in.limb(limbs[episode], force, which[i], int(on[i]), value[i], base[i])
	}
	f := figures(t, in)
	for week, id := range map[string]string{"week_6": "baseline_difference@w6", "week_12": "baseline_difference@w12"} {
		g, want := f[raiseID+id], a.Floats(week)
		for i, got := range []*float64{g.Value, g.StdError, g.Low, g.High} {
			testkit.AlmostEqual(t, id, *got, want[i], 1e-6)
		}
		testkit.AlmostEqual(t, id+" persons", float64(*g.Persons), a.Float("persons"), 0)
	}
	zero, want := f[raiseID+"at_zero@w6"], a.Floats("at_zero")
	for i, got := range []*float64{zero.Value, zero.Low, zero.High} {
		testkit.AlmostEqual(t, "at zero", *got, want[i], 1e-9)
	}
	for _, limb := range []string{"worse", "other"} {
		g, want := f[bothStrength+limb+"_side_percent@w12"], a.Floats(limb)
		for i, got := range []*float64{g.Value, g.Low, g.High} {
			testkit.AlmostEqual(t, limb, *got, want[i], 1e-9)
		}
	}
	a.Floats("fixed") // printed for whoever reads the answers
	a.Floats("sd")
}
