package figures

import (
	"strings"
	"testing"

	month "evenlimb/reports/internal/sample"
)

func TestPictureOfWhatCanBeZero(t *testing.T) {
	set := month.Set()
	set.Figures = append(set.Figures, month.Raises()...)
	r := month.Release(t, set, month.Context())
	p, err := SymmetryCurve(r, measureOf(t, r, "calf_strain", "heel_raises"))
	if err != nil {
		t.Fatal(err)
	}
	faults, err := Check(p.SVG)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		t.Error(f)
	}
	for _, want := range []string{"behind the other by 16", "repetitions", "below 0"} {
		if !strings.Contains(strings.ReplaceAll(string(p.SVG), "\u00a0", " "), want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
}
