package sample

import (
	"fmt"
	"math"

	"evenlimb/pipeline/result"
)

// sides is how the two sides of one injury type go in the sample.
type sides struct {
	injury, measure, unit string
	persons               int
	start, end            float64 // involved less other: logarithm of the index, or centimetres
	level                 float64 // of the other side
	last                  int     // week up to which the curve is supported
	girth                 bool
	known                 bool // the error of measuring is known
}

var allSides = []sides{
	{injury: "calf_strain", measure: "strength_plantarflexion", unit: "N", persons: 120, start: -0.35, end: -0.06, level: 1180, last: 20},
	{injury: "calf_strain", measure: "girth_calf", unit: "cm", persons: 118, start: -1.4, end: -0.1, level: 37.4, last: 18, girth: true, known: true},
	{injury: "anterior_cruciate_reconstruction", measure: "strength_knee_extension", unit: "N", persons: 96, start: -0.6, end: -0.1, level: 455, last: 28, known: true},
	{injury: "distal_biceps_repair", measure: "strength_elbow_flexion", unit: "N", persons: 6, start: -0.4, end: -0.1, level: 210, last: 12},
}

// symmetry adds the figures of the two sides.
func (m *maker) symmetry() {
	for _, s := range allSides {
		m.sides(s)
	}
	for kind, n := range map[string][3]int{"strength": {602, 31, 27}, "girth": {598, 31, 31}} {
		began := m.sidesOf(kind, "began", n[0]+n[1]+n[2])
		for i, statistic := range []string{"pairs", "bilateral", "no_pair"} {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: began, Part: m.sidesOf(kind, statistic, n[i])})
		}
	}
	for _, limb := range []struct {
		kind, statistic, unit string
		value, half           float64
	}{
		{"strength", "worse_side_percent", "% of its baseline", 118, 10},
		{"strength", "other_side_percent", "% of its baseline", 109, 8},
		{"girth", "worse_side_change", "cm", 0.4, 0.3},
		{"girth", "other_side_change", "cm", -0.02, 0.2},
	} {
		m.side(sides{measure: limb.kind}, result.Figure{
			Statistic: limb.statistic, X: ptr(12.0), XUnit: "weeks", Unit: limb.unit, Value: ptr(limb.value), Low: ptr(limb.value - limb.half), High: ptr(limb.value + limb.half),
			Level: 0.95, StdError: ptr(limb.half / 2.1), Persons: ptr(17), Episodes: ptr(17),
		}, "w12")
	}
	for injury, persons := range map[string]int{"calf_strain": 120, "anterior_cruciate_reconstruction": 110} {
		for _, week := range []float64{6, 12, 26} {
			n := int(week / 40 * float64(persons))
			m.side(sides{injury: injury}, result.Figure{
				Statistic: "returned_already", X: ptr(week), XUnit: "weeks", Unit: "persons", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n),
			}, fmt.Sprintf("w%g", week))
		}
	}
}

// sidesOf adds a count of the whole practice, for all measures of a kind.
func (m *maker) sidesOf(kind, statistic string, n int) string {
	return m.side(sides{measure: kind}, result.Figure{Statistic: statistic, Unit: "episodes", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n)}, "")
}

func (m *maker) sides(s sides) {
	at := func(week float64) float64 { return s.end + (s.start-s.end)*math.Exp(-week/8) }
	figure := func(statistic string, week float64, unit string, v, half float64) {
		f := result.Figure{
			Statistic: statistic, X: ptr(week), XUnit: "weeks", Unit: unit, Value: ptr(v), Low: ptr(v - half), High: ptr(v + half), Level: 0.95,
			StdError: ptr(half / 1.96), Persons: ptr(s.persons), Episodes: ptr(s.persons),
		}
		m.side(s, f, fmt.Sprintf("w%g", week))
	}
	compared := func(statistic string, week float64) {
		if s.girth {
			figure(statistic, week, s.unit, at(week), 0.2)
			return
		}
		index := 100 * math.Exp(at(week))
		figure(statistic, week, "%", index, index/40)
	}
	typical, curve := "typical_index", "index_curve"
	if s.girth {
		typical, curve = "girth_difference", "girth_curve"
	}
	for w := 0; w <= s.last; w += 2 {
		week := float64(w)
		other := s.level * (1 - 0.001*week)
		involved := other + at(week)
		if !s.girth {
			involved = other * math.Exp(at(week))
		}
		compared(curve, week)
		m.spread(s, week, at(week))
		figure("involved_curve", week, s.unit, involved, s.level/60)
		figure("uninvolved_curve", week, s.unit, other, s.level/60)
	}
	for _, week := range []float64{6, 12, 26} {
		if week > float64(s.last) {
			m.side(s, result.Figure{
				Statistic: typical, X: ptr(week), XUnit: "weeks", Unit: "%", Persons: ptr(s.persons), Status: result.Withheld,
				Reason: fmt.Sprintf("Fewer than 10 persons were measured within 2 weeks of week %g.", week),
			}, fmt.Sprintf("w%g", week))
		} else {
			compared(typical, week)
			compared("plain_mean", week)
		}
		n := int(math.Exp(-week/12) * float64(s.persons))
		m.side(s, result.Figure{
			Statistic: "measured", X: ptr(week), XUnit: "weeks", Unit: "persons", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n),
		}, fmt.Sprintf("w%g", week))
	}
	if s.girth {
		figure("girth_percent", 12, "% of the other side", 100*at(12)/s.level, 0.5)
	} else {
		figure("baseline_index", 12, "%", 98*math.Exp(at(12)), 2)
		m.side(s, result.Figure{
			Statistic: "reached_90", X: ptr(26.0), XUnit: "weeks", Unit: "share", Value: ptr(0.61), Low: ptr(0.52), High: ptr(0.7), Level: 0.95,
			Persons: ptr(s.persons), Episodes: ptr(s.persons), Status: result.Provisional,
		}, "w26")
	}
	m.sideCounts(s)
}

