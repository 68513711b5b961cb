package dress

// saltmarsh writes in inches and pounds. Its episodes and its assessments, the
// latter with all of one visit in one row, come whole every night; the other
// tables as changes.
func saltmarsh() Dress {
	pounds, inches := unit{pound, 1}, unit{inch, 1}
	return &wide{
		text: text{
			prefix: "saltmarsh_",
			script: &script{
				tables: saltmarshTables,
				codes: map[string]map[string]string{
					"side":       {"left": "L", "right": "R", "bilateral": "L+R"},
					"worse_side": {"left": "L", "right": "R"},
					"row_state":  {"withdrawn": "void"},
				},
				units: map[string]unit{"load_kg": pounds, "cuff_width_cm": inches},
			},
			delimiter: ',', crlf: true, mark: true,
			layouts: []layoutFile{{name: "saltmarsh_whole.toml"}, {name: "saltmarsh_changes.toml"}},
			about:   "inches and pounds, with all that was measured at a visit in one row; episodes and assessments come whole every night",
		},
		assessments: assessments(),
	}
}

var saltmarshTables = map[string][]heading{
	"episodes": {
		{"Episode", "episode_id"},
		{"Person", "person_id"},
		{"Site", "site"},
		{"Injury", "injury_type"},
		{"Side", "side"},
		{"Worse side", "worse_side"},
		{"Recurrence of", "recurrence_of"},
		{"Referral date", "referred_date"},
		{"Onset date", "onset_date"},
		{"Onset precision", "onset_precision"},
		{"Surgery date", "surgery_date"},
		{"Start date", "start_date"},
		{"Age band", "age_band"},
		{"Sex", "sex"},
		{"Dominant side", "dominant_side"},
		{"Activity level", "activity_level"},
		{"Manual work", "manual_work"},
		{"Stage at start", "stage_at_start"},
		{"Target stage", "target_stage"},
		{"Target set", "target_set_on"},
		{"Severity", "severity"},
		{"Screening", "screening"},
		{"Screening date", "screened_on"},
		{"Precautions", "precautions"},
		{"End date", "end_date"},
		{"End reason", "end_reason"},
	},
	"plans": {
		{"Episode", "episode_id"},
		{"Plan date", "plan_from"},
		{"Plan", "plan_code"},
		{"Exercise", "exercise"},
		{"Cuff", "cuff_inflated"},
		{"Setting", "setting"},
		{"Sessions/week", "sessions_per_week"},
		{"Sets x reps", "sets/reps"},
		{"Load (%1RM)", "load_percent_1rm"},
		{"Pressure (%)", "pressure_percent"},
	},
	"sessions": {
		{"Session", "session_id"},
		{"Episode", "episode_id"},
		{"Session date", "session_date"},
		{"Attendance", "attendance"},
		{"Cancelled by", "cancelled_by"},
		{"Setting", "setting"},
		{"Supervised", "supervised"},
		{"Clinician", "clinician_id"},
		{"Minutes", "minutes"},
		{"BP (mmHg)", "systolic_mmhg/diastolic_mmhg"},
		{"Pain before", "pain_before"},
		{"Pain after", "pain_after"},
		{"Pain next day", "pain_next_day"},
		{"Effort", "effort"},
		{"Symptoms asked", "symptoms_asked"},
		{"Symptoms since asked", "symptoms_since_asked"},
		{"Stopped early", "stopped_early"},
		{"Stop reason", "stop_reason"},
		{"Record state", "row_state"},
	},
	"bouts": {
		{"Session", "session_id"},
		{"Bout #", "bout_no"},
		{"Exercise", "exercise"},
		{"Level", "level"},
		{"Movement range", "movement_range"},
		{"Limb use", "limb_use"},
		{"Side", "side"},
		{"Sets", "sets"},
		{"Reps", "reps"},
		{"Reps by set", "reps_by_set"},
		{"Seconds per rep", "seconds_per_rep"},
		{"Load (lb)", "load_kg"},
		{"Load basis", "load_basis"},
		{"Load (%1RM)", "load_percent_1rm"},
		{"Rest (s)", "rest_seconds"},
		{"Reps in reserve", "reps_in_reserve"},
		{"Cuff", "cuff_inflated"},
		{"Mode", "mode"},
		{"Occlusion pressure (mmHg)", "occlusion_pressure_mmhg"},
		{"Occlusion position", "occlusion_position"},
		{"Occlusion method", "occlusion_method"},
		{"Occlusion date", "occlusion_measured_on"},
		{"Applied pressure (mmHg)", "applied_pressure_mmhg"},
		{"Pressure (%)", "pressure_percent"},
		{"Cuff width (in)", "cuff_width_cm"},
		{"Cycles", "cycles"},
		{"Inflated minutes", "inflated_minutes"},
		{"End reason", "end_reason"},
		{"Pain", "pain"},
	},
	"milestones": {
		{"Milestone", "milestone_id"},
		{"Episode", "episode_id"},
		{"Reached on", "reached_on"},
		{"Stage", "stage"},
		{"Change", "change"},
		{"Not yet on", "not_yet_on"},
		{"How known", "how_known"},
	},
	"followups": {
		{"Episode", "episode_id"},
		{"Contact date", "contact_on"},
		{"Contact way", "way"},
		{"Reached", "reached"},
		{"Stage", "stage"},
		{"Symptoms since", "symptoms_since"},
	},
	"adverse_events": {
		{"Event", "event_id"},
		{"Episode", "episode_id"},
		{"Session", "session_id"},
		{"Side", "side"},
		{"Actuality", "actuality"},
		{"Certainty", "certainty"},
		{"Onset date", "onset_date"},
		{"Onset precision", "onset_precision"},
		{"Timing", "timing"},
		{"Aware date", "aware_date"},
		{"Reported date", "reported_date"},
		{"Detected by", "detected_by"},
		{"Event kind", "kind"},
		{"Grade", "grade"},
		{"Serious", "serious"},
		{"Serious criteria", "serious_criteria"},
		{"Expected", "expected"},
		{"Relatedness", "relatedness"},
		{"Device involved", "device_involved"},
		{"Action", "action"},
		{"Outcome", "outcome"},
		{"Resolved date", "resolved_date"},
	},
}

