package sample

import (
	"fmt"
	"math"

	"evenlimb/pipeline/result"
)

// stages adds, for one injury type, how those not yet back are spread over four
// stages and no stage of the ladder, and the steps from stage to stage.
func (m *maker) stages(k kind, atRisk int) {
	for w := 0.0; w <= 26; w += 2 {
		left := 1 - k.at(w) - k.competing*w/26
		for i, code := range []string{"walking", "jogging", "fast_running", "sport_drills"} {
			part := []float64{0.7, 0.2, 0, 0}[i]
			if w >= 4 {
				part = []float64{0.1, 0.3, 0.3, 0.2}[i]
			}
			m.share(k.injury, "stage."+code, w, left*part, atRisk, false)
		}
		m.share(k.injury, "stage.unplaced", w, left*0.1, atRisk, false)
	}
	for code, n := range map[string]int{"jogging": 120, "fast_running": 104, "sport_drills": 92} {
		m.share(k.injury, "moved_on."+code, 6, 0.8, n, false)
		m.share(k.injury, "fell_back."+code, 6, 0.03, n, false)
		m.add(result.Figure{
			InjuryType: k.injury, Statistic: "next_weeks." + code, Unit: "weeks", Level: 0.95, Value: ptr(1.6), Low: ptr(1.3), High: ptr(2.1), Persons: ptr(n), Episodes: ptr(n),
		}, "")
	}
	m.share(k.injury, "moved_on_from_start.walking", 6, 0.9, 80, false)
	m.add(result.Figure{
		InjuryType: k.injury, Statistic: "next_weeks_from_start.walking", Unit: "weeks", Status: result.Withheld,
		Reason: fmt.Sprintf("Not reached: by the end of follow-up %d %% were on a higher stage.", 41), Persons: ptr(80), Episodes: ptr(80),
	}, "")
}

// beside adds, for a type, the estimates beside its curve.
func (m *maker) beside(k kind, atRisk int) {
	for _, w := range []float64{6, 12, 26} {
		m.share(k.injury, "share_between_contacts", w, k.at(w), atRisk, true)
		m.share(k.injury, "share_weibull", w, 0.9*k.at(w), atRisk, false)
	}
	for w := 4.0; w <= 52; w += 2 {
		m.share(k.injury, "since_injury", w, k.at(w-3), atRisk-10, false)
		if w == 6 || w == 12 || w == 26 || w == 52 {
			m.add(result.Figure{
				InjuryType: k.injury, Statistic: "since_injury_at_risk", X: ptr(w), XUnit: "weeks", Unit: "episodes", Value: ptr(math.Round(120 * (1 - k.at(w)))), Persons: ptr(atRisk - 10),
			}, fmt.Sprintf("w%g", w))
		}
	}
	m.add(result.Figure{InjuryType: k.injury, Statistic: "since_injury_median_weeks", Unit: "weeks", Level: 0.95, Value: ptr(8.6), Low: ptr(7.9), High: ptr(9.7), Persons: ptr(atRisk - 10), Episodes: ptr(atRisk - 10)}, "")
}

// recurrence adds those who came again, of the practice and of a type.
func (m *maker) recurrence() {
	for injury, n := range map[string]int{"": 390, "calf_strain": 118} {
		f := result.Figure{
			Question: "recurrence", Measure: "care begun anew", InjuryType: injury, Statistic: "share", X: ptr(365.0), XUnit: "days", Unit: "share", Level: 0.95,
			Value: ptr(0.12), Low: ptr(0.08), High: ptr(0.17), Persons: ptr(n), Episodes: ptr(n), Missing: ptr(50), Method: "Kaplan-Meier",
		}
		picture := result.PictureID("recurrence", injury, "", "", "", "", "24m")
		f.ID = result.ID(picture, f.Statistic, "d365")
		m.keep(f)
		if injury == "" {
			known := result.Figure{ID: result.ID(picture, "person_known", ""), Question: "recurrence", Measure: "care begun anew", Statistic: "person_known", Unit: "share", Value: ptr(0.89), Persons: ptr(440), Method: "share"}
			m.keep(known)
		}
	}
}
