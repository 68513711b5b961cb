package sample

import (
	"fmt"

	"evenlimb/pipeline/result"
)

// adjusted adds what compares the doses of people alike at the start of one type:
// all of it but the weighted contrast, which is withheld unless weighted.
func (m *maker) adjusted(injury string, persons int, weighted bool) {
	add := func(statistic, x, unit string, v, half float64) {
		f := result.Figure{
			Statistic: statistic, Unit: unit, Value: ptr(v), Persons: ptr(persons), Episodes: ptr(persons),
			Warnings: []string{"Whether clinicians differ cannot be judged: that takes 10 of them, each with most of somebody's sessions."},
		}
		if half > 0 {
			f.Low, f.High, f.Level, f.StdError = ptr(v-half), ptr(v+half), 0.95, ptr(half/1.96)
		}
		switch x {
		case "":
		case "w12":
			f.X, f.XUnit = ptr(12.0), "weeks"
		default:
			f.X, f.XUnit = ptr(26.0), "weeks"
		}
		m.dosed(injury, x, "", f)
	}
	add("returned_none", "w26", "share", 0.5, 0.15)
	add("returned_some", "w26", "share", 0.56, 0.08)
	add("any_contrast_raw", "w26", "share", 0.06, 0.17)
	add("any_contrast_standardised", "w26", "share", 0.03, 0.16)
	add("first_quartile_dose", "", "sets a week", 9.5, 0)
	add("third_quartile_dose", "", "sets a week", 21, 0)
	add("quartiles_contrast_raw", "w26", "share", 0.16, 0.14)
	add("quartiles_contrast_standardised", "w26", "share", 0.11, 0.13)
	add("quartiles_contrast_shrunken", "w26", "share", 0.1, 0.09)
	add("weights_effective_share", "", "share", 0.61, 0)
	add("weights_imbalance_before", "", "correlation", 0.42, 0)
	add("weights_imbalance_after", "", "correlation", 0.14, 0)
	if weighted {
		add("quartiles_contrast_weighted", "w26", "share", 0.08, 0.17)
		add("quartiles_standardised_less_weighted", "w26", "share", 0.03, 0.12)
	} else {
		m.dosed(injury, "w26", "After weighting dose still goes with a severe injury: correlation 0.14, more than 0.10.",
			result.Figure{Statistic: "quartiles_contrast_weighted", Unit: "share", X: ptr(26.0), XUnit: "weeks", Persons: ptr(persons), Episodes: ptr(persons)})
	}
	add("relation_p", "", "p", 0.0004, 0)
	add("curvature_p", "", "p", 0.31, 0)
	add("e_value", "w26", "times", 1.9, 0)
	add("e_value_limit", "w26", "times", 1.2, 0)
	m.dosed(injury, "w26", "", result.Figure{
		Statistic: "e_value_known", Unit: "times", Value: ptr(1.6), Method: "strongest of what is known at the start: a severe injury",
		X: ptr(26.0), XUnit: "weeks", Persons: ptr(persons), Episodes: ptr(persons),
	})
	add("quartiles_index", "w12", "index points", 2.4, 3.1)
	add("quartiles_girth", "w12", "cm", 0.2, 0.3)
	add("quartiles_pain", "w12", "points of 10", -0.4, 0.7)
	add("quartiles_index_emax", "w12", "index points", 2.1, 2.2)
	add("aic_index_spline", "w12", "AIC", 512.3, 0)
	add("aic_index_emax", "w12", "AIC", 510.1, 0)
	add("sets_filled_in_share", "", "share", 0.02, 0)
	add("pressure_estimated_share", "", "share", 0.11, 0)
	add("body_weight_share", "", "share", 0.4, 0)
	for dose := 7; dose <= 27; dose++ {
		v := 0.011 * float64(dose-15)
		for statistic, half := range map[string]float64{"dose_curve": 0.01 * max(float64(dose-15), float64(15-dose)), "dose_curve_raw": 0} {
			f := result.Figure{Statistic: statistic, Unit: "share", X: ptr(float64(dose)), XUnit: "sets a week", Value: ptr(v), Persons: ptr(persons), Episodes: ptr(persons)}
			if statistic == "dose_curve_raw" {
				f.Value = ptr(1.6 * v)
			}
			if half > 0 {
				f.Low, f.High, f.Level = ptr(v-half), ptr(v+half), 0.95
			}
			m.dosed(injury, fmt.Sprintf("s%d", dose), "", f)
		}
	}
}

// pooled adds the mean of the types.
func (m *maker) pooled(persons int) {
	m.dosed("", "", "", result.Figure{
		Statistic: "quartiles_contrast_pooled", Unit: "share", Value: ptr(0.1), Low: ptr(0.03), High: ptr(0.17), Level: 0.95, StdError: ptr(0.03),
		Persons: ptr(persons), Episodes: ptr(persons),
	})
}
