package truthcheck

import (
	"math"
	"testing"

	"evenlimb/pipeline/result"
	"evenlimb/seeds/practice"
)

// quartiles are sums over types of how far the standardised, and the raw, contrast
// of the quartiles of dose lies from its truth, and of the squares of its error.
type quartiles struct {
	types, covered          int
	off, raw, square, worst float64
	worstID                 string
}

// quartilesOf compares the contrasts of a month with their truth.
func quartilesOf(figures map[string]result.Figure, types []string, truth *practice.Truth) quartiles {
	var q quartiles
	for _, injury := range types {
		picture := result.PictureID("dose", injury, "", "", "", "", "24m")
		f, raw := figures[picture+"/quartiles_contrast_standardised@w26"], figures[picture+"/quartiles_contrast_raw@w26"]
		want, ok := truth.Find("dose." + injury + ".sets/quartiles_standardised@w26")
		if !ok || f.StdError == nil || raw.Value == nil {
			continue
		}
		off, square := *f.Value-want.Value, *f.StdError**f.StdError+want.SE*want.SE
		q.types++
		q.off += off
		q.raw += *raw.Value - want.Value
		q.square += square
		if *f.Low <= want.Value && want.Value <= *f.High {
			q.covered++
		}
		if z := math.Abs(off) / math.Sqrt(square); z > q.worst {
			q.worst, q.worstID = z, f.ID
		}
	}
	return q
}

func (q *quartiles) take(other quartiles) {
	q.types += other.types
	q.covered += other.covered
	q.off += other.off
	q.raw += other.raw
	q.square += other.square
	if other.worst > q.worst {
		q.worst, q.worstID = other.worst, other.worstID
	}
}

// hold fails when the mean over the types, or one type, lies farther off than so
// many standard errors (of one type: 4.5).
func (q quartiles) hold(t *testing.T, of string, most float64) {
	t.Helper()
	off, se := q.off/float64(q.types), math.Sqrt(q.square)/float64(q.types)
	t.Logf("%s: quartiles of %d types, raw %+.3f, standardised %+.3f (%.3f), %d intervals hold the truth, worst %.1f of %s",
		of, q.types, q.raw/float64(q.types), off, se, q.covered, q.worst, q.worstID)
	if q.types < 5 || math.Abs(off) > most*se || q.worst > 4.5 {
		t.Errorf("%s: the quartiles of dose are %.1f standard errors off their truth, one of %d types %.1f", of, off/se, q.types, q.worst)
	}
}
