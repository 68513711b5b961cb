package drift

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"evenlimb/pipeline/settings"
)

// whole judges a column as a whole: whether it empties, whether one value fills
// it, whether its numbers jump.
func (h *history) whole(p Profile) []Finding {
	var found []Finding
	at := place{p.Column, ""}
	share := float64(p.Filled) / float64(max(p.Rows, 1))
	if p.Rows >= leastRows {
		before, sure := shareMoved(p.Filled, p.Rows, h.shares(at, func(p Profile) int { return p.Filled }))
		if sure && before-share >= fillLeast && share <= before/2 {
			found = append(found, h.finding(p.Column, FillFalls, p.Rows, fmt.Sprintf(
				"%s was filled in in %s of the rows before and is in %s of the %d new ones; ask whether its export still has it", p.Column, percent(before), percent(share), p.Rows)))
		}
	}
	if p.Filled >= manyRows && p.Common != "" {
		now := float64(p.CommonCount) / float64(p.Filled)
		before, sure := shareMoved(p.CommonCount, p.Filled, h.commonest(at))
		if sure && now >= oneValueNow && before <= oneValueWas {
			found = append(found, h.finding(p.Column, OneValue, p.CommonCount, fmt.Sprintf(
				"%s has one and the same value in %s of the %d new rows, and before in %s at most; ask whether it is filled in by itself", p.Column, percent(now), p.Filled, percent(before))))
		}
	}
	if p.Measured {
		found = append(found, h.values(p)...)
	}
	return found
}

// shares are the earlier shares of one place: count of its rows.
func (h *history) shares(at place, count func(Profile) int) []group {
	var past []group
	for _, s := range h.past {
		p, ok := s.of[at]
		if !ok {
			// A code that was not sent has no profile; its column has one.
			p.Rows = s.of[place{at.column, ""}].Filled
		}
		if p.Rows > 0 {
			past = append(past, group{n: float64(p.Rows), x: float64(count(p)), value: float64(count(p)) / float64(p.Rows)})
		}
	}
	return past
}

// commonest are the earlier shares of whatever value was the commonest.
func (h *history) commonest(at place) []group {
	var past []group
	for _, s := range h.past {
		if p := s.of[at]; p.Filled >= leastRows && p.Common != "" {
			past = append(past, group{n: float64(p.Filled), x: float64(p.CommonCount), value: float64(p.CommonCount) / float64(p.Filled)})
		}
	}
	return past
}

// code judges the share of one code: whether it is new, whether it moved.
func (h *history) code(p Profile) []Finding {
	if p.Part[0] == '@' || p.Rows < manyRows {
		return nil
	}
	at := place{p.Column, p.Part}
	share := float64(p.Filled) / float64(p.Rows)
	past := h.shares(at, func(p Profile) int { return p.Filled })
	var n, x float64
	for _, g := range past {
		n, x = n+g.n, x+g.x
	}
	if x == 0 && n >= newPast && p.Filled >= newLeast && share >= newShare {
		words := fmt.Sprintf("%s is %s in %s of the %d new rows and never was in the %.0f before", p.Column, p.Part, percent(share), p.Rows, n)
		if near := settings.Near(p.Part, h.codesGone(p.Column)); near != "" {
			words += fmt.Sprintf("; %s, which it sent before, no longer comes: ask whether it is the same", near)
		} else {
			words += "; ask whether it is meant"
		}
		return []Finding{h.finding(p.Column, NewCode, p.Filled, words)}
	}
	before, sure := shareMoved(p.Filled, p.Rows, past)
	if sure && math.Abs(share-before) >= shareLeast {
		return []Finding{h.moved(p.Column, p.Part, before, share, p.Rows)}
	}
	return nil
}

func (h *history) moved(column, code string, before, share float64, rows int) Finding {
	return h.finding(column, ShareMoves, rows, fmt.Sprintf(
		"%s was %s in %s of the rows before and is in %s of the %d new ones; ask whether the work or the way of recording changed", column, code, percent(before), percent(share), rows))
}

