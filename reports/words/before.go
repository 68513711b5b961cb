package words

import (
	"fmt"
	"math"

	"evenlimb/pipeline/disclosure"
)

// What stands in place of the value of the month before where there is none.
const (
	FirstReport = "first report" // there is no report of the month before
	NotStated   = "not stated"   // that report did not hold the figure
)

// firstReport says so on the first page.
const firstReport = "There is no report of the month before: this is the first report, and nothing stands beside its figures."

// MonthBefore heads the values as they were published the month before.
const MonthBefore = "A month before"

// Before is a figure's value as it was published the month before, not as it
// would be computed today.
func Before(r *disclosure.Released, f disclosure.Shown) string {
	switch p, ok := r.Before(f.ID); {
	case !r.HasBefore():
		return FirstReport
	case !ok:
		return NotStated
	default:
		return p.Text
	}
}

// withBefore puts the value of the month before behind a sentence on a figure:
// a share that the sentence tells as people out of so many in the same way;
// outOf is 0 for any other figure. Where there is no report of that month the
// page says so once.
func (s Sentence) withBefore(r *disclosure.Released, f disclosure.Shown, outOf int) Sentence {
	if !r.HasBefore() {
		return s
	}
	text := Before(r, f)
	if p, ok := r.Before(f.ID); ok && p.Value != nil && outOf > 0 {
		text = fmt.Sprintf("about %.0f", math.Round(*p.Value*float64(outOf)))
	}
	s.Text += " " + MonthBefore + ": " + text + "."
	return s
}
