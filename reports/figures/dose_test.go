package figures

import (
	"errors"
	"math"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	month "evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

// The pictures of dose pass the checks of all pictures and never stand without the
// sentence on what the landmark leaves.
func TestPicturesOfDosePassTheirChecks(t *testing.T) {
	r := month.Month(t)
	for name, draw := range map[string]func() (Plot, error){
		"curve":  func() (Plot, error) { return DoseCurve(r, doseOf(t, r, "achilles_tendinopathy")) },
		"pooled": func() (Plot, error) { return DosePooled(r) },
	} {
		p, err := draw()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		faults, err := Check(p.SVG)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, f := range faults {
			t.Errorf("%s: %s", name, f)
		}
		text := drawnText(t, p.SVG)
		for _, want := range []string{Caution, "batch 9", "1 July 2024", "made-up practice", words.LandmarkSentence} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
		if strings.Contains(string(p.SVG)+string(p.CSV), "NaN") {
			t.Errorf("%s holds a NaN", name)
		}
	}
}

// The curve is drawn to the scale of its axis: at the reference it stands on 0, and
// one point of the scale is everywhere as high.
func TestTheCurveOfDoseIsDrawnToScale(t *testing.T) {
	r := month.Month(t)
	g := doseOf(t, r, "achilles_tendinopathy")
	p, err := DoseCurve(r, g)
	if err != nil {
		t.Fatal(err)
	}
	shown := g.Along(r, "dose_curve")
	var lead [][2]float64
	for _, path := range corners(t, p.SVG, "stroke", blue5) {
		if len(path) == len(shown) {
			lead = path
		}
	}
	if lead == nil {
		t.Fatalf("no curve of %d doses", len(shown))
	}
	first, last := lead[0], lead[len(lead)-1]
	scale := (last[1] - first[1]) / (*shown[len(shown)-1].Value - *shown[0].Value)
	for i, at := range lead {
		if y := first[1] + scale*(*shown[i].Value-*shown[0].Value); math.Abs(at[1]-y) > 0.02 {
			t.Errorf("%g sets stand at height %g, want %g", *shown[i].X, at[1], y)
		}
		if *shown[i].Value == 0 {
			zero := at[1]
			found := false
			for _, line := range corners(t, p.SVG, "stroke", rule) {
				found = found || (len(line) == 2 && math.Abs(line[0][1]-zero) < 0.02 && math.Abs(line[1][1]-zero) < 0.02)
			}
			if !found {
				t.Error("no line of the grid at no difference")
			}
		}
	}
	if !strings.Contains(drawnText(t, p.SVG), "reference") {
		t.Error("the reference is not named")
	}
	if !strings.Contains(string(p.CSV), "dose_curve_raw") {
		t.Error("the raw curve is not among the numbers")
	}
}

// Where doses are not compared nothing is drawn, and the reason is kept; nor is a
// mean of the types drawn where there is none.
func TestNoCurveWhereDosesAreNotCompared(t *testing.T) {
	r := month.Month(t)
	var nothing *NothingShownError
	if _, err := DoseCurve(r, doseOf(t, r, "calf_strain")); !errors.As(err, &nothing) {
		t.Errorf("%v", err)
	}
	if _, err := DosePooled(month.Empty(t)); !errors.As(err, &nothing) || !strings.Contains(nothing.Reason, "Fewer than two") {
		t.Errorf("%v", err)
	}
	if _, err := DoseCurve(&disclosure.Released{}, words.Group{}); err == nil {
		t.Error("figures that did not come through the gate are drawn")
	}
}
