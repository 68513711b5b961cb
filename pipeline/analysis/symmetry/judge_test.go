package symmetry

import (
	"testing"

	"evenlimb/pipeline/warehouse"
)

// What is said of one person follows the rules by which the figures count.
func TestJudgementsOnOnePerson(t *testing.T) {
	if got, ok := JudgeIndex(pairOf(knee, 450, true), 90); !ok || got.Verdict != undecided {
		t.Errorf("index of 90: %v, %v", got, ok)
	}
	if got, ok := JudgeIndex(pairOf("girth_calf", 450, true), 90); ok {
		t.Errorf("girth has no index, and is judged %v", got)
	}
	girth := warehouse.SidePair{Measure: "girth_calf", Involved: 36, Uninvolved: 37, SameRater: true}
	if got, ok := DifferenceError(girth); !ok || got != 0.5 {
		t.Errorf("one rater: %v, %v", got, ok)
	}
	girth.SameRater = false
	if got, ok := DifferenceError(girth); !ok || got != 0.65 {
		t.Errorf("two raters: %v, %v", got, ok)
	}
	girth.Measure = "girth_arm"
	if got, ok := DifferenceError(girth); ok {
		t.Errorf("an error of %v that nobody knows", got)
	}
	if got, ok := DifferenceError(pairOf(knee, 450, true)); ok {
		t.Errorf("strength is told as an index, and a difference has the error %v", got)
	}
	change := warehouse.LimbChange{Measure: "girth_calf", Value: 36.51, Baseline: 36, SameRater: true}
	if got, ok := JudgeChange(change); !ok || got != (Judged{improved, 0.5}) {
		t.Errorf("a change of 0.51 cm: %v, %v", got, ok)
	}
	if _, ok := IsImportant(change); ok {
		t.Error("important change of girth is not known")
	}
	for value, want := range map[float64]bool{26.5: true, 26.4: false, 13.5: true} {
		if got, ok := IsImportant(warehouse.LimbChange{Measure: "strength_grip", Value: value, Baseline: 20}); !ok || got != want {
			t.Errorf("grip from 20 to %v kg: %v, %v", value, got, ok)
		}
	}
}
