package sample

import (
	"evenlimb/pipeline/result"
)

// work adds progression and plans, of the practice and three injury types, and
// tolerance by band of pressure.
func (m *maker) work() {
	for i, injury := range []string{"", "calf_strain", "achilles_tendinopathy", "anterior_cruciate_reconstruction"} {
		persons := []int{610, 160, 210, 110}[i]
		for statistic, v := range map[string]float64{
			"step_up": 0.112, "step_back": 0.015, "level_up": 0.085, "level_down": 0.004, "range_up": 0.071, "range_down": 0.002, "load_up": 0.101, "load_down": 0.022,
			"reps_up": 0.31, "reps_down": 0.29, "pressure_up": 0.023, "pressure_down": 0.025, "back_after_pain": 0.019, "back_otherwise": 0.011, "stalled": 0.64,
		} {
			m.worked(result.Figure{Question: "progression", InjuryType: injury, Statistic: statistic, Unit: "share", Value: ptr(v), Exposure: ptr(float64(60 * persons)), ExposureUnit: "visits"}, persons, "")
		}
		median := result.Figure{Question: "progression", InjuryType: injury, Statistic: "first_step_median_weeks", Unit: "weeks", Value: ptr(4.5 + 2*float64(i))}
		if injury == "anterior_cruciate_reconstruction" {
			median.Value, median.Status, median.Reason = nil, result.Withheld, "Not reached: by the end of follow-up 41 % had taken one."
		}
		m.worked(median, persons, "")
		m.worked(result.Figure{Question: "progression", InjuryType: injury, Statistic: "first_step", Unit: "share", X: ptr(4.0), XUnit: "weeks", Value: ptr(0.46)}, persons, "w4")
		for statistic, v := range map[string]float64{"sessions_share": 0.91, "sets_share": 1.07, "pressure_share": 0.98, "minutes_share": 1.12} {
			m.worked(result.Figure{Question: "plan", InjuryType: injury, Statistic: statistic, Unit: "share", Value: ptr(v)}, persons, "")
		}
	}
	for _, exercise := range []string{"", "leg_press", "heel_raise_seated"} {
		for i, band := range []string{"without_cuff", "under_40", "40_to_60", "60_to_80"} {
			persons := 400 - 90*i
			early := result.Figure{
				Question: "tolerance", Measure: exercise, Stratum: band, Statistic: "ended_early", Unit: "per 1,000 bouts", Value: ptr(8 + 1.5*float64(i)), Exposure: ptr(float64(20 * persons)), ExposureUnit: "bouts",
			}
			if exercise == "leg_press" && band == "under_40" {
				early.Value, early.High, early.Reason = nil, ptr(17.2), "None in 2600 bouts: up to 17.2 per 1,000, counting people."
			}
			m.worked(early, persons, "")
			m.worked(result.Figure{Question: "tolerance", Measure: exercise, Stratum: band, Statistic: "settled", Unit: "share", Value: ptr(0.7 + 0.02*float64(i)), Exposure: ptr(float64(4 * persons)), ExposureUnit: "visits"}, persons, "")
		}
	}
}

// scores adds pain and a score of three injury types, one of which nobody can be
// told of.
func (m *maker) scores() {
	for i, s := range []struct{ injury, score string }{{"calf_strain", "lefs"}, {"achilles_tendinopathy", "visa_a"}, {"distal_biceps_repair", "dash"}} {
		persons := []int{160, 210, 6}[i]
		for _, of := range []struct {
			measure, unit string
			from, by      float64
		}{{"pain_nrs", "points of 10", 5, -1.2}, {s.score, "points", 41, 7.5}} {
			f := func(statistic, unit string, week int, v float64) result.Figure {
				return result.Figure{Question: "scores", Measure: of.measure, InjuryType: s.injury, Statistic: statistic, Unit: unit, X: ptr(float64(week)), XUnit: "weeks", Value: ptr(v)}
			}
			for k, week := range []int{0, 6, 12, 26} {
				x, gained := []string{"w0", "w6", "w12", "w26"}[k], of.by*float64(k)
				m.worked(f("typical", of.unit, week, of.from+gained), persons, x)
				m.worked(f("at_best", "share", week, 0.01+0.02*float64(k)), persons-20*k*min(1, persons/100), x)
				if week > 0 {
					m.worked(f("change", of.unit, week, gained), persons, x)
				}
			}
			for statistic, v := range map[string]float64{"improved": 0.45, "worse": 0.03, "important": 0.41} {
				m.worked(f(statistic, "share", 12, v), persons-50*min(1, persons/100), "w12")
			}
		}
	}
}

// worked keeps a figure with an interval of a tenth of its value on each side.
func (m *maker) worked(f result.Figure, persons int, x string) {
	if f.Value != nil {
		off := max(0.1**f.Value, -0.1**f.Value)
		f.Low, f.High = ptr(*f.Value-off), ptr(*f.Value+off)
	}
	f.Level, f.Persons, f.Episodes = 0.95, ptr(persons), ptr(persons)
	f.ID = result.ID(result.PictureID(f.Question, f.InjuryType, "", "", f.Stratum, f.Measure, "24m"), f.Statistic, x)
	m.keep(f)
}
