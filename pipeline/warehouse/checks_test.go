package warehouse_test

import (
	"context"
	"testing"

	"evenlimb/pipeline/checks"
	"evenlimb/pipeline/warehouse"
)

// TestChecksFindTheSameThingsEachNight runs the checks on two builds: findings
// are of known checks, each has a fingerprint of its own, and the same thing
// has the same one again.
func TestChecksFindTheSameThingsEachNight(t *testing.T) {
	all, err := checks.All()
	if err != nil {
		t.Fatal(err)
	}
	severity := map[string]string{}
	for _, c := range all {
		if c.Severity != checks.Note && c.Severity != checks.Attention || c.About == "" {
			t.Errorf("check %+v", c)
		}
		severity[c.Name] = c.Severity
	}
	seen := map[string]string{}
	for night := range 2 {
		path, _, _ := warehouse.BuildMade(t, 8, 60)
		findings, err := checks.Run(context.Background(), open(t, path))
		if err != nil {
			t.Fatal(err)
		}
		if len(findings) < 20 {
			t.Errorf("%d findings", len(findings))
		}
		found := map[string]bool{}
		for _, f := range findings {
			if severity[f.Check] != f.Severity || f.Subject == "" || f.Text == "" || f.Count < 0 {
				t.Errorf("finding %+v", f)
			}
			if found[f.Fingerprint] {
				t.Errorf("the fingerprint of %s, %s stands twice", f.Check, f.Subject)
			}
			found[f.Fingerprint] = true
			if what := f.Check + " " + f.Subject; night == 0 {
				seen[f.Fingerprint] = what
			} else if seen[f.Fingerprint] != what {
				t.Errorf("%s had another fingerprint the night before", what)
			}
		}
		for _, name := range []string{"waiting_rows", "date_after_batch", "end_before_start", "target_missing", "unit_missing", "goal_met_without_stage"} {
			has := false
			for _, f := range findings {
				has = has || f.Check == name
			}
			if !has {
				t.Errorf("nothing of %s, so it was not tested", name)
			}
		}
	}
}
