package calibrate

import (
	"slices"
	"sync"
	"testing"
)

// committed is where truths and results lie, from this package's folder.
const committed = "../../../testdata/calibration"

// smokeReplicates and smokePeople keep the smoke test within its time; the
// calibration itself draws practices of 2,500 episodes, 2,000 times. All of their
// starts lie in the 24 months looked at.
const (
	smokeReplicates = 40
	smokePeople     = 600
)

var allAnalyses = func() []string {
	var names []string
	for _, a := range Analyses {
		names = append(names, a.Name)
	}
	return names
}()

// TestSmoke is a smoke version of the base condition: few replicates of a
// smaller practice, with limits at 99.9 %. It sees an interval that is badly
// wrong, not one that is a little too narrow. What it finds must fail where the
// truth is moved by one and a half standard errors, or the intervals are halved.
func TestSmoke(t *testing.T) {
	c := Conditions[0]
	c.Scenario.Episodes, c.Scenario.Months = smokePeople, windowMonths
	truth, err := ReadTruth(committed, Conditions[0])
	if err != nil {
		t.Fatal(err)
	}
	byFigure := map[string][]Outcome{}
	for _, outcomes := range smoke(t, c) {
		for _, o := range outcomes {
			byFigure[o.Figure] = append(byFigure[o.Figure], o)
		}
	}
	for _, f := range Figures {
		value, se, _ := truth.Of(f)
		outcomes := byFigure[f.Name]
		j := Smoke.Judge(c, f, value, se, outcomes)
		t.Logf("%-12s covers %d of %d, off by %+.2f SE, %d withheld: %s", f.Name, j.Cover.Count, j.Cover.N, j.Off, j.Withheld, j.Verdict())
		if len(j.Fails) > 0 {
			t.Errorf("%s: %q: covers %d of %d, off by %+.2f SE", f.Name, j.Fails, j.Cover.Count, j.Cover.N, j.Off)
		}
		if j.Cover.N < smokeReplicates/2 {
			t.Errorf("%s: only %d of %d replicates give an interval", f.Name, j.Cover.N, smokeReplicates)
		}
		if moved := Smoke.Judge(c, f, value+1.5*j.SE, se, outcomes); len(moved.Fails) == 0 {
			t.Errorf("%s: holds although its truth was moved by 1.5 SE", f.Name)
		}
		halved := slices.Clone(outcomes)
		for i, o := range halved {
			middle := (o.Low + o.High) / 2
			halved[i].Low, halved[i].High = (o.Low+middle)/2, (o.High+middle)/2
		}
		if narrow := Smoke.Judge(c, f, value, se, halved); narrow.Cover.Count >= j.Cover.Count {
			t.Errorf("%s: intervals of half the width hold the truth as often", f.Name)
		}
	}
}

// smoke runs the replicates side by side.
func smoke(t *testing.T, c Condition) [][]Outcome {
	t.Helper()
	all, failed := make([][]Outcome, smokeReplicates), make([]error, smokeReplicates)
	var group sync.WaitGroup
	for from := range 2 {
		group.Go(func() {
			for i := from; i < smokeReplicates; i += 2 {
				all[i], failed[i] = Replicate(t.Context(), c, i+1, allAnalyses)
			}
		})
	}
	group.Wait()
	for _, err := range failed {
		if err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// TestTruthsAreOfTodaysGenerator reads every committed truth, and computes that
// of the base again from fewer people.
func TestTruthsAreOfTodaysGenerator(t *testing.T) {
	for _, c := range Conditions {
		truth, err := ReadTruth(committed, c)
		if err != nil {
			t.Error(err)
			continue
		}
		if len(truth.Values) < len(Figures) {
			t.Errorf("%s: %d values for %d figures", c.Name, len(truth.Values), len(Figures))
		}
	}
	kept, err := ReadTruth(committed, Conditions[0])
	if err != nil {
		t.Fatal(err)
	}
	again, err := practiceTruth(Conditions[0], 10_000, 2_000)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range Figures {
		want, wantSE, _ := kept.Of(f)
		got, se, ok := again.Of(f)
		if off := (got - want) / (se + wantSE); !ok || off > 5 || off < -5 {
			t.Errorf("%s: %.4f from fewer people, the file has %.4f: %.1f standard errors off", f.Name, got, want, off)
		}
	}
}