// spread adds between which values the middle eight tenths lie.
func (m *maker) spread(s sides, week, at float64) {
	for i, statistic := range []string{"spread_low", "spread_middle", "spread_high"} {
		v, unit := at+0.7*float64(i-1), s.unit
		if !s.girth {
			v, unit = 100*math.Exp(at+0.13*float64(i-1)), "%"
		}
		m.side(s, result.Figure{
			Statistic: statistic, X: ptr(week), XUnit: "weeks", Unit: unit, Value: ptr(v), Persons: ptr(s.persons), Episodes: ptr(s.persons),
		}, fmt.Sprintf("w%g", week))
	}
}

// sideCounts adds the change since baseline.
func (m *maker) sideCounts(s sides) {
	count := func(statistic string, n int) string {
		return m.side(s, result.Figure{Statistic: statistic, Unit: "episodes", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n)}, "")
	}
	if !s.known {
		m.side(s, result.Figure{
			Statistic: "change_known", Unit: "episodes", Persons: ptr(0), Episodes: ptr(0), Status: result.Withheld, Reason: "The error of measuring is not known for this measure.",
		}, "")
		return
	}
	split := func(known int, whole, better, within, worse string) {
		improved, fell := known*6/10, known/8
		id := count(whole, known)
		for _, part := range []string{count(better, improved), count(within, known-improved-fell), count(worse, fell)} {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: id, Part: part})
		}
	}
	split(s.persons*3/4, "change_known", "improved", "no_real_change", "worse")
	split(s.persons*9/10, "change_known_last", "improved_last", "no_real_change_last", "worse_last")
	m.side(s, result.Figure{Statistic: "last_visit_weeks", Unit: "weeks", Value: ptr(14.3), Persons: ptr(s.persons * 9 / 10), Episodes: ptr(s.persons * 9 / 10)}, "")
	if !s.girth {
		split(s.persons*5/6, "judged_90", "clear_of_90", "undecided_90", "below_90")
		m.side(s, result.Figure{Statistic: "error_at_90", Unit: "points", Value: ptr(6.1), Persons: ptr(s.persons * 5 / 6), Episodes: ptr(s.persons * 5 / 6)}, "")
	}
}

// Raises returns the figures of a measure that can be zero, for tests that add them
// to a set: heel raises of 44 people with a calf strain.
func Raises() []result.Figure {
	m := &maker{}
	add := func(statistic string, week, v, half float64, unit string) {
		m.side(sides{injury: "calf_strain", measure: "heel_raises"}, result.Figure{
			Statistic: statistic, X: ptr(week), XUnit: "weeks", Value: ptr(v), Low: ptr(v - half), High: ptr(v + half), Level: 0.95, Unit: unit,
			Persons: ptr(44), Episodes: ptr(44),
		}, fmt.Sprintf("w%g", week))
	}
	const percent = "% of the other side's baseline"
	for week := 0.0; week <= 14; week += 2 {
		add("difference_curve", week, -60*math.Exp(-week/9), 6, percent)
		add("involved_curve", week, 22-14*math.Exp(-week/9), 1, "{rep}")
		add("uninvolved_curve", week, 22, 1, "{rep}")
	}
	add("baseline_difference", 12, -16, 6, percent)
	add("at_zero", 12, 0.16, 0.1, "share")
	return m.set.Figures
}

func (m *maker) side(s sides, f result.Figure, x string) string {
	f.Question, f.Measure, f.InjuryType = "symmetry", s.measure, s.injury
	f.Method = "linear mixed model"
	f.ID = result.ID(result.PictureID("symmetry", s.injury, "", "", "", s.measure, "24m"), f.Statistic, x)
	m.keep(f)
	return f.ID
}
