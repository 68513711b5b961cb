package pages

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"evenlimb/reports/internal/sample"
)

// TestWorkAndScoresStandInThePage holds that the chapters are there, scores
// before what follows them, and that what fewer than the floor did is not.
func TestWorkAndScoresStandInThePage(t *testing.T) {
	page := strings.ReplaceAll(html.UnescapeString(monthly(t, sample.Month(t))), "\u00a0", " ")
	at := 0
	for _, want := range []string{
		"Pain and scores, where most people keep up their activity", "How many are back at their target", `id="scores"`, `id="scores-achilles_tendinopathy"`, `id="scores-calf_strain"`,
		`id="progression"`, "Half with a first step by", "Level of the ladder", "Done of what was planned", `id="tolerance"`, "Leg press", "none seen",
	} {
		next := strings.Index(page[at:], want)
		if next < 0 {
			t.Fatalf("the page does not say %q after its byte %d", want, at)
		}
		at += next
	}
	for _, want := range []string{"typically 41.0 at the start of care and 56.0 at week 12", "not reached", "7 % (6 to 8)"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, id := range []string{"progression", "tolerance", "scores"} {
		if strings.Contains(html.UnescapeString(monthly(t, sample.Empty(t))), `id="`+id+`"`) {
			t.Errorf("an empty month has the chapter %s", id)
		}
	}
}
