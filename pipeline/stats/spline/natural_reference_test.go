package spline_test

import (
	"testing"

	"evenlimb/pipeline/stats/spline"
	"evenlimb/pipeline/testkit"
)

// tolerance is a hundred times tighter than what the basis owes its reference.
const tolerance = 1e-12

func TestNaturalAgreesWithReference(t *testing.T) {
	a := testkit.Reference(t, "spline/natural")
	for _, set := range []string{"weeks", "mcycle", "women", "cars", "oats", "sleep", "chicks", "motor"} {
		x := a.Column("natural_"+set+".csv", "x")
		for _, form := range []string{"plain", "constant"} {
			name := set + "." + form
			boundary := a.Floats(name + ".boundary")
			b, err := spline.NewNatural(a.Floats(name+".knots"), boundary[0], boundary[1], a.Float(name+".intercept") == 1)
			if err != nil {
				t.Fatal(name, err)
			}
			columns, err := b.Design(x)
			if err != nil {
				t.Fatal(name, err)
			}
			var design []float64
			for i := range x {
				for j := range columns {
					design = append(design, columns[j][i])
				}
			}
			testkit.AllAlmostEqual(t, name+" design", design, a.Floats(name+".design"), tolerance)
			var outside []float64
			for _, x := range a.Floats(name + ".at") {
				row, err := b.Row(x)
				if err != nil {
					t.Fatal(name, err)
				}
				outside = append(outside, row...)
			}
			testkit.AllAlmostEqual(t, name+" outside", outside, a.Floats(name+".outside"), tolerance)
		}
	}
}
