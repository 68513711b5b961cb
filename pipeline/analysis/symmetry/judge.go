package symmetry

import "evenlimb/pipeline/warehouse"

// Judged is what is said of one measurement of one person, and by which error.
type Judged struct {
	Verdict string  // clear_of, undecided, below; improved, no_real_change, worse
	Error   float64 // half the 95 % interval, or the smallest real change, in the unit told
}

// JudgeIndex sets the index of a visit beside a threshold in percent, by the same
// rule as the figures count it; false where the measure is not told as an index,
// its error is not known, or there is no index.
func JudgeIndex(p warehouse.SidePair, threshold int) (Judged, bool) {
	s, ok := measureOf(p.Measure)
	if !ok || (!s.ratio && !s.zero) {
		return Judged{}, false
	}
	verdict, points, ok := s.besideThreshold(p, float64(threshold))
	return Judged{verdict, points}, ok
}

// DifferenceError is half the 95 % interval of a difference of girth between the
// two sides: two values differ by their errors as two measurements of one side do.
// False for measures told as an index, and where no error is known.
func DifferenceError(p warehouse.SidePair) (cm float64, ok bool) {
	s, ok := measureOf(p.Measure)
	if !ok || s.ratio || s.zero {
		return 0, false
	}
	limit := s.realChange(p.SameRater)
	if limit == nil {
		return 0, false
	}
	return *limit, true
}

// JudgeChange sets a change from baseline against the error of measuring, by the
// same rule as the figures count it; false where no error is known.
func JudgeChange(c warehouse.LimbChange) (Judged, bool) {
	s, ok := measureOf(c.Measure)
	if !ok {
		return Judged{}, false
	}
	verdict, ok := s.verdict(c)
	if !ok {
		return Judged{}, false
	}
	return Judged{verdict, *s.realChange(c.SameRater)}, true
}

// IsImportant says whether a change from baseline, in either direction, is as large
// as the minimal important one; false for ok where none is known.
func IsImportant(c warehouse.LimbChange) (important, ok bool) {
	s, ok := measureOf(c.Measure)
	if !ok || s.mic == nil {
		return false, false
	}
	gain := s.gain(c)
	return gain >= *s.mic || gain <= -*s.mic, true
}