// gone judges codes that were sent before and are not now.
func (h *history) gone() []Finding {
	var found []Finding
	seen := map[place]bool{}
	for _, s := range h.past {
		for at, p := range s.of {
			if at.part == "" || at.part[0] == '@' || p.Measured || seen[at] {
				continue
			}
			seen[at] = true
			if _, still := h.now.of[at]; still {
				continue
			}
			rows := h.now.of[place{at.column, ""}].Filled
			if rows < manyRows {
				continue
			}
			before, sure := shareMoved(0, rows, h.shares(at, func(p Profile) int { return p.Filled }))
			if sure && before >= shareLeast {
				found = append(found, h.moved(at.column, at.part, before, 0, rows))
			}
		}
	}
	return found
}

// codesGone are the codes of a column that came before and not now.
func (h *history) codesGone(column string) []string {
	var codes []string
	seen := map[string]bool{}
	for _, s := range h.past {
		for at := range s.of {
			if _, still := h.now.of[at]; at.column == column && at.part != "" && at.part[0] != '@' && !still && !seen[at.part] {
				seen[at.part] = true
				codes = append(codes, at.part)
			}
		}
	}
	slices.Sort(codes)
	return codes
}

// factors between units that are mistaken for each other.
var factors = []struct {
	times float64
	words string
}{
	{2.54, "an inch and a centimetre"},
	{1 / 0.45359237, "a pound and a kilogram"},
	{9.80665, "a kilogram of force and a newton"},
	{0.45359237 * 9.80665, "a pound of force and a newton"},
	{7.50062, "a kilopascal and a millimetre of mercury"},
	{10, "a centimetre and a millimetre"},
	{60, "a minute and a second"},
	{100, "a share of 1 and percent, or a metre and a centimetre"},
	{1000, "a second and a millisecond"},
}

// values judges numbers by their median.
func (h *history) values(p Profile) []Finding {
	var past []group
	for _, s := range h.past {
		if q := s.of[place{p.Column, p.Part}]; q.Measured && q.Filled > 0 {
			past = append(past, group{n: float64(q.Filled), value: q.Middle, width: q.High - q.Low})
		}
	}
	if p.Filled < unitRows {
		return nil
	}
	before, sure := medianMoved(group{n: float64(p.Filled), value: p.Middle, width: p.High - p.Low}, past)
	if !sure || before == 0 || p.Middle/before <= 0 {
		return nil
	}
	what := p.Column
	if p.Part != "" {
		what = p.Column + " of " + p.Part
	}
	ratio := p.Middle / before
	jump := fmt.Sprintf("the middle of %s was %s and is %s in the %d new values", what, round(before), round(p.Middle), p.Filled)
	if words := unitWords(ratio); words != "" {
		return []Finding{h.finding(p.Column, UnitJumps, p.Filled, jump+", "+words+"; ask in what unit it is recorded now, and say so in the layout")}
	}
	if p.Filled >= leastRows && (ratio >= jumpLeast || ratio <= 1/jumpLeast) {
		return []Finding{h.finding(p.Column, ValueJumps, p.Filled, jump+"; ask whether the unit or the way of measuring changed")}
	}
	return nil
}

// unitWords names the two units whose factor a ratio comes nearest to.
func unitWords(ratio float64) string {
	best, words := math.Log(1+unitNear), ""
	for _, f := range factors {
		if off := math.Abs(math.Abs(math.Log(ratio)) - math.Log(f.times)); off < best {
			best, words = off, "as "+f.words+" differ"
		}
	}
	return words
}

func percent(share float64) string { return strconv.Itoa(int(math.Round(100*share))) + " %" }

// round writes a number with three digits that count.
func round(v float64) string { return strconv.FormatFloat(v, 'g', 3, 64) }
