package sample

import "evenlimb/pipeline/result"

// groups adds the differences between groups and the sites' returns over those
// expected; one site has too few people.
func (m *maker) groups() {
	for stratum, v := range map[string]float64{"severity_moderate": -0.15, "severity_severe": -0.35, "sex_male": 0.01, "age_35_to_54": 0.02} {
		m.contrast("", stratum, v, 410)
	}
	for i, site := range Context().Sites {
		m.contrast(site.Code, "", 0.04-0.04*float64(i), 560)
		v := 1.1 - 0.15*float64(i)
		m.grouped(site.Code, "", "", result.Figure{
			Statistic: "observed_over_expected", Unit: "ratio", Value: ptr(v), Low: ptr(v * 0.88), High: ptr(v * 1.13), Level: 0.95,
			Persons: ptr(190 - 88*i), Events: ptr(120), Exposure: ptr(120 / v), ExposureUnit: "expected returns",
		})
	}
}

func (m *maker) contrast(site, stratum string, v float64, persons int) {
	for _, statistic := range []string{"share_difference_raw", "share_difference_standardised"} {
		m.grouped(site, stratum, "w26", result.Figure{Statistic: statistic, Unit: "share", X: ptr(26.0), XUnit: "weeks", Value: ptr(v), Low: ptr(v - 0.05), High: ptr(v + 0.05), Level: 0.95, Persons: ptr(persons)})
	}
	for _, statistic := range []string{"mean_difference_raw", "mean_difference_standardised"} {
		m.grouped(site, stratum, "w26", result.Figure{Statistic: statistic, Unit: "weeks", X: ptr(26.0), XUnit: "weeks", Value: ptr(-20 * v), Low: ptr(-20*v - 1), High: ptr(-20*v + 1), Level: 0.95, Persons: ptr(persons)})
	}
	if stratum != "" {
		m.grouped(site, stratum, "", result.Figure{Statistic: "hazard_ratio", Unit: "ratio", Value: ptr(1 + v), Low: ptr(0.8 * (1 + v)), High: ptr(1.25 * (1 + v)), Level: 0.95, Persons: ptr(persons)})
	}
}

func (m *maker) grouped(site, stratum, x string, f result.Figure) {
	f.Question, f.Measure, f.Site, f.Stratum, f.Method = "groups", "recorded return", site, stratum, "model"
	f.ID = result.ID(result.PictureID("groups", "", site, "", stratum, "", "24m"), f.Statistic, x)
	m.keep(f)
}