// assessments are the columns of the form that holds all of a visit.
func assessments() []assessment {
	var list []assessment
	for _, girth := range []struct{ code, name string }{
		{"girth_calf", "Calf girth"}, {"girth_thigh_10", "Thigh girth 10"}, {"girth_thigh_15", "Thigh girth 15"}, {"girth_arm", "Arm girth"}, {"girth_forearm", "Forearm girth"},
	} {
		for _, side := range []struct{ code, letter string }{{"left", "L"}, {"right", "R"}} {
			list = append(list, assessment{girth.name + " " + side.letter + " (in)", girth.code, side.code, "1", unit{inch, 1}})
		}
	}
	for _, force := range []struct {
		code, name string
		size       float64
	}{
		{"strength_plantarflexion", "Plantarflexion force", poundForce},
		{"strength_knee_extension", "Knee extension force", poundForce},
		{"strength_knee_flexion", "Knee flexion force", poundForce},
		{"strength_shoulder_external_rotation", "Shoulder rotation force", poundForce},
		{"strength_elbow_flexion", "Elbow flexion force", poundForce},
		{"strength_grip", "Grip strength", pound},
	} {
		for _, side := range []struct{ code, letter string }{{"left", "L"}, {"right", "R"}} {
			for _, trial := range []string{"1", "2"} {
				list = append(list, assessment{force.name + " " + side.letter + trial + " (lb)", force.code, side.code, trial, unit{force.size, 1}})
			}
		}
	}
	list = append(list, assessment{"Weight (lb)", "body_mass", "none", "1", unit{pound, 1}})
	for _, score := range []struct{ code, name string }{
		{"pain_nrs", "Pain (0-10)"},
		{"lefs", "LEFS"},
		{"dash", "DASH"},
		{"quickdash", "QuickDASH"},
		{"visa_a", "VISA-A"},
		{"visa_p", "VISA-P"},
		{"faam_sport", "FAAM sport"},
		{"ikdc_subjective", "IKDC"},
	} {
		list = append(list, assessment{score.name, score.code, "none", "1", unit{}})
	}
	return list
}
