package export

// The tables that describe the work done and what went wrong with it.

func sessions() Table {
	return Table{
		Name:    "sessions",
		About:   "One appointment or one round of home work.",
		Key:     []string{"session_id"},
		Parents: []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "session_id", Type: Key, Required: true, About: "Pseudonym of the session."},
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "session_date", Type: Date, Required: true, About: "Date of the session."},
			{Name: "attendance", Type: Code, Required: true, Codes: codes("attended missed cancelled"), About: "What became of the appointment."},
			{Name: "cancelled_by", Type: Code, Codes: codes("person practice"), About: "Who cancelled."},
			{Name: "setting", Type: Code, Codes: codes("clinic home remote"), About: "Where it took place."},
			{Name: "supervised", Type: Boolean, About: "Whether a clinician was present."},
			{Name: "clinician_id", Type: Key, About: "Pseudonym of the clinician."},
			{Name: "minutes", Type: Decimal, Unit: "min", Warn: between(5, 120), Reject: between(0, 300), About: "Length of the session."},
			{Name: "systolic_mmhg", Type: Integer, Unit: "mm[Hg]", Warn: between(90, 180), Reject: between(50, 280), About: "Systolic blood pressure before."},
			{Name: "diastolic_mmhg", Type: Integer, Unit: "mm[Hg]", Warn: between(50, 110), Reject: between(20, 180), About: "Diastolic blood pressure before."},
			{Name: "pain_before", Type: Decimal, Unit: "{score}", Reject: between(0, 10), About: "Pain before, 0-10."},
			{Name: "pain_after", Type: Decimal, Unit: "{score}", Reject: between(0, 10), About: "Pain after, 0-10."},
			{Name: "pain_next_day", Type: Decimal, Unit: "{score}", Reject: between(0, 10), About: "Pain on the next day, 0-10."},
			{Name: "effort", Type: Decimal, Unit: "{score}", Reject: between(0, 10), About: "Perceived effort, 0-10."},
			{Name: "symptoms_asked", Type: Boolean, Default: "not asked", About: "Whether symptoms were asked about: asked and absent is not the same as not asked."},
			{Name: "symptoms_since_asked", Type: Boolean, Default: "not asked", About: "Whether symptoms since the last session were asked about."},
			{Name: "stopped_early", Type: Boolean, About: "Whether the session was stopped early."},
			{Name: "stop_reason", Type: Code, From: "stop_reasons", About: "Why it was stopped."},
		},
	}
}

