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
		for statistic, share := range map[string]float64{"measured": math.Exp(-week / 12), "returned_already": week / 40} {
			n := int(share * float64(s.persons))
			m.side(s, result.Figure{
				Statistic: statistic, X: ptr(week), XUnit: "weeks", Unit: "persons", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n),
			}, fmt.Sprintf("w%g", week))
		}
	}
	if !s.girth {
		figure("baseline_index", 12, "%", 98*math.Exp(at(12)), 2)
		m.side(s, result.Figure{
			Statistic: "reached_90", X: ptr(26.0), XUnit: "weeks", Unit: "share", Value: ptr(0.61), Low: ptr(0.52), High: ptr(0.7), Level: 0.95,
			Persons: ptr(s.persons), Episodes: ptr(s.persons), Status: result.Provisional,
		}, "w26")
	}
	m.sideCounts(s)
}

// sideCounts adds the flow and the change since baseline.
func (m *maker) sideCounts(s sides) {
	began := 0
	for _, k := range kinds {
		if k.injury == s.injury {
			began = k.sites[0] + k.sites[1] + k.sites[2]
		}
	}
	count := func(statistic string, n int) string {
		f := result.Figure{Statistic: statistic, Unit: "episodes", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n)}
		if !s.known && (statistic == "change_known" || statistic == "improved" || statistic == "no_real_change" || statistic == "worse") {
			f.Value, f.Status, f.Reason = nil, result.Withheld, "The error of measuring is not known for this measure."
		}
		return m.side(s, f, "")
	}
	known := s.persons * 3 / 4
	improved, worse := known*6/10, known/8
	for _, split := range []struct {
		whole string
		parts []string
	}{
		{count("began", began), []string{count("pairs", s.persons), count("bilateral", 0), count("no_pair", began-s.persons)}},
		{count("change_known", known), []string{count("improved", improved), count("no_real_change", known-improved-worse), count("worse", worse)}},
	} {
		for _, part := range split.parts {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: split.whole, Part: part})
		}
	}
}

func (m *maker) side(s sides, f result.Figure, x string) string {
	f.Question, f.Measure, f.InjuryType = "symmetry", s.measure, s.injury
	f.Method = "linear mixed model"
	f.ID = result.ID(result.PictureID("symmetry", s.injury, "", "", "", s.measure, "24m"), f.Statistic, x)
	m.keep(f)
	return f.ID
}
