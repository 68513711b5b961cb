package figures

import (
	"errors"
	"strings"
	"testing"

	"evenlimb/pipeline/disclosure"
	month "evenlimb/reports/internal/sample"
	"evenlimb/reports/words"
)

func TestPicturesOfWorkAndScores(t *testing.T) {
	r, empty := month.Month(t), month.Empty(t)
	score := func(r *disclosure.Released) (Plot, error) {
		g, _ := words.LeadingScore(r, "achilles_tendinopathy")
		return ScoreCurve(r, g)
	}
	for name, c := range map[string]struct {
		draw func(*disclosure.Released) (Plot, error)
		says []string // in the picture or beside it
		rows int      // of the table
	}{
		"progression.first_step":                  {FirstStep, []string{"by week 4.5", "4.1 to 5.0", "Anterior cruciate ligament reconstruction", "not reached"}, 4},
		"tolerance.by_band":                       {ToleranceByBand, []string{"8.0 to 12.5", "Without the cuff", "none of this says what a pressure does"}, 4},
		"scores.pain":                             {PainByType, []string{"Typical pain near week 12", "Calf strain", "2.6 (2.3 to 2.9)"}, 5},
		"scores.achilles_tendinopathy.visa_a.24m": {score, []string{"VISA-A score: 0 to 100, more is better", "People who answered near the week", "63.5"}, 8},
	} {
		plot, err := c.draw(r)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if plot.Name != name {
			t.Errorf("the picture %s is called %s", name, plot.Name)
		}
		text := strings.NewReplacer("\u00a0", " ", "&#160;", " ").Replace(string(plot.SVG))
		for _, says := range c.says {
			if !strings.Contains(text, says) {
				t.Errorf("%s does not say %q", name, says)
			}
		}
		if got := strings.Count(string(plot.CSV), "\n") - 1; got != c.rows {
			t.Errorf("%s has %d rows beside it, want %d:\n%s", name, got, c.rows, plot.CSV)
		}
		var nothing *NothingShownError
		if _, err := c.draw(empty); !errors.As(err, &nothing) {
			t.Errorf("%s of an empty month: %v", name, err)
		}
	}
}
