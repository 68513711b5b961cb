package figures

import (
	"errors"
	"strings"
	"testing"

	"evenlimb/pipeline/result"
	month "evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

// The picture of the stages has a column every second week, names each layer
// with its last share, and passes its checks.
func TestStagesAreDrawn(t *testing.T) {
	r := month.Month(t)
	p, err := ReturnStages(r, "calf_strain")
	if err != nil {
		t.Fatal(err)
	}
	faults, err := Check(p.SVG)
	if err != nil || len(faults) > 0 {
		t.Errorf("%q, %v", faults, err)
	}
	said := drawnText(t, p.SVG)
	for _, want := range []string{"Back at their target", "Jogging in a straight line", "No stage of this ladder", "Ended otherwise", "Still followed and not yet back"} {
		if !strings.Contains(said, want) {
			t.Errorf("the picture does not say %q: %s", want, said)
		}
	}
	if n := strings.Count(string(p.CSV), "/stage.jogging@w"); n != 14 {
		t.Errorf("%d shares of a stage beside the picture", n)
	}
	var nothing *NothingShownError
	if _, err := ReturnStages(r, "hamstring_strain"); !errors.As(err, &nothing) || nothing.Reason != "" {
		t.Errorf("a type without stages: %v", err)
	}
}

// A column needs all that it is made of: it ends before a week that lacks a part.
func TestStagesEndBeforeAHole(t *testing.T) {
	set := month.Set()
	for i := range set.Figures {
		if f := &set.Figures[i]; f.ID == "return.calf_strain.24m/stage.jogging@w12" {
			f.Value, f.Low, f.High, f.StdError, f.Level = nil, nil, nil, nil, 0
			f.Status, f.Reason = result.Withheld, "Too few."
		}
	}
	r := month.Release(t, set, month.Context())
	g, _ := returnGroup(r, "calf_strain", "")
	stages := words.Stages(r, g)
	if weeks := stackWeeks(r, g, stages, g.Along(r, "stage."+stages[0].Code)); len(weeks) != 6 || weeks[5] != 10 {
		t.Errorf("columns at %v", weeks)
	}
}

// From the lightest to the darkest the steps of a ladder keep their order in grey.
func TestShadesDarken(t *testing.T) {
	for n := 2; n <= 10; n++ {
		before := 2.0
		for i := range n {
			ink := shade(i, n)
			l := luminance(ink.R, ink.G, ink.B)
			if l >= before-0.003 {
				t.Errorf("step %d of %d: luminance %.3f after %.3f", i, n, l, before)
			}
			before = l
		}
	}
}
