package words

import (
	"fmt"
	"strings"

	"evenlimb/pipeline/disclosure"
)

// Method is one paragraph of the methods page.
type Method struct {
	Head string
	Text string
}

// Methods tells in plain words how the figures of the report are made.
func Methods(r *disclosure.Released) []Method {
	f := r.Floors()
	floor, site, curve := f.Circulating, f.Site, f.Curve
	if r.Audience() == disclosure.Inside {
		floor, site, curve = f.Inside, f.Inside, f.Inside
	}
	methods := []Method{
		{
			"What is asked",
			"Of the people who begin care for an injury below the stage they aim for, how many are recorded as back at that stage within so many weeks? Week 0 is the day care began.",
		},
		{
			"Who is counted",
			"Episodes of care that started in the period named, each watched no further than the day the site's data reach to. People already at their target when care began cannot return to it: they are counted in the flow and left out of the curve. The target is the one in force early in care; where none was set, the injury type's usual one.",
		},
		{
			"What counts as back",
			"The first day on which the target stage or a higher one is reached and not lost again within the holding time. A return too young for that is counted and marked provisional. Returns are recorded at contacts, so the figures are about the recorded return, and the usual days between contacts stand beside them.",
		},
		{
			"What happens to the others",
			"Surgery, a new injury to the same structure, a decision against returning or continuing, and death end an episode: the return cannot come after them, and such people count as not back. People lost from view, transferred, referred on or discharged by themselves are followed to their last contact; the figures assume that they would have gone on like those still watched. Two figures show how much hangs on that: nobody lost ever returned, and everybody lost returned on the day they were last seen.",
		},
		{
			"How the curve is estimated",
			"Cumulative incidence with competing ends (Aalen-Johansen), on days and shown at the ends of weeks. Intervals are 95 %, on the log-log scale; where one person has several episodes the variance is by person. The mean number of weeks not yet back is the area above the curve up to the week named.",
		},
	}
	methods = append(methods, besideMethod, stageMethod, recurrenceMethod, groupsMethod)
	methods = append(methods, questionMethods(r)...)
	return append(methods, []Method{
		{
			"How to read an interval",
			"\"About 9 of 20 (the data fit 7 to 11)\" says: 9 is the best single guess, and every number from 7 to 11 goes with the data. A wide interval says that little is known yet.",
		},
		{
			"What is hidden",
			fmt.Sprintf("Injury types that too few people began with are told together as other injury types; their sides and doses are in the counts of the whole practice alone. So that nobody can be picked out, a rate or model result is shown when it rests on %d people or more (%d at a single site), a curve when it starts with %d; a count of 1 to %d people is printed as \"%s\", and further counts are hidden where a total would give it away. Numbers still followed are rounded to 5.",
				floor, site, curve, floor-1, Fewer(floor)),
		},
		{
			"What the figures cannot say",
			"They describe who was treated and how it went. People are not assigned to anything here, so a difference between two groups is not the effect of their care.",
		},
	}...)
}

// settingTexts words a setting's value; "%s" is the value.
var settingTexts = map[string]string{
	"return.window_months":         "Episodes that started within %s months are counted.",
	"return.hold_days":             "A return counts once it has held for %s days.",
	"return.hold_days_short":       "The shorter holding time tried beside it is %s days.",
	"return.hold_days_long":        "The longer holding time tried beside it is %s days.",
	"return.target_by_day":         "The target in force on day %s of care is used.",
	"return.at_risk_floor":         "The mean number of weeks is taken to the longest horizon at which %s people are still at risk.",
	"return.recurrence_days":       "Care begun anew for the same injury within %s days of the return counts as being in care again.",
	"symmetry.pair_days":           "The two sides are paired when measured at most %s days apart.",
	"symmetry.support_persons":     "A week is shown when at least %s people were measured around it.",
	"symmetry.threshold_percent":   "The threshold of symmetry is %s %.",
	"symmetry.change_week":         "Change is judged at week %s.",
	"dose.recorded_percent":        "Work before the landmark counts as known when at least %s % of it is recorded.",
	"dose.least_persons":           "Doses are compared from %s people on.",
	"dose.least_returns":           "Doses are compared from %s returns on.",
	"dose.gone_percent":            "Doses are not compared when more than %s % had returned before the landmark.",
	"dose.reference_sets":          "The curve of dose tells every dose against %s sets a week.",
	"dose.least_effective_percent": "A weighted result is told when the weights leave at least %s % of the people in effect.",
	"dose.most_imbalance_percent":  "It is not told when what was known at the start still goes with dose by a correlation of more than %s hundredths.",
	"dose.least_clinicians":        "Whether clinicians differ is judged from %s clinicians on.",
	"scores.around_weeks":          "An answer stands for a week when it was given at most %s weeks before or after.",
	"scores.least_persons":         "A week of pain or a score is told from %s people on.",
	"scores.change_week":           "Change of pain and scores is judged at week %s.",
	"progression.load_percent":     "A load has moved when it differs by %s % or more.",
	"progression.reps_percent":     "Repetitions have moved when they differ by %s % or more.",
	"progression.pressure_points":  "A pressure has moved when it differs by %s points of full occlusion pressure or more.",
	"progression.pain_from":        "A session counts as painful from %s on the scale of pain.",
	"progression.after_pain_days":  "A step back is soon after pain when it comes within %s days of a painful session.",
	"progression.stall_days":       "An exercise stalls when it stays as it is for %s days.",
	"tolerance.next_visit_days":    "Pain has settled when it has by the next visit within %s days.",
	"safety.widen_above_percent":   "The limits of a rate of events are widened where their variance between persons is more than %s % above that of independent events.",
	"report.due_after_days":        "The report is due %s days after the month's end at the latest.",
	"report.silent_after_days":     "A site is called silent when its data end more than %s days before the batch was received.",
}

// Settings words the settings in force, one sentence each.
func Settings(r *disclosure.Released) []string {
	var out []string
	for _, s := range r.Context().Settings {
		text, ok := settingTexts[s.Key]
		if !ok {
			out = append(out, s.Key+": "+s.Value)
			continue
		}
		out = append(out, strings.Replace(text, "%s", s.Value, 1))
	}
	return out
}
