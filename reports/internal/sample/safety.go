package sample

import (
	"math"

	"evenlimb/pipeline/result"
)

// safety adds the adverse events: of the practice, of three injury types (one
// without an event), of its sites and of the kinds.
func (m *maker) safety() {
	m.events("", "", "", 132, 24310, 640)
	m.events("calf_strain", "", "", 41, 6100, 172)
	m.events("achilles_tendinopathy", "", "", 91, 12200, 212)
	m.events("distal_biceps_repair", "", "", 0, 310, 12)
	for i, site := range Context().Sites {
		m.events("", site.Code, "", 30+14*i, 8100, 210)
	}
	for kind, n := range map[string]int{"cuff_discomfort": 70, "numbness": 41, "other_kinds": 21, "serious": 2} {
		m.events("", "", kind, n, 24310, 640)
	}
	for statistic, n := range map[string]int{
		"serious_events": 2, "open_clocks": 1, "clocks_not_computable": 0, "seriousness_not_recorded": 12, "not_linked": 17,
		"potential_events": 25, "ruled_out_events": 4, "events_suspected": 60, "events_confirmed": 65, "events_certainty_not_recorded": 7,
	} {
		m.event("", "", "", result.Figure{Statistic: statistic, Unit: "events", Value: ptr(float64(n)), Events: ptr(n), Persons: ptr(640)})
	}
	for statistic, days := range map[string]float64{"onset_to_aware_median_days": 1, "aware_to_reported_median_days": 3} {
		m.event("", "", "", result.Figure{
			Statistic: statistic, Unit: "days", Value: ptr(days), Low: ptr(days - 1), High: ptr(days + 2), Level: 0.95, Persons: ptr(96), Events: ptr(110), Missing: ptr(22),
		})
	}
}

func (m *maker) events(injury, site, stratum string, events int, sessions float64, persons int) {
	asked := math.Round(0.62 * sessions)
	linked := int(0.8 * float64(events))
	rate := func(statistic string, n int, exposure, wide float64) {
		f := result.Figure{
			Statistic: statistic, Unit: "per 1,000 attended sessions", Level: 0.95, Persons: ptr(persons), Events: ptr(n), Exposure: ptr(exposure), ExposureUnit: "attended sessions",
			High: ptr(1000 * 3.689 / exposure), Reason: "No event in these sessions.",
		}
		if n > 0 {
			v := 1000 * float64(n) / exposure
			f.Value, f.Low, f.High, f.Reason = ptr(v), ptr(v*math.Exp(-wide/math.Sqrt(float64(n)))), ptr(v*math.Exp(wide/math.Sqrt(float64(n)))), ""
		}
		m.event(injury, site, stratum, f)
	}
	rate("rate_all", events, sessions, 2)
	rate("rate_all_midp", events, sessions, 1.9)
	rate("rate_asked", linked, asked, 2)
	rate("rate_asked_midp", linked, asked, 1.9)
	m.event(injury, site, stratum, result.Figure{Statistic: "events", Unit: "events", Value: ptr(float64(events)), Events: ptr(events), Persons: ptr(persons)})
	if stratum != "" {
		return
	}
	m.event(injury, site, "", result.Figure{Statistic: "sessions_attended", Unit: "sessions", Value: ptr(sessions), Persons: ptr(persons)})
	m.event(injury, site, "", result.Figure{Statistic: "sessions_asked", Unit: "sessions", Value: ptr(asked), Persons: ptr(persons)})
	m.event(injury, site, "", result.Figure{Statistic: "asked_share", Unit: "share", Value: ptr(asked / sessions), Persons: ptr(persons), Exposure: ptr(sessions), ExposureUnit: "attended sessions"})
}

func (m *maker) event(injury, site, stratum string, f result.Figure) {
	f.Question, f.Measure, f.InjuryType, f.Site, f.Stratum = "safety", "adverse events", injury, site, stratum
	f.Method = "count"
	f.ID = result.ID(result.PictureID("safety", injury, site, "", stratum, "", "24m"), f.Statistic, "")
	m.keep(f)
}