func bouts() Table {
	return Table{
		Name:    "bouts",
		About:   "One exercise within one session, all its sets together.",
		Key:     []string{"session_id", "bout_no"},
		Parents: []Parent{{"session_id", "sessions"}},
		Columns: []Column{
			{Name: "session_id", Type: Key, Required: true, About: "The session."},
			{Name: "bout_no", Type: Integer, Required: true, Reject: between(1, 99), About: "Number of the bout within the session."},
			{Name: "exercise", Type: Code, Required: true, From: "exercises", About: "The exercise."},
			{Name: "level", Type: Integer, Reject: between(0, 20), About: "Step on the exercise's ladder."},
			{Name: "movement_range", Type: Code, Codes: codes("partial full deficit"), About: "Range of the movement."},
			{Name: "limb_use", Type: Code, Codes: codes("one both offset"), About: "How the two limbs shared the work."},
			{Name: "side", Type: Code, Codes: codes("left right bilateral"), About: "The side that worked."},
			{Name: "sets", Type: Integer, Warn: between(1, 5), Reject: between(0, 12), About: "Sets done."},
			{Name: "reps", Type: Integer, Warn: between(1, 120), Reject: between(0, 400), About: "Repetitions done, all sets together."},
			{Name: "reps_by_set", Type: Reps, About: "Repetitions by set, such as 30/15/15/15."},
			{Name: "hold_seconds", Type: Decimal, Unit: "s", Reject: between(0, 600), About: "Seconds of each hold."},
			{Name: "seconds_per_rep", Type: Decimal, Unit: "s", Warn: between(1.5, 6), Reject: between(0.2, 15), About: "Seconds of one repetition."},
			{Name: "load_kg", Type: Decimal, Unit: "kg", Warn: between(0, 200), Reject: between(0, 600), About: "External load."},
			{Name: "load_basis", Type: Code, Codes: codes("external body_weight body_weight_plus band machine_step"), About: "What the load consists of."},
			{Name: "load_percent_1rm", Type: Decimal, Unit: "%", Warn: between(10, 90), Reject: between(0, 150), About: "Load as a share of the one-repetition maximum."},
			{Name: "rest_seconds", Type: Decimal, Unit: "s", Warn: between(20, 180), Reject: between(0, 900), About: "Rest between sets."},
			{Name: "reps_in_reserve", Type: Integer, Reject: between(0, 30), About: "Repetitions left before failure in the last set."},
			{Name: "cuff_inflated", Type: Boolean, Default: "true when a pressure or inflated minutes above 0 stand", About: "Whether the cuff was inflated."},
			{Name: "mode", Type: Code, Codes: codes("continuous intermittent passive"), About: "How the pressure was held."},
			{Name: "occlusion_pressure_mmhg", Type: Decimal, Unit: "mm[Hg]", Warn: between(90, 450), Reject: between(50, 900), About: "Full limb occlusion pressure."},
			{Name: "occlusion_position", Type: Code, Codes: codes("supine seated standing"), About: "Position in which it was measured."},
			{Name: "occlusion_method", Type: Code, Codes: codes("doppler automated oximetry estimated"), About: "How it was found."},
			{Name: "occlusion_measured_on", Type: Date, About: "Date on which it was measured."},
			{Name: "applied_pressure_mmhg", Type: Decimal, Unit: "mm[Hg]", Warn: between(0, 200), Reject: between(0, 350), About: "Pressure applied."},
			{Name: "pressure_percent", Type: Decimal, Unit: "%", Warn: between(0, 80), Reject: between(0, 150), About: "Pressure applied as a share of full occlusion pressure."},
			{Name: "cuff_width_cm", Type: Decimal, Unit: "cm", Warn: between(5, 18), Reject: between(2, 25), About: "Width of the cuff."},
			{Name: "cuff_code", Type: Text, About: "The practice's own code of the cuff."},
			{Name: "cycles", Type: Integer, Warn: between(1, 6), Reject: between(0, 12), About: "Cycles of passive or intermittent pressure."},
			{Name: "inflated_minutes", Type: Decimal, Unit: "min", Warn: between(0, 20), Reject: between(0, 60), About: "Minutes inflated."},
			{Name: "end_reason", Type: Code, Codes: codes("planned failure pain symptom equipment"), About: "Why the bout ended."},
			{Name: "pain", Type: Decimal, Unit: "{score}", Reject: between(0, 10), About: "Pain during the bout, 0-10."},
		},
	}
}

func adverseEvents() Table {
	return Table{
		Name:    "adverse_events",
		About:   "Something that went wrong, or could have.",
		Key:     []string{"event_id"},
		Parents: []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "event_id", Type: Key, Required: true, About: "Pseudonym of the event."},
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "session_id", Type: Key, About: "The session it is linked to."},
			{Name: "side", Type: Code, Codes: codes("left right bilateral none"), About: "The side concerned."},
			{Name: "actuality", Type: Code, Codes: codes("actual potential"), Default: "actual", About: "Whether it happened or could have happened."},
			{Name: "certainty", Type: Code, Codes: codes("suspected confirmed ruled_out"), About: "How certain it is."},
			{Name: "onset_date", Type: Date, Required: true, About: "Date of onset."},
			{Name: "onset_precision", Type: Code, Codes: codes("day week month unknown"), About: "How exactly the onset is known."},
			{Name: "timing", Type: Code, Codes: codes("during to_24h to_72h later"), About: "When it began, counted from the session."},
			{Name: "aware_date", Type: Date, About: "Date on which the practice first knew."},
			{Name: "reported_date", Type: Date, About: "Date on which it was reported."},
			{Name: "detected_by", Type: Code, Codes: codes("person clinician follow_up audit"), About: "Who noticed."},
			{Name: "kind", Type: Code, Required: true, From: "event_kinds", About: "What happened."},
			{Name: "grade", Type: Integer, Reject: between(1, 5), About: "Severity grade, 1-5."},
			{Name: "serious", Type: Boolean, About: "Whether it was serious; empty is not the same as false."},
			{Name: "serious_criteria", Type: CodeSet, From: "serious_criteria", About: "Why it counts as serious."},
			{Name: "expected", Type: Boolean, About: "Whether it is a known consequence."},
			{Name: "relatedness", Type: Code, Codes: codes("unrelated unlikely possible probable certain unclassified unassessable"), About: "How it relates to the work with the cuff."},
			{Name: "device_involved", Type: Boolean, About: "Whether the device was involved."},
			{Name: "action", Type: Code, From: "actions", About: "What was done."},
			{Name: "outcome", Type: Code, Codes: codes("recovered recovering not_recovered recovered_with_sequelae fatal unknown"), About: "How it ended."},
			{Name: "resolved_date", Type: Date, About: "Date on which it was over."},
		},
	}
}
