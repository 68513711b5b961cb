package figures

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	month "evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

// measureOf is one measure of an injury type in the sample month.
func measureOf(t *testing.T, r *disclosure.Released, injury, measure string) words.Group {
	t.Helper()
	for _, g := range words.SymmetryGroups(r, injury) {
		if g.Measure == measure {
			return g
		}
	}
	t.Fatalf("no figures of %s, %s", injury, measure)
	return words.Group{}
}

func doseOf(t *testing.T, r *disclosure.Released, injury string) words.Group {
	t.Helper()
	for _, g := range words.Groups(r, "dose") {
		if g.InjuryType == injury {
			return g
		}
	}
	t.Fatalf("no figures of dose of %s", injury)
	return words.Group{}
}

// A picture of dose and return never stands without the sentence on what the
// landmark leaves, and is not drawn where the method refused.
func TestDoseSaysWhatTheLandmarkLeaves(t *testing.T) {
	r := month.Month(t)
	p, err := DoseThirds(r, doseOf(t, r, "achilles_tendinopathy"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(drawnText(t, p.SVG), words.LandmarkSentence) {
		t.Error("the sentence is missing")
	}
	if !strings.Contains(string(p.CSV), "thirds_contrast_standardised") {
		t.Error("the standardised contrast is not beside the picture")
	}
	var nothing *NothingShownError
	if _, err := DoseThirds(r, doseOf(t, r, "calf_strain")); !errors.As(err, &nothing) || !strings.Contains(nothing.Reason, "More than half") {
		t.Errorf("%v", err)
	}
}

func TestPicturesOfTheOtherQuestionsPassTheirChecks(t *testing.T) {
	r := month.Month(t)
	for name, draw := range map[string]func() (Plot, error){
		"index": func() (Plot, error) {
			return SymmetryCurve(r, measureOf(t, r, "calf_strain", "strength_plantarflexion"))
		},
		"girth": func() (Plot, error) { return SymmetryCurve(r, measureOf(t, r, "calf_strain", "girth_calf")) },
		"28 week": func() (Plot, error) {
			return SymmetryCurve(r, measureOf(t, r, "anterior_cruciate_reconstruction", "strength_knee_extension"))
		},
		"dose": func() (Plot, error) { return DoseThirds(r, doseOf(t, r, "achilles_tendinopathy")) },
		"type": func() (Plot, error) { return SafetyByType(r) },
		"site": func() (Plot, error) { return SafetyBySite(r) },
		"kind": func() (Plot, error) { return SafetyByKind(r) },
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
		for _, want := range []string{Caution, "batch 9", "1 July 2024", "made-up practice"} {
			if !strings.Contains(drawnText(t, p.SVG), want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
		if strings.Contains(string(p.SVG)+string(p.CSV), "NaN") {
			t.Errorf("%s holds a NaN", name)
		}
	}
}

// Every point of the index stands where its week and its value say, on the scale
// that the axis gives.
func TestTheIndexIsDrawnToScale(t *testing.T) {
	r := month.Month(t)
	g := measureOf(t, r, "calf_strain", "strength_plantarflexion")
	p, err := SymmetryCurve(r, g)
	if err != nil {
		t.Fatal(err)
	}
	sides := g.Along(r, "index_curve")
	marks := levelsOf(sides)
	low, high := marks[0].at, marks[len(marks)-1].at
	leads := corners(t, p.SVG, "stroke", blue5)
	leads = slices.DeleteFunc(leads, func(path [][2]float64) bool { return len(path) != len(sides) })
	if len(leads) != 2 {
		t.Fatalf("%d curves of %d points, want the involved side and the index", len(leads), len(sides))
	}
	index := leads[1]
	first, last := *sides[0].Value, *sides[len(sides)-1].Value
	scale := (index[len(index)-1][1] - index[0][1]) / (last - first)
	week := (index[len(index)-1][0] - index[0][0]) / 20
	for i, at := range index {
		if y := index[0][1] + scale*(*sides[i].Value-first); math.Abs(at[1]-y) > 0.02 {
			t.Errorf("week %g stands at height %g, want %g", *sides[i].X, at[1], y)
		}
		if x := index[0][0] + week**sides[i].X; math.Abs(at[0]-x) > 0.02 {
			t.Errorf("week %g stands at %g, want %g", *sides[i].X, at[0], x)
		}
	}
	ends := [2]float64{index[0][1] + scale*(low-first), index[0][1] + scale*(high-first)}
	for k, end := range ends {
		if !slices.ContainsFunc(corners(t, p.SVG, "stroke", rule), func(line [][2]float64) bool {
			return math.Abs(line[0][1]-end) < 0.02 && math.Abs(line[1][1]-end) < 0.02
		}) {
			t.Errorf("end %d of the axis from %g to %g is at height %g by the curve, and no line of the grid is there", k, low, high, end)
		}
	}
}

func TestSidesOfTooFewAreNotDrawn(t *testing.T) {
	r := month.Month(t)
	_, err := SymmetryCurve(r, measureOf(t, r, "distal_biceps_repair", "strength_elbow_flexion"))
	var nothing *NothingShownError
	if !errors.As(err, &nothing) || !strings.Contains(nothing.Reason, "elbow flexion") {
		t.Errorf("%v", err)
	}
	if _, err := SafetyByType(month.Empty(t)); !errors.As(err, &nothing) {
		t.Errorf("a practice without sessions: %v", err)
	}
}

func TestNoEventIsNoDotAtZero(t *testing.T) {
	p, err := SafetyByType(month.Month(t))
	if err != nil {
		t.Fatal(err)
	}
	if text := drawnText(t, p.SVG); !strings.Contains(text, "none seen: up to 11.9 per 1,000 sessions") {
		t.Errorf("%q", text)
	}
	if intervals := corners(t, p.SVG, "stroke", blue3); len(intervals) != 3 {
		t.Errorf("%d intervals, want the practice and the two types with events", len(intervals))
	}
}

func TestLevelMarksHoldTheData(t *testing.T) {
	for _, c := range [][2]float64{{0, 6.5}, {-1.4, -0.1}, {70.2, 96}, {0.0001, 0.0004}, {251, 461}, {5, 5}, {-2, 3}, {99.97, 100}} {
		marks := levelMarks(c[0], c[1])
		if marks[0].at > c[0] || marks[len(marks)-1].at < c[1]-1e-9 || len(marks) < 2 || len(marks) > 8 {
			t.Errorf("%v: %v", c, marks)
		}
		for i := 1; i < len(marks); i++ {
			if marks[i].label == marks[i-1].label {
				t.Errorf("%v: the label %q stands twice", c, marks[i].label)
			}
		}
	}
}
