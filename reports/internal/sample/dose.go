package sample

import "evenlimb/pipeline/result"

// dose adds the figures of dose and return: of two types that are compared, and
// of one of which more than half had returned before the landmark.
func (m *maker) dose() {
	m.doseFlow()
	m.doses("achilles_tendinopathy", 224, 182, "")
	m.doses("calf_strain", 180, 54, "More than half had returned before the landmark.")
	m.doses("hamstring_strain", 131, 98, "")
	m.adjusted("achilles_tendinopathy", 140, false)
	m.adjusted("hamstring_strain", 75, true)
	m.pooled(215)
}

// doseFlow adds the flow of the whole practice with the reasons.
func (m *maker) doseFlow() {
	flow := func(statistic, whole string, n int) {
		part := m.dosed("", "", "", result.Figure{Statistic: statistic, Unit: "episodes", Value: ptr(float64(n)), Persons: ptr(n), Episodes: ptr(n)})
		if whole != "" {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: "dose.24m/" + whole, Part: part})
		}
	}
	flow("began", "", 660)
	flow("left_out", "began", 240)
	flow("left_out.returned", "left_out", 140)
	flow("left_out.lost", "left_out", 70)
	flow("left_out.dose_unknown", "left_out", 30)
	flow("analysed", "began", 420)
	flow("no_cuff_work", "analysed", 60)
	flow("some_cuff_work", "analysed", 360)
}

func (m *maker) doses(injury string, began, analysed int, refusal string) {
	none := analysed / 7
	for _, c := range []struct {
		statistic, whole string
		n                int
	}{
		{"began", "", began},
		{"left_out", "began", began - analysed},
		{"analysed", "began", analysed},
		{"no_cuff_work", "analysed", none},
		{"some_cuff_work", "analysed", analysed - none},
	} {
		part := m.dosed(injury, "", refusal, result.Figure{Statistic: c.statistic, Unit: "episodes", Value: ptr(float64(c.n)), Persons: ptr(c.n), Episodes: ptr(c.n)})
		if c.whole != "" {
			m.set.Totals = append(m.set.Totals, result.Total{Whole: result.ID(result.PictureID("dose", injury, "", "", "", "", "24m"), c.whole, ""), Part: part})
		}
	}
	some := analysed - none
	estimate := func(x, statistic, unit string, v, half float64, persons int) {
		f := result.Figure{
			Statistic: statistic, Unit: unit, Value: ptr(v), Low: ptr(v - half), High: ptr(v + half), Level: 0.95, StdError: ptr(half / 1.96), Persons: ptr(persons), Episodes: ptr(persons),
		}
		if x != "" {
			f.X, f.XUnit = ptr(26.0), "weeks"
		}
		m.dosed(injury, x, refusal, f)
	}
	for stem, median := range map[string]float64{"sets_per_week": 12.4, "reps_per_week": 186, "inflated_minutes": 21, "pressure_minutes": 1240, "sessions_per_week": 2.1} {
		unit := map[string]string{"sets_per_week": "sets a week", "reps_per_week": "repetitions a week", "inflated_minutes": "minutes a week", "pressure_minutes": "pressure-minutes a week", "sessions_per_week": "sessions a week"}[stem]
		for suffix, factor := range map[string]float64{"_lower_quartile": 0.7, "_median": 1, "_upper_quartile": 1.3} {
			estimate("", stem+suffix, unit, median*factor, median/20, some)
		}
	}
	estimate("", "plan_sets_share", "share", 0.82, 0.03, some)
	estimate("w26", "returned_low_third", "share", 0.49, 0.13, some/3)
	estimate("w26", "returned_middle_third", "share", 0.56, 0.13, some/3)
	estimate("w26", "returned_high_third", "share", 0.64, 0.12, some/3)
	estimate("w26", "thirds_contrast_raw", "share", 0.15, 0.17, some)
	estimate("w26", "thirds_contrast_standardised", "share", 0.08, 0.17, some)
}

func (m *maker) dosed(injury, x, refusal string, f result.Figure) string {
	f.Question, f.Measure, f.InjuryType = "dose", "work with the cuff inflated", injury
	if f.Method == "" {
		f.Method = "count"
	}
	f.ID = result.ID(result.PictureID("dose", injury, "", "", "", "", "24m"), f.Statistic, x)
	if refusal != "" && f.Unit != "episodes" {
		f.Value, f.Low, f.High, f.StdError, f.Level = nil, nil, nil, nil, 0
		f.Status, f.Reason = result.Withheld, refusal
	}
	m.keep(f)
	return f.ID
}
