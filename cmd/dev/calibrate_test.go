package main

import (
	"bytes"
	"strings"
	"testing"
)

// What cannot be is refused with what there is.
func TestCalibrateRefusesWhatIsNotThere(t *testing.T) {
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"-condition", "bass"}, 64, "there are base, episodes-300"},
		{[]string{"-figures", "sharew6"}, 64, "there are share-w6"},
		{[]string{"-seeds", "-1"}, 64, "usage"},
		{[]string{"more"}, 64, "usage"},
		{[]string{"-dir", t.TempDir(), "-condition", "base"}, 1, "calibrate -truth"},
	} {
		var out, wrong bytes.Buffer
		code := runCalibrate(t.Context(), c.args, &out, &wrong)
		if code != c.code || !strings.Contains(strings.ToLower(wrong.String()), c.says) {
			t.Errorf("%q: %d, %q", c.args, code, wrong.String())
		}
	}
}
