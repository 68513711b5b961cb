package calibrate

import (
	"testing"

	"evenlimb/seeds/practice"
)

// TestRowsInMemoryAreThoseOfTheWarehouse takes one small practice with
// everything in it through files, intake and warehouse. `cmd/dev calibrate
// -files` does so with 20 of every condition.
func TestRowsInMemoryAreThoseOfTheWarehouse(t *testing.T) {
	s := practice.Default()
	s.Episodes, s.Months = 220, 12
	s.BoutGaps, s.CovariateGaps = 0.1, 0.1
	p, err := practice.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	inMemory, err := Publish(p)
	if err != nil {
		t.Fatal(err)
	}
	fromFiles, err := FromFiles(t.Context(), t.TempDir(), p)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range Differences(inMemory, fromFiles) {
		t.Error(d)
	}
	brief, err := practice.DrawBrief(s)
	if err != nil {
		t.Fatal(err)
	}
	inBrief, err := Publish(brief)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range Differences(inBrief, fromFiles) {
		t.Errorf("drawn in brief: %s", d)
	}
	if len(inMemory.Pairs) < 500 || len(inMemory.Dose) < 200 || len(inMemory.Events) < 100 {
		t.Errorf("%d pairs, %d episodes, %d events: too few to compare", len(inMemory.Pairs), len(inMemory.Dose), len(inMemory.Events))
	}
	inMemory.Pairs[7].Involved += 1e-6
	if len(Differences(inMemory, fromFiles)) != 1 {
		t.Error("a value that is off was not seen")
	}
}
